#include "measure/clip/flicker_series.h"

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t cells = BrightnessGrid::cells;

// Light of a cell four 8-bit codes above black, (4 / 219)^(1 / 0.45). Below it an error of a code in the black level
// doubles the light.
constexpr float darkest_light = 1.4e-4F;
// A cell that is dark for more than half of the time is not used.
constexpr double least_lit_share = 0.5;

// A frame is left out when its cells change so many times more than is usual. Of normal noise, none in a million frames
// does.
constexpr double cut_factor = 6;
// But never more than this share of frames, so that flicker of short flashes is not taken for cuts. A cut every 1.3 s
// at 25 frames/s.
constexpr double most_cuts_share = 0.03;

// A picture is taken for a still, in which repeats say something, when this share of its frames are repeats.
constexpr double still_share = 0.5;

// Weights of time follow the activity over so many frames to either side, and stop rising at this share of the usual
// activity.
constexpr std::size_t activity_reach = 12;
constexpr double quiet_share = 0.3;

// Change that rounding to codes leaves even in a picture without noise, as a share of light.
constexpr double least_spread = 1e-6;

/// Change from one frame to the next, bounded: −2 … 2; 0 in the dark.
float bounded_change(float before, float now) {
    const float sum = before + now;
    return sum < 2 * darkest_light ? 0.0F : 2 * (now - before) / sum;
}

/// Spread of a cell's change over the usable frames; nothing, as 0, if it was dark for too many of them.
double spread_of(std::span<const float> change, std::span<const float> usable, std::span<const float> light,
                 std::vector<float>& scratch) {
    scratch.clear();
    std::size_t lit = 0;
    for (std::size_t n = 0; n < change.size(); ++n) {
        if (usable[n] == 0) continue;
        scratch.push_back(change[n]);
        lit += light[n] > darkest_light;
    }
    if (scratch.empty() || static_cast<double>(lit) < least_lit_share * static_cast<double>(scratch.size())) return 0;
    return std::max(dsp::spread(std::span<const float>(scratch)), least_spread);
}

/// Leaves out the frames in which far more changes than usual: cuts, flashes.
void leave_out_cuts(const std::vector<float>& activity, std::vector<float>& usable) {
    std::vector<float> used;
    for (std::size_t n = 0; n < activity.size(); ++n) {
        if (usable[n] != 0) used.push_back(activity[n]);
    }
    if (used.empty()) return;
    const double usual = dsp::median(std::span<const float>(used));
    const double limit = std::max(cut_factor * usual, dsp::quantile_in_place(std::span(used), 1 - most_cuts_share));
    for (std::size_t n = 0; n < activity.size(); ++n) {
        if (activity[n] > limit) usable[n] = 0;
    }
}

/// Weight of each frame by the mean activity around it, as for least squares of noise that strong.
std::vector<float> weights_of(const std::vector<float>& activity, const std::vector<float>& usable) {
    const std::size_t length = activity.size();
    std::vector<double> sum(length + 1, 0), count(length + 1, 0);
    for (std::size_t n = 0; n < length; ++n) {
        sum[n + 1] = sum[n] + static_cast<double>(usable[n]) * activity[n];
        count[n + 1] = count[n] + usable[n];
    }
    std::vector<double> local(length, -1), known;
    for (std::size_t n = 0; n < length; ++n) {
        const std::size_t from = n > activity_reach ? n - activity_reach : 0,
                          to = std::min(length, n + activity_reach + 1);
        if (count[to] - count[from] < 1) continue;
        local[n] = (sum[to] - sum[from]) / (count[to] - count[from]);
        known.push_back(local[n]);
    }
    std::vector<float> weights(length, 0.0F);
    if (known.empty()) return weights;
    const double usual = std::max(dsp::median(known), 1e-9), floor = quiet_share * usual;
    for (std::size_t n = 0; n < length; ++n) {
        if (local[n] >= 0) weights[n] = static_cast<float>(usual * usual / (local[n] * local[n] + floor * floor));
    }
    return weights;
}

/// Draws a straight line through stretches that can't be used, so that they do not ring through the spectrum.
void bridge(std::span<float> change, const std::vector<float>& usable) {
    const std::size_t length = change.size();
    for (std::size_t n = 0; n < length;) {
        if (usable[n] != 0) {
            ++n;
            continue;
        }
        std::size_t end = n;
        while (end < length && usable[end] == 0) ++end;
        const float before = n > 0 ? change[n - 1] : (end < length ? change[end] : 0.0F);
        const float after = end < length ? change[end] : before;
        const auto gap = static_cast<float>(end - n + 1);
        for (std::size_t i = n; i < end; ++i)
            change[i] = before + (after - before) * static_cast<float>(i - n + 1) / gap;
        n = end;
    }
}

/// Change of one cell as a share of its mean light, shot by shot: runs of frames between two that are left out. Not of
/// a running mean, which follows the picture: what moves to and fro would then seem to flicker, in all cells alike.
void relate_to_mean(std::span<const float> light, const std::vector<float>& usable, std::span<float> change) {
    for (std::size_t begin = 0, end = 0; begin < light.size(); begin = end) {
        for (end = begin + 1; end < light.size() && usable[end] != 0; ++end) {
        }
        double sum = 0;
        for (std::size_t n = begin; n < end; ++n) sum += light[n];
        const double mean = sum / static_cast<double>(end - begin);
        for (std::size_t n = begin + 1; n < end && mean > darkest_light; ++n) {
            change[n] = static_cast<float>((light[n] - light[n - 1]) / mean);
        }
    }
}

}  // namespace

FlickerSeries::FlickerSeries(std::size_t capacity)
    : capacity_(capacity), light_(cells * capacity), kinds_(capacity), positions_(capacity), pans_(capacity) {}

void FlickerSeries::add(std::span<const float> light, bool repeat, double position, double pan) {
    for (std::size_t c = 0; c < cells; ++c) light_[c * capacity_ + length_] = light[c];
    positions_[length_] = position, pans_[length_] = pan;
    kinds_[length_++] = repeat ? Kind::Repeat : Kind::Picture;
}

void FlickerSeries::add_gap() {
    for (std::size_t c = 0; c < cells; ++c) light_[c * capacity_ + length_] = 0;
    positions_[length_] = length_ > 0 ? positions_[length_ - 1] : 0;
    pans_[length_] = 0;
    kinds_[length_++] = Kind::Gap;
}

std::vector<float> FlickerSeries::comparable_frames() const {
    const auto repeats =
        std::count(kinds_.begin(), kinds_.begin() + static_cast<std::ptrdiff_t>(length_), Kind::Repeat);
    const bool still = static_cast<double>(repeats) > still_share * static_cast<double>(length_);
    std::vector<float> usable(length_, 0.0F);
    for (std::size_t n = 1; n < length_; ++n) {
        const bool seen = kinds_[n] != Kind::Gap && kinds_[n - 1] != Kind::Gap;
        usable[n] = seen && (still || kinds_[n] == Kind::Picture) ? 1.0F : 0.0F;
    }
    return usable;
}

/// How much each frame changes: change of each cell in units of its own usual change, and the median of that over the
/// cells. Finds the lit cells on the way.
std::vector<float> FlickerSeries::activity(const std::vector<float>& usable, LightChange& result) const {
    std::vector<float> changes, scratch, change(length_, 0.0F);
    for (std::size_t c = 0; c < cells; ++c) {
        const auto light = cell(c);
        for (std::size_t n = 1; n < length_; ++n) change[n] = bounded_change(light[n - 1], light[n]);
        const double spread = spread_of(change, usable, light, scratch);
        result.lit[c] = spread > 0;
        if (!result.lit[c]) continue;
        for (const float v : change) changes.push_back(std::abs(v) / static_cast<float>(spread));
    }
    std::vector<float> activity_of_frames(length_, 0.0F), values(length_ == 0 ? 0 : changes.size() / length_);
    for (std::size_t n = 1; n < length_ && !values.empty(); ++n) {
        for (std::size_t i = 0; i < values.size(); ++i) values[i] = changes[i * length_ + n];
        activity_of_frames[n] = static_cast<float>(dsp::quantile_in_place(std::span(values), 0.5));
    }
    return activity_of_frames;
}

LightChange FlickerSeries::change() const {
    LightChange result;
    result.length = length_;
    result.position.assign(positions_.begin(), positions_.begin() + static_cast<std::ptrdiff_t>(length_));
    result.pan.assign(pans_.begin(), pans_.begin() + static_cast<std::ptrdiff_t>(length_));
    std::vector<float> usable = comparable_frames();
    const std::vector<float> activity_of_frames = activity(usable, result);
    leave_out_cuts(activity_of_frames, usable);
    result.weight = weights_of(activity_of_frames, usable);
    result.change.assign(cells * length_, 0.0F);
    for (std::size_t c = 0; c < cells; ++c) {
        if (!result.lit[c]) continue;
        const auto change = std::span(result.change).subspan(c * length_, length_);
        relate_to_mean(cell(c), usable, change);
        bridge(change, usable);
    }
    result.bridged.resize(length_);
    for (std::size_t n = 0; n < length_; ++n) result.bridged[n] = 1 - usable[n];
    return result;
}

}  // namespace guardband::measure
