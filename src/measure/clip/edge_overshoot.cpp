#include "measure/clip/edge_overshoot.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int least_width = 320, least_height = 96, outer_px = 24, outer_lines = 8;
constexpr std::int64_t early_frames = 40, fewest_edges = 200, most_edges = 200'000;
constexpr int early_lines = 32, late_lines = 8, line_stride = 29;
/// A step: so high (8-bit codes), made within so many samples either side; flat from `flat_from` to `flat_end`.
constexpr float least_step = 36;
constexpr int half_width = 3, flat_from = 9, flat_end = 14;
/// A flat part varies by less than this share of the step from its greatest to its least value, and this many codes.
constexpr float most_uneven = 0.12F, most_uneven_codes = 16;
/// Lobes are looked for between these distances from the edge, samples.
constexpr double lobe_from = 0.4, lobe_end = 8;
constexpr std::int64_t sparse = 64;   ///< a place that fewer than one edge of so many has a sample at shows nothing
constexpr double alike_edges = 16;    ///< that neighbouring lines and frames show again
constexpr double most_uncertain = 3;  ///< % of the step

}  // namespace

EdgeOvershoot::EdgeOvershoot(const ClipContext& context)
    : usable_(context.info.picture.width >= least_width && context.info.picture.height >= least_height) {}

void EdgeOvershoot::see(const media::Frame& frame, const FrameFeatures&) {
    if (!usable_ || frame.damaged) return;
    const int lines = frames_ < early_frames ? early_lines : late_lines;
    const int stride = (frame.format.height - 2 * outer_lines) / lines;
    const int first = outer_lines + static_cast<int>(frames_ * line_stride % stride);
    for (int i = 0; i < lines && edges_ < most_edges; ++i) see_line(frame, first + i * stride);
    ++frames_;
}

void EdgeOvershoot::see_line(const media::Frame& frame, int y) {
    const media::PictureFormat& p = frame.format;
    const float scale = 1.0F / static_cast<float>(1 << (p.bit_depth - 8));
    line_.resize(static_cast<std::size_t>(p.width));
    const std::byte* row = frame.planes[0].row(y);
    if (p.bit_depth == 8)
        std::transform(reinterpret_cast<const std::uint8_t*>(row), reinterpret_cast<const std::uint8_t*>(row) + p.width,
                       line_.begin(), [](std::uint8_t code) { return static_cast<float>(code); });
    else
        std::transform(reinterpret_cast<const std::uint16_t*>(row),
                       reinterpret_cast<const std::uint16_t*>(row) + p.width, line_.begin(),
                       [scale](std::uint16_t code) { return scale * static_cast<float>(code); });
    const auto rise = [this](int x) {
        return std::abs(line_[static_cast<std::size_t>(x + half_width)] -
                        line_[static_cast<std::size_t>(x - half_width)]);
    };
    for (int x = outer_px + flat_end; x < p.width - outer_px - flat_end; ++x) {
        if (rise(x) < least_step || rise(x) < rise(x - 1) || rise(x) < rise(x + 1)) continue;
        see_edge(x);
        x += half_width;
    }
}

/// @param at  sample at which the step is about half way up
void EdgeOvershoot::see_edge(int at) {
    struct Flat {
        float mean = 0, least = 1e9F, most = -1e9F;
    };
    const auto flat = [&](int side) {
        Flat part;
        for (int i = flat_from; i < flat_end; ++i) {
            const float level = line_[static_cast<std::size_t>(at + side * i)];
            part.mean += level / (flat_end - flat_from);
            part.least = std::min(part.least, level), part.most = std::max(part.most, level);
        }
        return part;
    };
    const Flat before = flat(-1), after = flat(1);
    const float step = after.mean - before.mean;
    const float allowed = std::min(most_uneven * std::abs(step) + 2, most_uneven_codes);
    if (std::abs(step) < least_step || before.most - before.least > allowed || after.most - after.least > allowed)
        return;
    const float half = before.mean + step / 2;
    for (int x = at - half_width - 1; x <= at + half_width; ++x) {
        const float here = line_[static_cast<std::size_t>(x)], next = line_[static_cast<std::size_t>(x + 1)];
        if ((here - half) * step < 0 && (next - half) * step >= 0)
            return add(half_way_after(x, half), at, before.mean, step);
    }
}

/// Where the cubic through four samples passes a level that lies between the middle two: a straight line between these
/// would be off by a tenth of a sample on a steep edge, and smear what lies beside it.
/// @param x  the sample before
double EdgeOvershoot::half_way_after(int x, float half) const {
    const float* v = line_.data() + x;
    const auto level = [&](double t) {
        const double a = v[-1] - half, b = v[0] - half, c = v[1] - half, d = v[2] - half;
        return b + t * (c - a / 3 - b / 2 - d / 6 + t * ((a + c) / 2 - b + t * ((b - c) / 2 + (d - a) / 6)));
    };
    double low = 0, high = 1;
    const bool rises = v[1] > v[0];
    for (int i = 0; i < 10; ++i) {
        const double middle = (low + high) / 2;
        ((level(middle) < 0) == rises ? low : high) = middle;
    }
    return x + (low + high) / 2;
}

void EdgeOvershoot::add(double half_way, int at, float before, float step) {
    ++edges_;
    for (int x = at - flat_end + 1; x < at + flat_end; ++x) {
        const auto place = std::lround((x - half_way) * per_sample) + reach * per_sample;
        if (place < 0 || place >= static_cast<long>(places)) continue;
        const auto level = static_cast<double>((line_[static_cast<std::size_t>(x)] - before) / step);
        const auto i = static_cast<std::size_t>(place);
        sums_[i] += level, squares_[i] += level * level, ++counts_[i];
    }
}

double EdgeOvershoot::mean(std::size_t place) const {
    return sums_[place] / static_cast<double>(std::max<std::int64_t>(counts_[place], 1));
}

/// By how much the mean leaves the flat part about a place: by the parabola that fits two places on either side, so
/// that single places' noise counts little; but by no more than any of them does, or the corner of a hard edge would
/// seem to overshoot. Where edges stand at a few parts of a sample only, by the place's own.
/// @param after  against the flat part after the edge, upwards; else before it, downwards
double EdgeOvershoot::lobe(std::size_t place, bool after) const {
    const auto height = [&](int k) {
        const double level = mean(static_cast<std::size_t>(static_cast<int>(place) + k));
        return after ? level - 1 : -level;
    };
    const auto* counts = counts_.data() + place;
    if (std::any_of(counts - 2, counts + 3, [this](std::int64_t count) { return count * sparse < edges_; }))
        return height(0);
    double sum = 0, slope = 0, bend = 0, most = -1e9;
    for (int k = -2; k <= 2; ++k) {
        sum += height(k), slope += k * height(k), bend += k * k * height(k);
        most = std::max(most, height(k));
    }
    // Least squares: Σk² = 10, Σk⁴ = 34.
    const double curve = (bend - 2 * sum) / 14, tilt = slope / 10, middle = sum / 5 - 2 * curve;
    const double top = curve == 0 ? 0 : std::clamp(-tilt / (2 * curve), -1.0, 1.0);
    return std::min(middle + top * (tilt + top * curve), most);
}

/// By how much the mean leaves the flat part at most, on its far side; 0 if it does not.
double EdgeOvershoot::largest_lobe(bool after) const {
    double largest = 0;
    for (std::size_t i = 2; i + 2 < places; ++i) {
        const double distance = (static_cast<double>(i) / per_sample - reach) * (after ? 1 : -1);
        if (distance < lobe_from || distance > lobe_end || counts_[i] * sparse < edges_) continue;
        largest = std::max(largest, lobe(i, after));
    }
    return largest;
}

/// By how much the mean varies where edges count as flat: ringing that still goes on there, which the step's height
/// then isn't free of.
double EdgeOvershoot::unevenness() const {
    double uneven = 0;
    for (const int side : {-1, 1}) {
        double least = 1e9, most = -1e9;
        for (int at = flat_from * per_sample; at < (flat_end - 1) * per_sample; ++at) {
            const auto place = static_cast<std::size_t>(reach * per_sample + side * at);
            if (counts_[place] * sparse < edges_) continue;
            const double height = lobe(place, side > 0);
            least = std::min(least, height), most = std::max(most, height);
        }
        uneven = std::max(uneven, most - least);
    }
    return uneven;
}

void EdgeOvershoot::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    constexpr const char* too_few = "too few upright edges between flat areas";
    if (!usable_ || edges_ < fewest_edges) {
        figures.add("edge_overshoot", Figure::unknown(usable_ ? too_few : "the picture is too small"));
        return;
    }
    const double before = largest_lobe(false), after = largest_lobe(true);
    // The greatest of several means errs upwards by about the scatter of one.
    const std::size_t near = (reach + 3) * per_sample;
    const auto count = static_cast<double>(std::max<std::int64_t>(counts_[near], 1));
    const double scatter =
        std::sqrt(std::max(0.0, squares_[near] / count - mean(near) * mean(near)) * alike_edges / count);
    const double by_noise = 100 * scatter + 0.3;
    if (by_noise > most_uncertain) {
        figures.add("edge_overshoot", Figure::unknown(too_few));
        return;
    }
    // What is uneven by noise alone is in the scatter.
    const double by_ringing = 100 * std::max(0.0, unevenness() - 4 * scatter) / 2;
    figures.add("edge_overshoot",
                Figure::measured(100 * std::max(before, after), std::hypot(by_noise, by_ringing), "%")
                    .with_note(fmt::format("{:.1f} % before the edge, {:.1f} % after it; mean of {} edges",
                                           100 * before, 100 * after, edges_)));
}

}  // namespace guardband::measure
