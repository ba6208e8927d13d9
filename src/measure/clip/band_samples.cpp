#include "measure/clip/band_samples.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

#include "measure/clip/block_search.h"

namespace guardband::measure {
namespace {

constexpr int most_rows = 16;  ///< whose levels are looked at
constexpr int rows_laid = 6;   ///< over those of the frame before
constexpr int farthest_row = 4;
constexpr double extremes = 0.05;
/// Of the samples, in the middle half between the extremes: Gaussian noise has 0.59 there, even one of which a quarter
/// is cut at either end 0.26, what has two levels none.
constexpr double least_between = 0.15;
/// Correlation with what it was elsewhere. The greatest by chance, of some thousand places, is 0.2.
constexpr double most_alike = 0.4;

/// Some of the rows, from the middle outwards evenly.
std::vector<int> some_of(int first, int rows, int most) {
    std::vector<int> out;
    const int count = std::min(rows, most);
    for (int i = 0; i < count; ++i) out.push_back(first + (2 * i + 1) * rows / (2 * count));
    return out;
}

void remove_mean(std::vector<float>& row) {
    const float mean = std::accumulate(row.begin(), row.end(), 0.0F) / static_cast<float>(row.size());
    for (float& one : row) one -= mean;
}

}  // namespace

void BandSamples::keep(const media::Frame& frame) { before_ = frame; }

void BandSamples::read(const media::Frame& frame, int line, std::vector<float>& to) const {
    to.resize(static_cast<std::size_t>(frame.planes[0].width));
    read_codes(frame.planes[0], frame.format.bit_depth, line, 0, frame.planes[0].width, to.data());
}

bool BandSamples::has_levels_of_noise(const media::Frame& frame, std::size_t parity, int first, int rows) {
    levels_.clear();
    for (const int row : some_of(first, rows, most_rows)) {
        const int line = 2 * row + static_cast<int>(parity);
        if (line >= frame.planes[0].height) continue;
        read(frame, line, now_);
        levels_.insert(levels_.end(), now_.begin(), now_.end());
    }
    if (levels_.empty()) return false;
    const auto part = static_cast<std::ptrdiff_t>(extremes * static_cast<double>(levels_.size()));
    std::ranges::nth_element(levels_, levels_.begin() + part);
    const float low = levels_[static_cast<std::size_t>(part)];
    std::ranges::nth_element(levels_, levels_.end() - 1 - part);
    const float high = *(levels_.end() - 1 - part);
    const float quarter = (high - low) / 4;
    const auto between =
        std::ranges::count_if(levels_, [&](float level) { return level > low + quarter && level < high - quarter; });
    return static_cast<double>(between) >= least_between * static_cast<double>(levels_.size());
}

/// The greatest correlation of the rows' middle third with what lies so many rows further down in the frame before, by
/// all places along the row.
double BandSamples::likeness(const media::Frame& frame, std::size_t parity, const std::vector<int>& field_rows,
                             int down) {
    const int width = frame.planes[0].width, part = width / 3, places = width - part + 1;
    products_.assign(static_cast<std::size_t>(places), 0);
    std::vector<double> energies(products_.size(), 0);
    double own = 0;
    for (const int row : field_rows) {
        const int line = 2 * row + static_cast<int>(parity), line_before = line + 2 * down;
        if (line_before < 0 || line_before >= before_->planes[0].height || line >= frame.planes[0].height) continue;
        read(frame, line, now_), read(*before_, line_before, then_);
        remove_mean(now_), remove_mean(then_);
        const std::span<const float> middle(now_.data() + part, static_cast<std::size_t>(part));
        own += std::inner_product(middle.begin(), middle.end(), middle.begin(), 0.0);
        double energy = std::inner_product(then_.begin(), then_.begin() + part, then_.begin(), 0.0);
        for (int at = 0; at < places; ++at) {
            const float* from = then_.data() + at;
            energies[static_cast<std::size_t>(at)] += energy;
            products_[static_cast<std::size_t>(at)] +=
                static_cast<double>(std::inner_product(middle.begin(), middle.end(), from, 0.0F));
            if (at + part < width)
                energy += static_cast<double>(from[part] * from[part]) - static_cast<double>(from[0] * from[0]);
        }
    }
    double best = 0;
    for (std::size_t i = 0; i < products_.size(); ++i)
        if (energies[i] > 0 && own > 0) best = std::max(best, products_[i] / std::sqrt(own * energies[i]));
    return best;
}

bool BandSamples::has_moved(const media::Frame& frame, std::size_t parity, int first, int rows) {
    if (!before_ || before_->planes[0].width != frame.planes[0].width || frame.planes[0].width < 3) return false;
    const std::vector<int> some = some_of(first, rows, rows_laid);
    for (int down = -farthest_row; down <= farthest_row; ++down)
        if (likeness(frame, parity, some, down) >= most_alike) return true;
    return false;
}

}  // namespace guardband::measure
