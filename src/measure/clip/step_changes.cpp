#include "measure/clip/step_changes.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t capacity = 16'384;
/// By how much cells differ whatever the noise, squared samples: 1.5 ns.
constexpr float motion_spread = 0.0004F;
/// Either half must know the change to 0.3 samples, 22 ns.
constexpr float least_weight = 11;
/// Squared slopes against the squares that a fit leaves over: 0.6 in rows of white noise that have nothing in common.
/// From the first on a line's picture goes on; the second, against what most lines leave over, is out of reach of noise
/// even where two rows' noise is the same, 1.2.
constexpr float least_of_own = 1.2F, least_of_most = 2.5F;
/// The share of lines that go on, from which on it must be the picture: textures reach 0.2, noise 0.03.
constexpr double least_going_on = 0.1;
/// Changes beyond so many times their scatter and this, samples, come from lines that show different things.
constexpr double most_scatters = 5, least_change_px = 0.2;
/// So many lines must tell, and so large a share: the few of a picture that changes throughout tell of chance.
constexpr std::size_t fewest_lines = 200;
constexpr double least_share = 0.03;

}  // namespace

/// From the middle of what the lines with any detail leave over.
float StepChanges::least_slopes(const FieldShifts& moved) {
    spare_.clear();
    for (std::size_t i = 0; i < moved.lines(); ++i)
        if (moved.slopes()[i] > 0) spare_.push_back(moved.left()[i]);
    return spare_.empty() ? 0 : least_of_most * static_cast<float>(dsp::quantile_in_place(spare_, 0.5));
}

void StepChanges::see(const FieldShifts& moved, FieldShifts& changes, std::size_t first, std::size_t end) {
    changes.means(motion_spread, left_, 0, changes.cells() / 2);
    changes.means(motion_spread, right_, (changes.cells() + 1) / 2);
    const std::vector<float>&slopes = moved.slopes(), &left_over = moved.left();
    const float least = least_slopes(moved);
    for (std::size_t i = first; i < end; ++i) {
        const ShiftMean &left = left_[i], &right = right_[i];
        const bool sure = left.weight > least_weight && right.weight > least_weight;
        if (sure && left.samples == 0 && right.samples == 0) continue;  // a copy
        constexpr float unknown = std::numeric_limits<float>::quiet_NaN();
        if (!sure) {
            add({unknown, unknown});
            continue;
        }
        const bool goes_on = slopes[i] > least_of_own * left_over[i] && slopes[i - 1] > least_of_own * left_over[i - 1];
        add({left.samples, right.samples, goes_on, std::min(slopes[i], slopes[i - 1]) > least});
    }
}

void StepChanges::add(const Halves& one) {
    if (seen_++ % every_ != 0) return;
    lines_.push_back(one);
    if (lines_.size() < capacity) return;
    for (std::size_t i = 0; i < capacity / 2; ++i) lines_[i] = lines_[2 * i];
    lines_.resize(capacity / 2);
    every_ *= 2;
}

/// The lines that can tell.
std::vector<StepChanges::Halves> StepChanges::evidence() const {
    const auto going_on = static_cast<double>(std::ranges::count_if(lines_, &Halves::goes_on));
    const bool picture_goes_on = going_on >= least_going_on * static_cast<double>(lines_.size());
    std::vector<Halves> out;
    std::ranges::copy_if(lines_, std::back_inserter(out), [&](const Halves& one) {
        return one.known() && (picture_goes_on || (one.goes_on && one.detailed));
    });
    return out;
}

std::optional<Estimated> StepChanges::jitter_px() const {
    std::vector<float> left, right;
    for (const Halves& one : evidence()) left.push_back(one.left), right.push_back(one.right);
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
