#include "testsignal/field_schedule.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace guardband::testsignal {

FieldSchedule::FieldSchedule(const Recipe& recipe)
    : recipe_(recipe), pulldown_sum_(std::accumulate(recipe.pulldown.begin(), recipe.pulldown.end(), 0)) {
    const std::int64_t frames = source_frame_count(recipe);
    const auto& missing = recipe.faults.missing_frames;
    for (std::int64_t n = 0; n < frames; ++n)
        if (std::find(missing.begin(), missing.end(), n) == missing.end()) kept_.push_back(n);
    repeats_.assign(static_cast<std::size_t>(2 * frames), false);
    for (const std::int64_t k : recipe.faults.repeated_fields) repeats_[static_cast<std::size_t>(k)] = true;
    for (const std::int64_t n : recipe.faults.repeated_frames)
        repeats_[static_cast<std::size_t>(2 * n)] = repeats_[static_cast<std::size_t>(2 * n + 1)] = true;
}

bool FieldSchedule::is_repeat(std::int64_t source_field) const {
    return repeats_[static_cast<std::size_t>(source_field)];
}

std::int64_t FieldSchedule::shown_field(std::int64_t source_field) const {
    while (source_field >= 2 && is_repeat(source_field)) source_field -= 2;
    return source_field;
}

double FieldSchedule::moment_s(std::int64_t source_field) const {
    const double field_s = 1 / (2 * recipe_.raster.frame_rate.value());
    if (recipe_.scan == Scan::Progressive) return static_cast<double>(source_field - source_field % 2) * field_s;
    if (recipe_.pulldown.empty()) return static_cast<double>(source_field) * field_s;
    // Film frames stand as many fields as the pattern says, and were taken at even intervals.
    const auto pattern_length = static_cast<std::int64_t>(recipe_.pulldown.size());
    std::int64_t film_frame = source_field / pulldown_sum_ * pattern_length, left = source_field % pulldown_sum_;
    for (const int fields : recipe_.pulldown) {
        if (left < fields) break;
        left -= fields;
        ++film_frame;
    }
    return static_cast<double>(film_frame) * pulldown_sum_ / static_cast<double>(pattern_length) * field_s;
}

FieldSource FieldSchedule::field(std::int64_t source_field) const {
    const std::int64_t shown = shown_field(source_field);
    const bool copies_noise = recipe_.faults.repeat_stage == RepeatStage::AfterNoise;
    FieldSource source = recipe_.conversion ? converted(shown) : FieldSource{moment_s(shown), 0};
    source.noise_field = copies_noise ? shown : source_field;
    return source;
}

FieldSource FieldSchedule::converted(std::int64_t source_field) const {
    const auto& c = *recipe_.conversion;
    const std::int64_t unit = c.whole_frames ? 2 : 1, parity = source_field % unit;
    const double from_hz = c.from_field_rate.value(), to_hz = 2 * recipe_.raster.frame_rate.value();
    constexpr double rounding = 1e-9;  // a field that falls on one of the source's shows that one
    const std::int64_t number = source_field / unit;
    const double place = static_cast<double>(number) * from_hz / to_hz + rounding;
    const double whole = std::floor(place);
    const auto moment_s = [&](double in_source) {
        return (in_source * static_cast<double>(unit) + static_cast<double>(parity)) / from_hz;
    };
    FieldSource source{moment_s(whole), 0};
    source.later_time_s = moment_s(whole + 1);
    source.later_share = c.method == ConversionMethod::Blend ? std::max(0.0, place - whole - 2 * rounding) : 0;
    return source;
}

std::vector<std::int64_t> FieldSchedule::repeated_fields() const {
    std::vector<std::int64_t> out;
    for (std::int64_t clip_field = 2; clip_field < 2 * frame_count(); ++clip_field) {
        const std::int64_t here = 2 * source_frame(clip_field / 2) + clip_field % 2;
        const std::int64_t before = 2 * source_frame(clip_field / 2 - 1) + clip_field % 2;
        const FieldSource now = field(here), then = field(before);
        if (now.time_s == then.time_s && now.later_share == then.later_share) out.push_back(clip_field);
    }
    return out;
}

std::vector<std::int64_t> FieldSchedule::repeated_frames() const {
    std::vector<std::int64_t> out;
    const auto fields = repeated_fields();
    for (std::size_t i = 0; i + 1 < fields.size(); ++i)
        if (fields[i] % 2 == 0 && fields[i + 1] == fields[i] + 1) out.push_back(fields[i] / 2);
    return out;
}

std::vector<MissingFrame> FieldSchedule::missing_frames() const {
    std::vector<MissingFrame> out;
    for (const std::int64_t n : recipe_.faults.missing_frames)
        out.push_back({n, std::lower_bound(kept_.begin(), kept_.end(), n) - kept_.begin()});
    std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.source_frame < b.source_frame; });
    return out;
}

}  // namespace guardband::testsignal
