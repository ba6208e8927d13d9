#include "measure/waveform/field_count.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double largest_rate_error = 0.05;

int commonest(const std::map<int, std::int64_t>& counts) {
    return std::ranges::max_element(counts, {}, [](const auto& entry) { return entry.second; })->first;
}

}  // namespace

void FieldCount::see_field(const FieldStart& field, double period) {
    ++fields_;
    const auto half_lines = [&](const FieldStart& then) {
        return static_cast<int>(std::lround(2 * (field.place - then.place) / period));
    };
    if (last_) {
        ++differences_;
        ++field_half_lines_[half_lines(*last_)];
        if (last_->half_line != field.half_line) ++halves_;
    }
    if (before_last_) ++frame_half_lines_[half_lines(*before_last_)];
    before_last_ = last_;
    last_ = field;
}

double FieldCount::half_lines_per_field() const {
    if (!frame_half_lines_.empty()) return commonest(frame_half_lines_) / 2.0;
    return field_half_lines_.empty() ? 0 : commonest(field_half_lines_);
}

std::optional<int> FieldCount::lines_per_frame() const {
    if (frame_half_lines_.empty()) return std::nullopt;
    const int half_lines = commonest(frame_half_lines_);
    return is_interlaced() ? half_lines / 2 : half_lines / 4;
}

void FieldCount::finish(quantity::Figures& figures, double line_hz, double line_u_hz) const {
    const double half_lines = half_lines_per_field();
    if (half_lines <= 0) {
        for (const char* id : {"field_rate", "lines_per_frame", "interlace"})
            figures.add(id, Figure::unknown("no two fields were seen whole"));
        return;
    }
    figures.add("field_rate", Figure::measured(2 * line_hz / half_lines, 2 * line_u_hz / half_lines, "Hz"));
    if (const auto lines = lines_per_frame())
        figures.add("lines_per_frame", Figure::counted(*lines, "lines"));
    else
        figures.add("lines_per_frame", Figure::unknown("no whole frame was seen"));
    figures.add("interlace", Figure::text(is_interlaced() ? "2:1" : "none"));
}

const table::Scanning* scanning_of(const table::Table& table, std::optional<int> lines_per_frame, double line_hz) {
    const table::Scanning* best = nullptr;
    double best_error = largest_rate_error;
    for (const table::Scanning& scanning : table.scannings) {
        const double error = std::abs(line_hz / scanning.line_rate().value() - 1);
        const double lines = scanning.lines().value();
        // Simple sources leave out the half line, and count 624 or 626 as two equal fields.
        const bool fits =
            !lines_per_frame || std::abs(*lines_per_frame - lines) <= 1 || std::abs(2 * *lines_per_frame - lines) <= 2;
        if (fits && error < best_error) best = &scanning, best_error = error;
    }
    return best;
}

}  // namespace guardband::measure
