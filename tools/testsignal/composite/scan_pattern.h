#pragma once

#include <cstdint>

#include "testsignal/composite/system.h"

namespace guardband::testsignal {

/// What begins at the start of a half line.
enum class SyncPulse { None, Line, Equalising, Broad };

/// Which pulses, bursts and picture stand where. Lines and half lines count on from 0, the beginning of line 1 of the
/// first frame; they may be negative. Fields count from 0, the one whose broad pulses come first after that.
class ScanPattern {
public:
    explicit ScanPattern(const CompositeSystem& system);

    SyncPulse pulse(std::int64_t half_line) const;
    /// True where the picture may be seen.
    bool active(std::int64_t half_line) const;
    bool burst(std::int64_t line) const;
    /// +1 on lines where the V axis stands as it is, −1 where it is turned over; +1 without alternation.
    int v_switch(std::int64_t line) const;
    /// The field that a half line belongs to: from its first equalising pulse on.
    std::int64_t field_of(std::int64_t half_line) const;
    /// Half line at which a field's first broad pulse begins.
    std::int64_t broad_start(std::int64_t field) const { return first_broad_ + field * lines_; }
    /// Row of the whole picture, both fields woven, that a line shows; below 0 before the picture.
    std::int64_t picture_row(std::int64_t line) const;
    /// Rows of that picture.
    int picture_rows() const { return (lines_ - 2 * blanked_lines_ + 1) / 2 * 2; }
    /// Line number within the frame, from 1.
    int line_number(std::int64_t line) const;

private:
    std::int64_t since_start(std::int64_t half_line) const;
    bool burst_is_blanked(std::int64_t line, std::int64_t field) const;

    int lines_, equalising_, broad_, first_broad_, blanked_lines_, burst_blanking_;
    ColourKind kind_;
};

}  // namespace guardband::testsignal
