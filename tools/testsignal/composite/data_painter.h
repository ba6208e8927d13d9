#pragma once

#include <cstdint>
#include <vector>

#include "testsignal/composite/data_lines.h"
#include "testsignal/composite/line_canvas.h"
#include "testsignal/composite/system.h"

namespace guardband::testsignal {

/// Draws data on the lines of the field interval that a recipe names. Times, levels and pulse shapes are those of each
/// service's standard, from memory; all clocks are locked to the line.
class DataPainter {
public:
    DataPainter(const DataLines& data, const CompositeSystem& system);

    /// @returns true if the line carries data; it is drawn then
    /// @param line    counted on from 0, line 1 of the first frame   @param number  within the frame, from 1
    bool draw(std::int64_t line, int number, LineCanvas& luma) const;

private:
    void draw_teletext(std::int64_t n, LineCanvas& luma) const;
    void draw_caption(std::int64_t n, LineCanvas& luma) const;
    void draw_wide_screen(LineCanvas& luma) const;
    void draw_label(LineCanvas& luma) const;
    void draw_time_code(std::int64_t frame, bool second_field, LineCanvas& luma) const;

    DataLines data_;
    CompositeSystem system_;
    bool lines_525_;
};

}  // namespace guardband::testsignal
