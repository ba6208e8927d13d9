#include "measure/clip/conversion_fit.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using Series = std::vector<double>;

/// Phases tried, in parts of a picture of the source.
constexpr int phases = 15;
/// Series shorter than this hold too few turns of the pattern.
constexpr std::size_t fewest_pictures = 20;
/// Values further than this many medians of the deviation from what is around them count as if they lay there.
constexpr double outlier = 5;
/// What must stand out of its scatter; the chance of it is below 10^-8 for each pattern tried.
constexpr double significant = 6, confirming = 3;
/// Logarithms of the least effect. A step of three fields among those of two changes by 1.17 where the picture moves by
/// 8 samples a field, more where it moves less; mixing takes 20 % of the detail from it at 2 samples and 30 dB, 3 % at
/// half a sample without noise.
constexpr double least_step = 0.08, least_blend = 0.012;
/// A brightness that goes with the pattern by this share of the effect is a flicker.
constexpr double most_flicker = 0.15;

/// Takes out what is slower than the pattern and what differs between the parities.
Series levelled(const Series& in, std::size_t turn, bool fields) {
    Series out(in.size());
    const std::size_t length = std::min(in.size(), 2 * turn);
    for (std::size_t i = 0; i < in.size(); ++i) {
        const std::size_t from = std::min(i > length / 2 ? i - length / 2 : 0, in.size() - length);
        double mean = 0;
        for (std::size_t k = from; k < from + length; ++k) mean += in[k];
        out[i] = in[i] - mean / static_cast<double>(length);
    }
    const std::size_t step = fields ? 2 : 1;
    for (std::size_t parity = 0; parity < step; ++parity) {
        double mean = 0, count = 0;
        for (std::size_t i = parity; i < out.size(); i += step) mean += out[i], ++count;
        for (std::size_t i = parity; i < out.size(); i += step) out[i] -= mean / count;
    }
    return out;
}

void hold_outliers(Series& values) {
    Series sizes(values.size());
    std::ranges::transform(values, sizes.begin(), [](double v) { return std::abs(v); });
    const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
    std::ranges::nth_element(sizes, middle);
    const double most = outlier * *middle;
    for (double& v : values) v = std::clamp(v, -most, most);
}

struct Match {
    double significance = 0, slope = 0;
};

/// How strongly `values` go with `pattern`.
Match match(const Series& values, const Series& pattern) {
    double vv = 0, vp = 0, pp = 0;
    for (std::size_t i = 0; i < values.size(); ++i)
        vv += values[i] * values[i], vp += values[i] * pattern[i], pp += pattern[i] * pattern[i];
    if (vv <= 0 || pp <= 0) return {};
    const double r = vp / std::sqrt(vv * pp);
    // A quarter of the degrees of freedom went with what was taken out.
    const double freedom = 0.75 * static_cast<double>(values.size());
    return {r * std::sqrt(freedom / std::max(1e-9, 1 - r * r)), vp / pp};
}

/// What is the difference of the two fields of a frame, less the same of all.
Series within_frames(const Series& values) {
    Series out;
    for (std::size_t i = 0; i + 1 < values.size(); i += 2) out.push_back(values[i + 1] - values[i]);
    double mean = 0;
    for (const double v : out) mean += v / static_cast<double>(out.size());
    for (double& v : out) v -= mean;
    return out;
}

class Fitter {
public:
    Fitter(const MotionSeries& series, double ratio, bool fields)
        : ratio_(ratio), fields_(fields), turn_(ratio > 1 ? 5 : 6), count_(series.change.size()) {
        change_ = ready(series.change), across_ = ready(series.across), along_ = ready(series.along);
        if (fields) comb_ = ready(series.comb);
        brightness_ = levelled(series.brightness, turn_, fields);
    }

    std::optional<ConversionFit> best() {
        std::optional<ConversionFit> found;
        const auto offer = [&found](const std::optional<ConversionFit>& fit) {
            if (fit && (!found || fit->significance > found->significance)) found = fit;
        };
        for (int phase = 0; phase < phases; ++phase) {
            const double d = static_cast<double>(phase) / phases;
            offer(blend(d, across_)), offer(blend(d, along_));
            if (fields_) offer(steps(d));
        }
        return found;
    }

private:
    Series ready(const Series& in) const {
        Series out = levelled(in, turn_, fields_);
        hold_outliers(out);
        return out;
    }

    template <typename Value>
    Series pattern(const Value& value) const {
        Series out(count_);
        for (std::size_t n = 0; n < count_; ++n) out[n] = value(static_cast<double>(n));
        return levelled(out, turn_, fields_);
    }

    bool flickers(const Series& shape, double slope) const {
        // Detail goes with the square of the brightness.
        return 2 * std::abs(match(brightness_, shape).slope) > most_flicker * std::abs(slope);
    }

    std::optional<ConversionFit> blend(double d, const Series& detail) const {
        const Series shape = pattern([&](double n) {
            const double place = n * ratio_ + d, f = place - std::floor(place);
            return -f * (1 - f);
        });
        const Match found = match(detail, shape);
        const double effect = found.slope / 4;  // f (1 - f) reaches a quarter
        if (found.significance < significant || effect < least_blend || flickers(shape, found.slope))
            return std::nullopt;
        if (fields_ && match(within_frames(detail), within_frames(shape)).significance < confirming)
            return std::nullopt;
        return ConversionFit{ConversionFit::Method::Blend, found.significance, effect};
    }

    std::optional<ConversionFit> steps(double d) const {
        const auto shown = [&](double n) { return std::floor(n * ratio_ + d); };
        const Series shape = pattern([&](double n) { return std::log(shown(n) - shown(n - 2)); });
        const Match found = match(change_, shape);
        const double effect = found.slope * std::log(ratio_ > 1 ? 1.5 : 2);
        if (found.significance < significant || effect < least_step || flickers(shape, found.slope))
            return std::nullopt;
        const Series neighbours = pattern([&](double n) { return shown(n) - shown(n - 1); });
        if (match(comb_, neighbours).significance < confirming) return std::nullopt;
        return ConversionFit{ConversionFit::Method::Steps, found.significance, effect};
    }

    double ratio_;
    bool fields_;
    std::size_t turn_, count_;
    Series change_, comb_, across_, along_, brightness_;
};

}  // namespace

std::optional<ConversionFit> fit_conversion(const MotionSeries& series, double ratio, bool fields) {
    if (series.change.size() < fewest_pictures) return std::nullopt;
    return Fitter(series, ratio, fields).best();
}

}  // namespace guardband::measure
