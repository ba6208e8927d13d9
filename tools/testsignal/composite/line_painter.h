#pragma once

#include <memory>
#include <vector>

#include "testsignal/composite/data_painter.h"
#include "testsignal/composite/insertion.h"
#include "testsignal/composite/line_canvas.h"
#include "testsignal/composite/recipe.h"
#include "testsignal/composite/scan_pattern.h"
#include "testsignal/composite/texture.h"
#include "testsignal/composite/timeline.h"

namespace guardband::testsignal {

/// A run of one line as luma with sync, and the two axes of colour, mV. Chroma is drawn on moments that are earlier by
/// its delay.
struct PaintedLine {
    LineCanvas luma, u, v;  ///< v without the alternation of PAL
};

/// Draws sync, blanking, burst, picture and insertion signals.
class LinePainter {
public:
    LinePainter(const CompositeRecipe& recipe, const ScanPattern& pattern);

    void paint(const LineRun& run, PaintedLine& out);

private:
    void draw_sync(const LineRun& run, LineCanvas& luma) const;
    void draw_burst(const LineRun& run, PaintedLine& out) const;
    void draw_picture(const LineRun& run, PaintedLine& out);
    void draw_bars(PaintedLine& out) const;
    void draw_flat(PaintedLine& out) const;
    void draw_texture(const LineRun& run, PaintedLine& out);
    void draw_elements(const std::vector<InsertionElement>& elements, const LineRun& run, PaintedLine& out) const;
    const std::vector<InsertionElement>* inserted(const LineRun& run) const;

    CompositeRecipe recipe_;
    CompositeSystem system_;
    ScanPattern pattern_;
    std::unique_ptr<Texture> texture_;
    DataPainter data_;
    std::vector<std::vector<InsertionElement>> insertions_;
    std::vector<InsertionElement> full_field_;
    LineCanvas window_, chroma_window_;
};

}  // namespace guardband::testsignal
