#include "testsignal/composite/scan_pattern.h"

#include <algorithm>

namespace guardband::testsignal {
namespace {

std::int64_t floor_divided(std::int64_t a, std::int64_t b) { return a / b - (a % b < 0 ? 1 : 0); }
std::int64_t remainder_of(std::int64_t a, std::int64_t b) { return a - b * floor_divided(a, b); }

}  // namespace

ScanPattern::ScanPattern(const CompositeSystem& s)
    : lines_(s.lines),
      equalising_(s.equalising),
      broad_(s.broad),
      first_broad_(s.first_broad),
      blanked_lines_(s.blanked_lines),
      burst_blanking_(s.burst_blanking),
      kind_(s.kind) {}

std::int64_t ScanPattern::field_of(std::int64_t half_line) const {
    return floor_divided(half_line - first_broad_ + equalising_, lines_);
}

/// Half lines since the field's first pulse.
std::int64_t ScanPattern::since_start(std::int64_t half_line) const {
    return remainder_of(half_line - first_broad_ + equalising_, lines_);
}

SyncPulse ScanPattern::pulse(std::int64_t half_line) const {
    const std::int64_t since = since_start(half_line);
    if (since >= equalising_ && since < equalising_ + broad_) return SyncPulse::Broad;
    if (since < 2 * equalising_ + broad_) return SyncPulse::Equalising;
    return remainder_of(half_line, 2) == 0 ? SyncPulse::Line : SyncPulse::None;
}

bool ScanPattern::active(std::int64_t half_line) const { return since_start(half_line) >= 2 * blanked_lines_; }

int ScanPattern::v_switch(std::int64_t line) const {
    return kind_ == ColourKind::Alternating && remainder_of(line, 2) == 1 ? -1 : 1;
}

/// An odd number of lines that holds all lines with other than line pulses, so placed that the next burst is positive:
/// each field then begins and ends with the same burst (ITU-R BT.470-6 has a drawing; from memory).
bool ScanPattern::burst_is_blanked(std::int64_t line, std::int64_t field) const {
    const std::int64_t begin = floor_divided(broad_start(field) - equalising_, 2);
    const std::int64_t end = floor_divided(broad_start(field) + broad_ + equalising_ - 1, 2) + 1;
    std::int64_t length = std::max<std::int64_t>(burst_blanking_, end - begin);
    if (length % 2 == 0) ++length;
    std::int64_t first = begin;
    if (v_switch(first + length) < 0 && first + length - 1 >= end) --first;
    if (v_switch(first + length) < 0) ++length;
    return line >= first && line < first + length;
}

bool ScanPattern::burst(std::int64_t line) const {
    if (kind_ == ColourKind::Quadrature) return pulse(2 * line) == SyncPulse::Line;
    if (kind_ != ColourKind::Alternating) return false;
    const std::int64_t field = field_of(2 * line);
    return !burst_is_blanked(line, field) && !burst_is_blanked(line, field + 1);
}

std::int64_t ScanPattern::picture_row(std::int64_t line) const {
    const std::int64_t since = since_start(2 * line);
    return since - 2 * blanked_lines_ + 1;
}

int ScanPattern::line_number(std::int64_t line) const { return static_cast<int>(remainder_of(line, lines_)) + 1; }

}  // namespace guardband::testsignal
