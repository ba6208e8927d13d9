#include "measure/clip/still_errors.h"

#include <algorithm>
#include <cmath>

#include "measure/clip/displacement_track.h"
#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// Frames at rest from which on a mean counts, and over which it is made at most.
constexpr int fewest_frames = 8, most_frames = 75;
/// Lines of the frame to either side: what is smoothed over as error is alike over; as displacements are; over which
/// one is told from the other.
constexpr int half_of_error = 2, half_of_course = 128, half_of_test = 288;
constexpr float fewest_tested = 16;
constexpr float most_error_px = 0.8F;
/// Lines of a field at the top that may bend.
constexpr std::size_t top_lines = 24;

}  // namespace

void StillErrors::see(std::size_t parity, const PlacedLines& lines, std::span<const char> rests) {
    if (parity == 0) means_.resize(std::max(means_.size(), 2 * lines.size()));
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const std::size_t row = 2 * i + parity;
        if (row >= means_.size()) means_.resize(row + 1);
        Means& mean = means_[row];
        if (rests[i] == 0) mean = {};
        if (rests[i] == 0 || std::isnan(lines.left_px[i])) continue;
        mean.frames = std::min(mean.frames + 1, most_frames);
        const float share = 1 / static_cast<float>(mean.frames);
        mean.place += share * (lines.place_px[i] - mean.place);
        mean.left += share * (lines.left_px[i] - mean.left);
        mean.right += share * (lines.right_px[i] - mean.right);
    }
    if (parity == 1) find_errors();
}

void StillErrors::take_out(std::size_t parity, PlacedLines& lines) const {
    for (std::size_t i = 0; i < lines.size(); ++i)
        if (const std::size_t row = 2 * i + parity; row < errors_.size() && !std::isnan(lines.left_px[i]))
            lines.place_px[i] -= errors_[row];  // one edge alone errs by something else
}

void StillErrors::sums_over(std::span<const float> values, int half, Course& out) {
    const std::size_t count = values.size(), reach = static_cast<std::size_t>(half);
    running_.resize(count + 1);
    running_[0] = 0;
    for (std::size_t i = 0; i < count; ++i) running_[i + 1] = running_[i] + static_cast<double>(values[i]);
    out.resize(count);
    for (std::size_t i = 0; i < count; ++i)
        out[i] = static_cast<float>(running_[std::min(count, i + reach + 1)] - running_[i > reach ? i - reach : 0]);
}

void StillErrors::smooth(int half, Course& values) {
    sums_over(known_, half, denominator_);
    for (int pass = 0; pass < 2; ++pass) {
        for (std::size_t i = 0; i < values.size(); ++i) values[i] *= known_[i];
        sums_over(values, half, numerator_);
        for (std::size_t i = 0; i < values.size(); ++i)
            values[i] = denominator_[i] > 0 ? numerator_[i] / denominator_[i] : 0;
    }
}

void StillErrors::band(Course& values) {
    // Smoothing what smoothing left keeps slopes and bends.
    for (int pass = 0; pass < 2; ++pass) {
        slow_ = values;
        smooth(half_of_course, slow_);
        for (std::size_t i = 0; i < values.size(); ++i) values[i] -= slow_[i];
    }
    smooth(half_of_error, values);
    for (std::size_t i = 0; i < values.size(); ++i) values[i] *= known_[i];
}

/// Where lines jump or bend, as they do at the top and at the head switch, nothing is learnt of the others.
void StillErrors::find_errors() {
    const std::size_t count = means_.size(), bottom = 2 * std::min<std::size_t>(switch_zone, count / 8),
                      top = std::min(2 * top_lines, count / 4);
    errors_.assign(count, 0);
    find_errors(0, top), find_errors(top, count - bottom), find_errors(count - bottom, count);
}

void StillErrors::find_errors(std::size_t first, std::size_t end) {
    const std::size_t count = end - first;
    known_.assign(count, 0);
    left_.assign(count, 0), right_.assign(count, 0), place_.assign(count, 0);
    for (std::size_t i = 0; i < count; ++i) {
        const Means& mean = means_[first + i];
        if (mean.frames < fewest_frames) continue;
        known_[i] = 1, place_[i] = mean.place, left_[i] = mean.left, right_[i] = mean.right;
    }
    band(place_), band(left_), band(right_);
    for (std::size_t i = 0; i < count; ++i) {
        left_[i] *= right_[i];
        right_[i] = place_[i] * place_[i];
    }
    sums_over(left_, half_of_test, common_), sums_over(right_, half_of_test, all_);
    sums_over(known_, half_of_test, tested_);
    for (std::size_t i = 0; i < count; ++i)
        if (tested_[i] >= fewest_tested && all_[i] > 0 && std::abs(place_[i]) < most_error_px)
            errors_[first + i] = place_[i] * (1 - std::clamp(common_[i] / all_[i], 0.0F, 1.0F));
}

}  // namespace guardband::measure
