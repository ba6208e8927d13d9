#include "measure/clip/motion_window.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace guardband::measure {
namespace {

/// A cell counts if it changes by this share of what the liveliest tenth does.
constexpr float moving_share = 0.25F;
/// What sums are at least, so that their logarithm exists: rounding of a cell.
constexpr double floor_energy = CombEnergy::cell_samples;

/// As for the votes of `Interlace`: motion or order over its own scatter, and per frame, in cells' shares.
constexpr double significant = 3.5, least_effect = 0.3;

double logarithm(double energy) { return std::log(energy + floor_energy); }

double mean_of(const Grid<std::uint32_t>& columns) {
    const double samples = static_cast<double>(columns.cells.size()) * FrameFeatures::column_rows;
    return std::accumulate(columns.cells.begin(), columns.cells.end(), 0.0) / std::max(1.0, samples);
}

}  // namespace

bool MotionWindow::add(const FrameFeatures& features) {
    if (full_) full_ = false, count_ = 0, weave_ = {};
    const WeaveSums weave = summer_.add(features);
    if (!features.has_two_previous) return false;
    weave_ += weave;
    Stored& now = stored_[count_++];
    for (std::size_t parity = 0; parity < 2; ++parity) {
        now.change[parity] = features.steady_change[parity].cells;  // same size each time: no allocation
        now.across[parity] = features.texture[parity].across.cells;
        now.along[parity] = features.texture[parity].along.cells;
        now.brightness[parity] = mean_of(features.column_sums[parity]);
    }
    now.own = features.own.cells.cells;
    now.top_with_previous_bottom = features.top_with_previous_bottom.cells.cells;
    now.bottom_with_previous_top = features.bottom_with_previous_top.cells.cells;
    cells_ = std::min({now.change[0].size(), now.change[1].size(), now.own.size()});
    return full_ = count_ == frames;
}

bool MotionWindow::moves() const {
    // Of two fields of one moment that lie in two frames, the order stands out and not the motion.
    return (weave_.significance() >= significant && weave_.motion >= least_effect * weave_.frames) ||
           (std::abs(weave_.order_significance()) >= significant &&
            std::abs(weave_.order) >= least_effect * weave_.frames);
}

void MotionWindow::choose_cells() {
    motion_.assign(cells_, 0);
    for (std::size_t i = 0; i < count_; ++i)
        for (std::size_t c = 0; c < cells_; ++c) motion_[c] += stored_[i].change[0][c] + stored_[i].change[1][c];
    moving_.clear();
    if (cells_ == 0) return;
    scratch_ = motion_;
    const auto ninth = scratch_.begin() + static_cast<std::ptrdiff_t>(scratch_.size() * 9 / 10);
    std::ranges::nth_element(scratch_, ninth);
    for (std::size_t c = 0; c < cells_; ++c)
        if (motion_[c] >= moving_share * *ninth) moving_.push_back(static_cast<std::uint32_t>(c));
}

double MotionWindow::sum(const std::vector<float>& cells) const {
    double total = 0;
    for (const std::uint32_t c : moving_) total += static_cast<double>(cells[c]);
    return total;
}

MotionSeries MotionWindow::fields(bool bottom_first) {
    choose_cells();
    MotionSeries series;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        for (const bool second : {false, true}) {
            const std::size_t parity = bottom_first != second ? 1 : 0;
            series.change.push_back(logarithm(sum(now.change[parity])));
            series.across.push_back(logarithm(sum(now.across[parity])));
            series.along.push_back(logarithm(sum(now.along[parity])));
            series.brightness.push_back(std::log(std::max(1.0, now.brightness[parity] - black_)));
            const auto& comb = second         ? now.own
                               : bottom_first ? now.bottom_with_previous_top
                                              : now.top_with_previous_bottom;
            series.comb.push_back(logarithm(sum(comb)));
        }
    }
    return series;
}

MotionSeries MotionWindow::whole_frames() {
    choose_cells();
    MotionSeries series;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        series.change.push_back(logarithm(sum(now.change[0]) + sum(now.change[1])));
        series.across.push_back(logarithm(sum(now.across[0]) + sum(now.across[1])));
        series.along.push_back(logarithm(sum(now.along[0]) + sum(now.along[1])));
        series.brightness.push_back(std::log(std::max(1.0, (now.brightness[0] + now.brightness[1]) / 2 - black_)));
    }
    return series;
}

double MotionWindow::across_frames(bool bottom_first) const {
    double own = 0, near = 0, far = 0;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        own += sum(now.own);
        near += sum(bottom_first ? now.bottom_with_previous_top : now.top_with_previous_bottom);
        far += sum(bottom_first ? now.top_with_previous_bottom : now.bottom_with_previous_top);
    }
    return far > near ? (own - near) / (far - near) : 0;
}

}  // namespace guardband::measure
