#include "measure/clip/vertical_track.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "dsp/maximum.h"

namespace guardband::measure {
namespace {

constexpr int groups = 4;          // few, so that sideways motion matters little
constexpr int longest_shift = 20;  // field rows per frame: a picture height in half a second
// The slow course is the mean over one part in so many of the height.
constexpr int slow_course_share = 4;
// Frames fit when their correlation is at least this: noise at 30 dB leaves 0.8, another scene below 0.3.
constexpr double least_fit = 0.5, good_fit = 0.8;

std::size_t place(int shift) { return static_cast<std::size_t>(shift + longest_shift); }

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

/// Of the rows that both have when the picture has moved down by `shift` rows since the reference.
double VerticalTrack::correlation(int shift) const {
    const int from = std::max(0, shift), to = std::min(rows_, rows_ + shift);
    float common = 0, own = 0, other = 0;
    for (int g = 0; g < groups; ++g) {
        const float* now = &shares_[static_cast<std::size_t>(g * rows_)];
        const float* before = &reference_[static_cast<std::size_t>(g * rows_)];
        for (int y = from; y < to; ++y) {
            const float here = now[y], there = before[y - shift];
            common += here * there, own += here * here, other += there * there;
        }
    }
    return own > 0 && other > 0
               ? static_cast<double>(common) / std::sqrt(static_cast<double>(own) * static_cast<double>(other))
               : 0;
}

double VerticalTrack::see(const FrameFeatures& features) {
    if (range_ < 1 || segments_ < groups) return 0;
    take_shares(features);
    remove_slow_course();
    if (has_reference_) {
        std::array<double, 2 * longest_shift + 1> fit{};
        for (int shift = -range_; shift <= range_; ++shift) fit[place(shift)] = correlation(shift);
        const auto best = static_cast<int>(std::ranges::max_element(fit) - fit.begin()) - longest_shift;
        if (fit[place(best)] >= least_fit) {
            const bool inside = std::abs(best) < range_;
            const double part =
                inside ? dsp::parabola_offset(fit[place(best - 1)], fit[place(best)], fit[place(best + 1)]) : 0;
            position_ = reference_position_ + best + part;
            if (std::abs(best) < range_ / 2 && fit[place(best)] >= good_fit) return position_ / rows_;
        }
    }
    reference_.swap(shares_);
    reference_position_ = position_;
    has_reference_ = true;
    return position_ / rows_;
}

}  // namespace guardband::measure
