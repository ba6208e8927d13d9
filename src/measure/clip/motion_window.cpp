#include "measure/clip/motion_window.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

/// A cell counts if it changes by this share of what the liveliest tenth does.
constexpr float moving_share = 0.25F;
/// What sums are at least, so that their logarithm exists: rounding of a cell.
constexpr double floor_energy = CombEnergy::cell_samples;

/// As for the votes of `Interlace`: motion or order over its own scatter, and per frame, in cells' shares.
constexpr double significant_motion = 3.5, least_effect = 0.3;

double logarithm(double energy) { return std::log(energy + floor_energy); }

/// A mean over its own scatter.
struct Scatter {
    double total = 0, squares = 0, count = 0;

    void add(double value) { total += value, squares += value * value, ++count; }
    double significance() const {
        const double variance = squares - total * total / std::max(1.0, count);
        return variance > 0 ? total / std::sqrt(variance) : 0;
    }
};
/// From here on a mean is no chance; in standard errors of it.
constexpr double plain = 8;
/// Two moments comb that much more than one, which combs by the picture's detail alone. Measured, of film: 1.6 and
/// more. Of interlaced pictures whose lines the two directions of movement suit unlike, as titles that roll by whole
/// lines: up to 1.4.
constexpr double least_more = 1.5;

/// Mean above black of the upper row of each pair that `FieldTexture` looks at.
void add_light(const FrameFeatures& features, int parity, double black, std::vector<float>& rows) {
    const auto& sums = features.segment_sums;
    rows.assign(static_cast<std::size_t>(features.texture[static_cast<std::size_t>(parity)].across.height), 1);
    for (std::size_t r = 0; r < rows.size(); ++r) {
        const int field_row = static_cast<int>(r) * CombEnergy::cell_rows + FieldTexture::first_of_pair;
        double sum = 0;
        for (const int row : {field_row, field_row + FieldTexture::pair_step})
            for (int x = 0; x < sums.width; ++x) sum += sums.at(x, 2 * row + parity);
        rows[r] = static_cast<float>(std::max(1.0, sum / std::max(1, 2 * sums.width * FrameFeatures::segment) - black));
    }
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
        add_light(features, static_cast<int>(parity), black_, now.brightness[parity]);
    }
    now.own = features.own.cells.cells;
    now.top_with_previous_bottom = features.top_with_previous_bottom.cells.cells;
    now.bottom_with_previous_top = features.bottom_with_previous_top.cells.cells;
    width_ = static_cast<std::size_t>(features.own.cells.width);
    cells_ = std::min({now.change[0].size(), now.change[1].size(), now.own.size()});
    return full_ = count_ == frames;
}

bool MotionWindow::moves() const {
    // Of two fields of one moment that lie in two frames, the order stands out and not the motion.
    return (weave_.significance() >= significant_motion && weave_.motion >= least_effect * weave_.frames) ||
           (std::abs(weave_.order_significance()) >= significant_motion &&
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

void MotionWindow::find_usual_light() {
    const std::size_t rows = width_ > 0 ? cells_ / width_ : 0;
    usual_light_.assign(rows, 0);
    for (std::size_t i = 0; i < count_; ++i)
        for (std::size_t r = 0; r < rows; ++r)
            usual_light_[r] += static_cast<double>(stored_[i].brightness[0][r] + stored_[i].brightness[1][r]) /
                               (2 * static_cast<double>(count_));
}

/// Mean logarithm over the cells that move, each as it would be in the light that is usual for each row: a filmed
/// screen shines up and down as it is scanned, and with the square of the light goes the detail.
double MotionWindow::detail(const Stored& frame, std::size_t parity, const std::vector<float>& cells) const {
    double total = 0;
    for (const std::uint32_t c : moving_) {
        const double gain = usual_light_[c / width_] / static_cast<double>(frame.brightness[parity][c / width_]);
        total += logarithm(gain * gain * static_cast<double>(cells[c]));
    }
    return total / static_cast<double>(std::max<std::size_t>(1, moving_.size()));
}

double MotionWindow::light(const Stored& frame, std::size_t parity) const {
    double total = 1;
    for (std::size_t r = 0; r < usual_light_.size(); ++r) total += static_cast<double>(frame.brightness[parity][r]);
    return total;
}

MotionSeries MotionWindow::fields(bool bottom_first) {
    choose_cells();
    find_usual_light();
    MotionSeries series;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        for (const bool second : {false, true}) {
            const std::size_t parity = bottom_first != second ? 1 : 0;
            series.change.push_back(logarithm(sum(now.change[parity])));
            series.across.push_back(detail(now, parity, now.across[parity]));
            series.along.push_back(detail(now, parity, now.along[parity]));
            series.brightness.push_back(std::log(light(now, parity)));
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
    find_usual_light();
    MotionSeries series;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        series.change.push_back(logarithm(sum(now.change[0]) + sum(now.change[1])));
        series.across.push_back((detail(now, 0, now.across[0]) + detail(now, 1, now.across[1])) / 2);
        series.along.push_back((detail(now, 0, now.along[0]) + detail(now, 1, now.along[1])) / 2);
        series.brightness.push_back(std::log(light(now, 0) + light(now, 1)));
    }
    return series;
}

bool MotionWindow::lies_across_frames(bool bottom_first) const {
    Scatter nearer, further;
    double all_near = 0, all_own = 0;
    for (std::size_t i = 0; i < count_; ++i) {
        const Stored& now = stored_[i];
        const double near = sum(bottom_first ? now.bottom_with_previous_top : now.top_with_previous_bottom);
        const double far = sum(bottom_first ? now.top_with_previous_bottom : now.bottom_with_previous_top);
        const double own = sum(now.own);
        nearer.add(own - near), further.add(far - near);
        all_near += near, all_own += own;
    }
    return nearer.significance() >= plain && further.significance() >= plain && all_own >= least_more * all_near;
}

}  // namespace guardband::measure
