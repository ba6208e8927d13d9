#pragma once

#include <map>
#include <optional>
#include <vector>

#include "measure/waveform/line_clock.h"
#include "measure/waveform/tally.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

/// `lines_per_frame`, `field_rate`, `interlace`, and from them and the line rate `tv_system`.
///
/// A frame is two fields of which one starts half way between lines; if none does, each field is a frame of its own.
/// Lengths are counted in half lines, and the commonest counts.
class FieldCount {
public:
    void see_field(const FieldStart& field, double period);
    std::optional<int> lines_per_frame() const;
    bool is_interlaced() const { return 2 * halves_ > differences_ / 2 && halves_ > 0; }
    std::int64_t fields() const { return fields_; }
    double half_lines_per_field() const;

    /// @param line_hz, line_u_hz  measured, with uncertainty
    void finish(quantity::Figures& figures, double line_hz, double line_u_hz) const;

private:
    std::optional<FieldStart> last_, before_last_;
    std::map<int, std::int64_t> frame_half_lines_, field_half_lines_;
    std::int64_t fields_ = 0, halves_ = 0, differences_ = 0;
};

/// The scanning standard of so many lines at such a rate; nullptr if there is none within 5 %, the most that a machine
/// may run off.
const table::Scanning* scanning_of(const table::Table& table, std::optional<int> lines_per_frame, double line_hz);

}  // namespace guardband::measure
