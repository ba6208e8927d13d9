#include "measure/clip/earlier_places.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"
#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// Squared samples: by what cells differ in their movement whatever the noise, 1.5 ns; what a place may change by
/// unseen from frame to frame, 1.3 ns.
constexpr float own_movement = 0.0004F, drift = 0.0003F;
/// A cell that goes further off the scene's movement than this many samples, beyond three deviations, goes another way.
constexpr float most_off_px = 0.2F, most_deviations2 = 9;
/// Places are less sure than the chain states, which knows nothing of errors that stay for some frames.
constexpr float older = 1.1F;
/// A line this many variances off is not where it was.
constexpr float most_surprise = 16;
/// Lines to either side that may show the same thing; the share of what they agree on that is taken for the scene's.
constexpr std::size_t around = 16;
constexpr float scenes_share = 0.4F;
/// Of all cells so many must show how far they have gone.
constexpr std::size_t least_part = 4;

}  // namespace

void EarlierPlaces::find_motion(const FieldShifts& moved, const PlacedLines& now, std::size_t end) {
    spare_.clear();
    for (int c = 0; c < moved.cells(); ++c) {
        const float *samples = moved.samples(c), *weight = moved.weights(c);
        for (std::size_t i = 0; i < end; ++i)
            if (weight[i] > 0) spare_.push_back(place_px_[i] + samples[i] - now.place_px[i]);
    }
    if (spare_.empty() || spare_.size() < end * static_cast<std::size_t>(moved.cells()) / least_part)
        return spare_.clear();
    motion_px_ = static_cast<float>(dsp::median(std::span<const float>(spare_)));
}

void EarlierPlaces::find_lines(const FieldShifts& moved, const PlacedLines& now, std::size_t end) {
    off_.assign(now.size(), {});
    for (int c = 0; c < moved.cells(); ++c) {
        const float *samples = moved.samples(c), *weight = moved.weights(c);
        for (std::size_t i = 0; i < end; ++i) {
            if (weight[i] <= 0) continue;
            const float variance = 1 / weight[i] + own_movement;
            const float off = place_px_[i] + samples[i] - motion_px_ - now.place_px[i];
            if (off * off > most_off_px * most_off_px + most_deviations2 * variance) continue;
            off_[i].samples += off / variance, off_[i].weight += 1 / variance;
        }
    }
    for (ShiftMean& one : off_)
        if (one.weight > 0) one.samples /= one.weight;
}

/// What the lines around each agree on.
void EarlierPlaces::find_common(const PlacedLines& now) {
    const std::size_t count = off_.size();
    sums_.assign(count + 1, 0), weights_.assign(count + 1, 0);
    for (std::size_t i = 0; i < count; ++i) {
        const float weight =
            off_[i].weight > 0 ? 1 / (1 / off_[i].weight + now.variance[i] + variance_[i]) : 0;  // none at 0
        sums_[i + 1] = sums_[i] + weight * off_[i].samples, weights_[i + 1] = weights_[i] + weight;
    }
    common_.assign(count, 0);
    for (std::size_t i = 0; i < count; ++i) {
        const std::size_t first = i > around ? i - around : 0, end = std::min(count, i + around + 1);
        const float weight = weights_[end] - weights_[first];
        if (weight > 0) common_[i] = scenes_share * (sums_[end] - sums_[first]) / weight;
    }
}

bool EarlierPlaces::add(const FieldShifts& moved, const PlacedLines& now, std::span<const char> rests,
                        std::vector<LineEvidence>& places) {
    if (place_px_.size() != now.size() || moved.lines() != now.size() || now.size() <= switch_zone) return false;
    // The lines after a head switch are few, and their mean place is wanted rather than each one's.
    const std::size_t end = now.size() - switch_zone;
    find_motion(moved, now, end);
    if (spare_.empty()) return false;
    find_lines(moved, now, end);
    find_common(now);
    for (std::size_t i = 0; i < end; ++i) {
        if (off_[i].weight <= 0 || rests[i] == 0) continue;
        const float off = off_[i].samples - common_[i];
        const float variance = older * variance_[i] + 1 / off_[i].weight + drift;
        if (off * off > most_surprise * (variance + now.variance[i])) continue;
        LineEvidence& one = places[i];
        const float weight = 1 / variance, all = one.weight + weight;
        one = {(one.weight * one.place_px + weight * (now.place_px[i] + off)) / all, all};
    }
    return true;
}

}  // namespace guardband::measure
