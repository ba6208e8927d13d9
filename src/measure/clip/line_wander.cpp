#include "measure/clip/line_wander.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Squared samples: by what cells differ in their movement whatever the noise, 1.5 ns; what is known of the change of a
/// step before it is seen.
constexpr float own_movement = 0.0004F, loose_step = 1.0F / 16;
constexpr int memory_frames = 25;
/// A line shows one thing alone if so many of its cells move alike, within so many deviations; squared samples: cells
/// less sure than 15 ns don't.
constexpr float least_agreeing = 0.6F, near_deviations = 3, worst_cell = 0.04F;
/// Squared samples: a change less sure than 15 ns is none, nor a place than 22 ns.
constexpr float worst_change = 0.04F, worst_place = 0.09F;

}  // namespace

void LineWander::begin(std::size_t lines) {
    moved_.assign(lines, {}), steps_.assign(lines, {0, loose_step});
    if (off_px_.size() == lines) return;
    off_px_.assign(lines, 0), variance_.assign(lines, 0), frames_.assign(lines, 0);
}

/// Cells with detail, and those that move as the mean of their line does and say so surely.
void LineWander::find_agreeing(const FieldShifts& moved) {
    constexpr float most_square = near_deviations * near_deviations;
    agreeing_.assign(moved.lines(), 0), seen_.assign(moved.lines(), 0);
    for (int c = 0; c < moved.cells(); ++c) {
        const float *samples = moved.samples(c), *weight = moved.weights(c);
        for (std::size_t i = 0; i < moved.lines(); ++i) {
            const float off = samples[i] - means_[i].samples, variance = 1 / weight[i] + own_movement;
            seen_[i] += weight[i] > 0 ? 1.0F : 0.0F;
            agreeing_[i] += variance < worst_cell && off * off < most_square * variance ? 1.0F : 0.0F;
        }
    }
}

void LineWander::see(FieldShifts& moved, const std::vector<ShiftMean>& changed) {
    begin(moved.lines());
    moved.means(own_movement, means_);
    find_agreeing(moved);
    for (std::size_t i = 1; i < moved.lines(); ++i) {  // the first has no line above to be compared with
        if (means_[i].weight <= 0 || agreeing_[i] < least_agreeing * seen_[i]) continue;
        moved_[i] = {means_[i].samples, 1 / (1 / means_[i].weight + own_movement)};
        if (moved_[i - 1].weight > 0 && changed[i].weight > 0)
            steps_[i] = {changed[i].samples, changed[i].weight + loose_step};
    }
    sum_up();
}

void LineWander::sum_up() {
    spare_.clear();
    for (const LineEvidence& one : moved_)
        if (one.weight > 0) spare_.push_back(one.place_px);
    if (spare_.size() < moved_.size() / 4) return restart();
    const auto scene = static_cast<float>(dsp::median(std::span<const float>(spare_)));
    for (LineEvidence& one : moved_) one.place_px -= scene;
    chain_.solve(moved_, steps_, changes_);
    // Of all lines that go on, so that errors of the scene's movement don't add up in them.
    float sum = 0, count = 0;
    for (std::size_t i = 0; i < moved_.size(); ++i)
        if (changes_.variance[i] <= worst_change) sum += changes_.place_px[i], ++count;
    const float common = count > 0 ? sum / count : 0;
    for (std::size_t i = 0; i < moved_.size(); ++i) {
        if (changes_.variance[i] > worst_change) {
            frames_[i] = 0, off_px_[i] = variance_[i] = 0;
            continue;
        }
        frames_[i] = std::min(frames_[i] + 1, memory_frames);
        // The mean goes a share of the way to the new place.
        const float rest = 1 - 1 / static_cast<float>(frames_[i] + 1);
        off_px_[i] = rest * (off_px_[i] + changes_.place_px[i] - common);
        variance_[i] = rest * rest * (variance_[i] + changes_.variance[i]);
    }
}

void LineWander::give(std::vector<float>& out) const {
    constexpr float nothing = std::numeric_limits<float>::quiet_NaN();
    out.assign(off_px_.size(), nothing);
    float sum = 0, count = 0;
    for (std::size_t i = 0; i < out.size(); ++i)
        if (frames_[i] >= fewest_frames && variance_[i] < worst_place) out[i] = off_px_[i], sum += off_px_[i], ++count;
    for (float& one : out) one -= sum / std::max(count, 1.0F);
}

}  // namespace guardband::measure
