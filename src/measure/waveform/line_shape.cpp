#include "measure/waveform/line_shape.h"

#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double porch_from_us = 3.6, porch_to_us = 0.6;  ///< before sync: where the picture's end is looked for
constexpr double picture_us = 0.9, settled_us = 0.45;     ///< where the picture's level is taken, before its end
constexpr double far_us = 0.8;                            ///< length of the stretch that is looked at first
constexpr double least_share = 0.1;                       ///< of the lines must tell it, else noise may have
constexpr float least_height = 1.0F / 6;                  ///< of the picture's end, of sync's depth
constexpr std::int64_t least_lines = 20;

}  // namespace

LineShape::LineShape(const FieldLayout& layout, double rate_hz, double scaled_us, float depth)
    : layout_(layout), rate_hz_(rate_hz), us_(scaled_us), expected_depth_(depth), filter_(sync_filter_us * scaled_us) {}

void LineShape::see_line(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || (line.in_field >= 0 && line.in_field < layout_.first_counted)) return;
    ++lines_;
    width_.add(line.sync.width());
    depth_.add(line.sync.front - line.sync.tip);
    see_front_porch(line, window);
}

/// The sync of this line ends the picture of the one before.
void LineShape::see_front_porch(const VideoLine& line, const SampleWindow& window) {
    const auto first = static_cast<std::int64_t>(std::floor(line.sync.lead - porch_from_us * us_));
    const auto last = static_cast<std::int64_t>(std::floor(line.sync.lead - porch_to_us * us_));
    values_.resize(static_cast<std::size_t>(last - first + 1));
    if (!filter_.filter(window, first, 1, values_)) return;
    // First against the level well before, then against the level just before the edge that this finds.
    const auto far = static_cast<std::size_t>(far_us * us_);
    float picture = 0;
    for (std::size_t i = 0; i < far; ++i) picture += values_[i] / static_cast<float>(far);
    double place = -1;
    for (int round = 0; round < 2; ++round) {
        if (std::abs(picture - line.sync.front) < least_height * expected_depth_) return;
        const float middle = (picture + line.sync.front) / 2, sign = picture > middle ? 1.0F : -1.0F;
        place = -1;
        for (std::size_t i = values_.size() - 1; i-- > 0;) {
            if (!(sign * (values_[i] - middle) >= 0 && sign * (values_[i + 1] - middle) < 0)) continue;
            place = static_cast<double>(i) + double{values_[i] - middle} / double{values_[i] - values_[i + 1]};
            break;
        }
        const double from = place - picture_us * us_, to = place - settled_us * us_;
        if (place < 0 || from < 0) return;
        double sum = 0;
        int count = 0;
        for (auto i = static_cast<std::size_t>(from); i <= static_cast<std::size_t>(to); ++i, ++count)
            sum += values_[i];
        picture = static_cast<float>(sum / count);
    }
    porch_us_.add((line.sync.lead - (static_cast<double>(first) + place)) / rate_hz_ * 1e6);
}

void LineShape::finish(quantity::Figures& figures, double mv_per_unit) const {
    const double us = 1e6 / rate_hz_;
    if (lines_ < least_lines) {
        for (const char* id : {"sync_width", "front_porch", "sync_amplitude"})
            figures.add(id, Figure::unknown("too few lines of picture"));
        return;
    }
    // An edge that is not symmetrical shifts by some nanoseconds in the filter.
    figures.add("sync_width", Figure::measured(width_.mean() * us, std::hypot(width_.uncertainty() * us, 0.003), "µs")
                                  .with_note("at half of its depth"));
    if (porch_us_.count() < least_lines ||
        static_cast<double>(porch_us_.count()) < least_share * static_cast<double>(lines_)) {
        figures.add("front_porch", Figure::unknown("no picture reaches the right edge brighter than blanking"));
    } else {
        const double spread = (porch_us_.quantile(0.75) - porch_us_.quantile(0.25)) / 1.35;
        const double u = 1.25 * spread / std::sqrt(static_cast<double>(porch_us_.count()));
        figures.add("front_porch", Figure::measured(porch_us_.quantile(0.5), std::hypot(u, 0.005), "µs"));
    }
    if (mv_per_unit > 0)
        figures.add("sync_amplitude",
                    Figure::measured(depth_.mean() * mv_per_unit, depth_.uncertainty() * mv_per_unit, "mV"));
    else
        figures.add("sync_amplitude", Figure::unknown("levels are scaled by sync itself; give --millivolts-per-unit"));
}

}  // namespace guardband::measure
