#include "measure/clip/step_changes.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t capacity = 16'384;
/// By how much cells differ whatever the noise, squared samples: 1.5 ns.
constexpr float motion_spread = 0.0004F;
/// Either half must know the change to 0.3 samples, 22 ns.
constexpr float least_weight = 11;
/// Changes beyond so many times their scatter and this, samples, come from lines that show different things.
constexpr double most_scatters = 5, least_change_px = 0.2;
/// So many lines must tell, and so large a share: the few of a picture that changes throughout tell of chance.
constexpr std::size_t fewest_lines = 200;
constexpr double least_share = 0.03;

}  // namespace

void StepChanges::see(FieldShifts& changes, std::size_t first, std::size_t end) {
    changes.means(motion_spread, left_, 0, changes.cells() / 2);
    changes.means(motion_spread, right_, (changes.cells() + 1) / 2);
    for (std::size_t i = first; i < end; ++i) add(left_[i], right_[i]);
}

void StepChanges::add(const ShiftMean& left, const ShiftMean& right) {
    if (seen_++ % every_ != 0) return;
    const bool sure = left.weight > least_weight && right.weight > least_weight;
    if (sure && left.samples == 0 && right.samples == 0) return;  // a copy
    constexpr float unknown = std::numeric_limits<float>::quiet_NaN();
    lines_.push_back(sure ? Halves{left.samples, right.samples} : Halves{unknown, unknown});
    if (lines_.size() < capacity) return;
    for (std::size_t i = 0; i < capacity / 2; ++i) lines_[i] = lines_[2 * i];
    lines_.resize(capacity / 2);
    every_ *= 2;
}

std::optional<Estimated> StepChanges::jitter_px() const {
    std::vector<float> left, right;
    for (const Halves& one : lines_)
        if (one.known()) left.push_back(one.left), right.push_back(one.right);
    if (left.size() < fewest_lines ||
        static_cast<double>(left.size()) < least_share * static_cast<double>(lines_.size()))
        return std::nullopt;
    const double scatter =
        std::max(dsp::spread(std::span<const float>(left)), dsp::spread(std::span<const float>(right)));
    const auto most = static_cast<float>(most_scatters * scatter + least_change_px);
    std::vector<MeanSquare> stretches(most_stretches);
    for (std::size_t i = 0; i < left.size(); ++i)
        if (std::abs(left[i]) <= most && std::abs(right[i]) <= most)
            stretches[i * most_stretches / left.size()].add(
                static_cast<double>(left[i]) * static_cast<double>(right[i]) / 4, 0);
    return root_of(stretches);
}

}  // namespace guardband::measure
