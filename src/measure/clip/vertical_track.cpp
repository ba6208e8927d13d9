#include "measure/clip/vertical_track.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "dsp/maximum.h"
#include "rows/signal_kernels.h"

namespace guardband::measure {
namespace {

constexpr int groups = 4;          // few, so that sideways motion matters little
constexpr int longest_shift = 20;  // field rows per frame: a picture height in half a second
// The slow course is the mean over one part in so many of the height.
constexpr int slow_course_share = 4;
// Frames fit when their correlation is at least this: noise at 30 dB leaves 0.8, another scene below 0.3.
constexpr double least_fit = 0.5, good_fit = 0.8;

/// Sums of the squares of all rows before each, and of all; of all groups together.
void add_up_squares(const std::vector<float>& shares, std::size_t rows, std::vector<double>& sums) {
    sums.assign(rows + 1, 0);
    for (std::size_t i = 0; i < shares.size(); i += rows)
        for (std::size_t y = 0; y < rows; ++y) sums[y + 1] += static_cast<double>(shares[i + y] * shares[i + y]);
    std::partial_sum(sums.begin(), sums.end(), sums.begin());
}

}  // namespace

VerticalTrack::VerticalTrack(int segments, int rows)
    : segments_(segments),
      rows_(rows / 2),
      range_(std::min(longest_shift, rows_ / 4)),
      shares_(static_cast<std::size_t>(groups) * static_cast<std::size_t>(rows_)),
      reference_(shares_.size()),
      running_(static_cast<std::size_t>(rows_) + 1) {}

void VerticalTrack::take_shares(const FrameFeatures& features) {
    for (int y = 0; y < rows_; ++y) {
        const std::uint32_t* sums = &features.segment_sums.at(0, 2 * y);
        float total = 1, group_sums[groups];
        for (int g = 0; g < groups; ++g) {
            std::uint32_t sum = 0;
            for (int s = g * segments_ / groups; s < (g + 1) * segments_ / groups; ++s) sum += sums[s];
            total += group_sums[g] = static_cast<float>(sum);
        }
        for (int g = 0; g < groups; ++g) shares_[static_cast<std::size_t>(g * rows_ + y)] = group_sums[g] / total;
    }
}

void VerticalTrack::remove_slow_course() {
    const int reach = std::max(2, rows_ / (2 * slow_course_share));
    for (int g = 0; g < groups; ++g) {
        float* share = &shares_[static_cast<std::size_t>(g * rows_)];
        for (int y = 0; y < rows_; ++y)
            running_[static_cast<std::size_t>(y) + 1] =
                running_[static_cast<std::size_t>(y)] + static_cast<double>(share[y]);
        for (int y = 0; y < rows_; ++y) {
            const int from = std::max(0, y - reach), to = std::min(rows_, y + reach + 1);
            share[y] -= static_cast<float>(
                (running_[static_cast<std::size_t>(to)] - running_[static_cast<std::size_t>(from)]) / (to - from));
        }
    }
}

/// At each shift, of the rows that both have when the picture has moved down by so many since the reference.
void VerticalTrack::correlate() {
    const auto rows = static_cast<std::size_t>(rows_), range = static_cast<std::size_t>(range_), shifts = 2 * range + 1;
    padded_.assign(rows + 2 * range, 0), products_.resize(shifts), fit_.assign(shifts, 0);
    for (int g = 0; g < groups; ++g) {
        const float* now = &shares_[static_cast<std::size_t>(g) * rows];
        std::copy(now, now + rows_, padded_.begin() + range_);
        rows::fast_signal_kernels().correlate(&reference_[static_cast<std::size_t>(g) * rows], padded_.data(), rows_,
                                              static_cast<int>(shifts), products_.data());
        for (std::size_t i = 0; i < shifts; ++i) fit_[i] += static_cast<double>(products_[i]);
    }
    add_up_squares(shares_, rows, squares_);
    add_up_squares(reference_, rows, reference_squares_);
    for (int shift = -range_; shift <= range_; ++shift) {
        const auto from = static_cast<std::size_t>(std::max(0, shift)),
                   to = rows + static_cast<std::size_t>(std::min(0, shift));
        const auto before = static_cast<std::size_t>(std::max(0, -shift)), count = to - from;
        const double own = squares_[to] - squares_[from];
        const double other = reference_squares_[before + count] - reference_squares_[before];
        double& fit = fit_[static_cast<std::size_t>(shift + range_)];
        fit = own > 0 && other > 0 ? fit / std::sqrt(own * other) : 0;
    }
}

double VerticalTrack::see(const FrameFeatures& features) {
    if (range_ < 1 || segments_ < groups) return 0;
    take_shares(features);
    remove_slow_course();
    if (has_reference_) {
        correlate();
        const auto top = std::ranges::max_element(fit_);
        const int best = static_cast<int>(top - fit_.begin()) - range_;
        if (*top >= least_fit) {
            const bool inside = std::abs(best) < range_;
            position_ = reference_position_ + best + (inside ? dsp::parabola_offset(top[-1], *top, top[1]) : 0);
            if (std::abs(best) < range_ / 2 && *top >= good_fit) return position_ / rows_;
        }
    }
    reference_.swap(shares_);
    reference_position_ = position_;
    has_reference_ = true;
    return position_ / rows_;
}

}  // namespace guardband::measure
