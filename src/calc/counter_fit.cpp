#include "calc/counter_fit.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <set>
#include <utility>

#include "quantity/errors.h"
#include "quantity/quantity.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using std::numbers::sqrt3;

constexpr double least_sigma_s = 0.01;     // no clock at a counter is better; keeps weights finite
constexpr double contradiction_ratio = 3;  // of standard uncertainties: three in a thousand by chance
constexpr int pairs_over_table = 3;        // from here on pairs that contradict the table stand alone
constexpr double least_freedom = 0.5;      // below, residuals are too small to tell a scatter

/// Standard uncertainties (with Student's factor) that a pair must be off to be doubted, by the degrees of freedom of
/// the others from 2 on: what chance brings about once in 1000 pairs. SciPy: t.ppf(1 - 0.001 / 2, v) over the factor
/// below.
constexpr int least_freedom_for_doubt = 2;
constexpr std::array doubt_ratio{23.9, 10.8, 7.5, 6.2, 5.5, 5.0, 4.7, 4.5, 4.4, 4.2};

constexpr int most_rounds = 50;           // the fit settles in four or five
constexpr double settled_scatter = 1e-9;  // of the scatter
constexpr double settled_share = 1e-13;   // of the parameters, from one round to the next

/// Student's factor for a coverage of 68.27 %, by degrees of freedom from 1 on; JCGM 100:2008, table G.2, prints it to
/// two decimals (from memory). Worked out by SciPy: t.ppf(0.5 + 0.6826894921 / 2, v). Beyond ten it is 1.05 and
/// falling.
constexpr std::array student_factor{1.837, 1.321, 1.197, 1.142, 1.111, 1.091, 1.077, 1.067, 1.059, 1.053};

double student(double freedom) {
    const auto whole = static_cast<std::size_t>(std::clamp<double>(freedom, 1, student_factor.size()));
    return student_factor.at(whole - 1);
}

double doubt_from(double freedom) {
    const auto whole = static_cast<std::size_t>(freedom) - least_freedom_for_doubt;
    return doubt_ratio.at(std::min(whole, doubt_ratio.size() - 1));
}

double pair_sigma_s(const CounterPair& pair, const CounterCurve& curve) {
    const double of_reading = seconds_per_count(curve, pair.reading) * pair.reading_half_width / sqrt3;
    return std::max(least_sigma_s, std::hypot(of_reading, pair.time_half_width_s / sqrt3));
}

/// A symmetric 2 × 2 matrix.
struct Matrix {
    double aa = 0, ab = 0, bb = 0;

    double determinant() const { return aa * bb - ab * ab; }
    Matrix inverse() const { return {bb / determinant(), -ab / determinant(), aa / determinant()}; }
    void add(double a, double b) { aa += a * a, ab += a * b, bb += b * b; }
};

/// Least squares in the start and the bend of the curve (Gauss and Newton). Readings and times are scaled to 1 at their
/// largest, so that both parameters are of the order of 1.
class LeastSquares {
public:
    LeastSquares(std::span<const CounterPair> pairs, const std::optional<KnownBend>& known)
        : pairs_(pairs), known_(known) {
        for (const CounterPair& pair : pairs) {
            reading_scale_ = std::max(reading_scale_, pair.reading);
            time_scale_ = std::max(time_scale_, pair.time_s);
        }
    }

    CounterFit fit() {
        curve_ = first_curve();
        settle();
        for (int round = 0; round < most_rounds; ++round) {
            const double before = std::exchange(scatter_, std::max(1.0, scatter()));
            settle();
            if (std::abs(scatter_ - before) < settled_scatter * scatter_) break;
        }
        expect_curve();
        return result();
    }

private:
    CounterCurve first_curve() const {
        const CounterPair& last = *std::ranges::max_element(pairs_, {}, &CounterPair::reading);
        const double bend = known_ ? known_->bend_per_s : 0;
        const double root = std::sqrt(std::max(0.0, 1 + 4 * bend * last.time_s));
        return {2 * last.time_s / (last.reading * (1 + root)), bend};
    }

    void settle() {
        for (int round = 0; round < most_rounds && !improve();) ++round;
    }

    double sigma_s(const CounterPair& pair) const { return scatter_ * pair_sigma_s(pair, curve_); }
    double residual_s(const CounterPair& pair) const {
        const double straight = curve_.start_s * pair.reading;
        return pair.time_s - straight * (1 + curve_.bend_per_s * straight);
    }

    /// Calls `observe(by start, by bend, residual)` for each observation, all over its standard uncertainty.
    template <typename Observe>
    void for_each_observation(Observe observe) const {
        for (const CounterPair& pair : pairs_) {
            const double sigma = sigma_s(pair), straight = curve_.start_s * pair.reading;
            observe(by_start(pair.reading) * start_scale() / sigma, straight * straight * bend_scale() / sigma,
                    residual_s(pair) / sigma);
        }
        if (known_)
            observe(0.0, bend_scale() / known_->standard_uncertainty,
                    (known_->bend_per_s - curve_.bend_per_s) / known_->standard_uncertainty);
    }

    /// One step; true when it has settled.
    bool improve() {
        Matrix normal;
        double right_a = 0, right_b = 0;
        for_each_observation([&](double by_a, double by_b, double residual) {
            normal.add(by_a, by_b);
            right_a += by_a * residual, right_b += by_b * residual;
        });
        inverse_ = normal.inverse();
        const double start_step = inverse_.aa * right_a + inverse_.ab * right_b,
                     bend_step = inverse_.ab * right_a + inverse_.bb * right_b;
        curve_.start_s += start_step * start_scale(), curve_.bend_per_s += bend_step * bend_scale();
        return std::hypot(start_step, bend_step) < settled_share;
    }

    /// Pairs, less the parameters that they and not the known bend determine.
    double freedom() const {
        const double of_known = known_ ? inverse_.bb * std::pow(bend_scale() / known_->standard_uncertainty, 2) : 0;
        return static_cast<double>(pairs_.size()) - 2 + of_known;
    }

    /// By how much the pairs scatter more than their roundings: √(χ²/ν); 0 where nothing is left over to tell.
    double scatter() const {
        if (freedom() < least_freedom) return 0;
        double squares = 0;
        for (const CounterPair& pair : pairs_) squares += std::pow(residual_s(pair) / pair_sigma_s(pair, curve_), 2);
        return std::sqrt(squares / freedom());
    }

    double start_scale() const { return time_scale_ / reading_scale_; }
    double bend_scale() const { return 1 / time_scale_; }
    /// dT/da, counts.
    double by_start(double reading) const { return reading * (1 + 2 * curve_.bend_per_s * curve_.start_s * reading); }

    void expect_curve() const {
        const bool advances =
            std::isfinite(curve_.bend_per_s) && curve_.start_s > 0 && seconds_per_count(curve_, reading_scale_) > 0;
        if (!advances)
            throw InputError("--calibrate", "no reel makes a counter run like these pairs",
                             "check readings and times: both start from 0 at the same place of the tape");
    }

    CounterFit result() {
        CounterFit fit;
        fit.curve = curve_;
        fit.uses_known_bend = known_.has_value();
        fit.degrees_of_freedom = freedom();
        for (const CounterPair& pair : pairs_) fit.residuals_s.push_back(residual_s(pair));
        if (freedom() >= least_freedom) fit.widening = std::max(1.0, student(freedom()) * scatter());
        scatter_ = fit.widening;
        improve();  // for its covariance: the step itself is nothing any more
        fit.start_variance = inverse_.aa * start_scale() * start_scale();
        fit.covariance = inverse_.ab * start_scale() * bend_scale();
        fit.bend_variance = inverse_.bb * bend_scale() * bend_scale();
        return fit;
    }

    std::span<const CounterPair> pairs_;
    const std::optional<KnownBend>& known_;
    double reading_scale_ = 0, time_scale_ = 0;
    CounterCurve curve_;
    Matrix inverse_;
    double scatter_ = 1;  ///< of the pairs, in units of their roundings
};

std::string text_of(const CounterPair& pair) {
    return fmt::format("{}={}", quantity::shortest(pair.reading), quantity::h_mm_ss(pair.time_s));
}

std::size_t different_readings(std::span<const CounterPair> pairs) {
    std::set<double> readings;
    for (const CounterPair& pair : pairs) readings.insert(pair.reading);
    return readings.size();
}

/// What two pairs can't both be right about, by more than their roundings.
void expect_order(std::span<const CounterPair> pairs) {
    for (const CounterPair& a : pairs)
        for (const CounterPair& b : pairs)
            if (a.reading + a.reading_half_width < b.reading - b.reading_half_width &&
                a.time_s - a.time_half_width_s > b.time_s + b.time_half_width_s)
                throw InputError("--calibrate " + text_of(b), "time runs backwards from " + text_of(a) + " to it",
                                 "check both; where the counter has passed its last figure and begun anew, add what it "
                                 "left out (1000 or 10000)");
}

void expect_usable(std::span<const CounterPair> pairs, bool bend_is_known) {
    for (const CounterPair& pair : pairs)
        if (!(pair.reading > 0) || !(pair.time_s > 0))
            throw InputError("--calibrate " + text_of(pair), "tells nothing of the curve, or can't be",
                             "give a reading above 0 and the time since the counter stood at 0");
    expect_order(pairs);
    if (pairs.empty() || (!bend_is_known && different_readings(pairs) < 2))
        throw InputError("--calibrate", "one reading alone does not tell how the counter slows down",
                         "give a second pair at another reading, or the diameter of the hub (--hub) and the thickness "
                         "of the tape (--thickness)");
}

/// How far the pairs' own bend lies from the known one, in standard uncertainties.
std::optional<double> contradiction(std::span<const CounterPair> pairs, const KnownBend& known) {
    if (different_readings(pairs) < 2) return std::nullopt;
    const CounterFit alone = LeastSquares(pairs, std::nullopt).fit();
    return std::abs(alone.curve.bend_per_s - known.bend_per_s) /
           std::hypot(std::sqrt(alone.bend_variance), known.standard_uncertainty);
}

/// By a contradiction that two pairs can't settle: either they or the table may be wrong.
void widen(CounterFit& fit, double ratio) {
    fit.widening *= ratio;
    for (double* variance : {&fit.start_variance, &fit.covariance, &fit.bend_variance}) *variance *= ratio * ratio;
}

/// The pair that the others bear out least, if it is too far off.
std::optional<DoubtfulPair> doubtful_pair(std::span<const CounterPair> pairs, const std::optional<KnownBend>& known) {
    constexpr std::size_t least_pairs = 4;  // fewer leave no two degrees of freedom to the others
    if (pairs.size() < least_pairs) return std::nullopt;
    std::optional<DoubtfulPair> worst;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        std::vector<CounterPair> others(pairs.begin(), pairs.end());
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
        if (different_readings(others) < 2) continue;
        const CounterFit fit = LeastSquares(others, known).fit();
        if (fit.degrees_of_freedom < least_freedom_for_doubt) continue;
        if (pairs[i].reading > highest_reading(fit.curve)) continue;
        const double off = pairs[i].time_s - counter_time_s(fit.curve, pairs[i].reading);
        const double sigma =
            std::hypot(curve_uncertainty_s(fit, pairs[i].reading), fit.widening * pair_sigma_s(pairs[i], fit.curve));
        if (std::abs(off) > doubt_from(fit.degrees_of_freedom) * sigma &&
            (!worst || std::abs(off) / sigma > worst->ratio))
            worst = DoubtfulPair{i, off, std::abs(off) / sigma, fit.curve};
    }
    return worst;
}

}  // namespace

CounterFit fit_counter(std::span<const CounterPair> pairs, const std::optional<KnownBend>& known) {
    expect_usable(pairs, known.has_value());
    const auto off = known ? contradiction(pairs, *known) : std::nullopt;
    const bool stands_alone = off && *off > contradiction_ratio && different_readings(pairs) >= pairs_over_table;
    const std::optional<KnownBend> used = stands_alone ? std::nullopt : known;
    CounterFit fit = LeastSquares(pairs, used).fit();
    if (off && *off > contradiction_ratio) {
        fit.bend_contradiction = off;
        if (used) widen(fit, *off);
    }
    fit.doubtful = doubtful_pair(pairs, used);
    return fit;
}

CounterFit fit_of_reel(const CounterCurve& curve, double start_variance, double covariance, double bend_variance) {
    CounterFit fit;
    fit.curve = curve;
    fit.start_variance = start_variance, fit.covariance = covariance, fit.bend_variance = bend_variance;
    fit.uses_known_bend = true;
    return fit;
}

double curve_uncertainty_s(const CounterFit& fit, double reading) {
    const double straight = fit.curve.start_s * reading;
    const double by_start = reading * (1 + 2 * fit.curve.bend_per_s * straight), by_bend = straight * straight;
    const double variance = by_start * by_start * fit.start_variance + 2 * by_start * by_bend * fit.covariance +
                            by_bend * by_bend * fit.bend_variance;
    return std::sqrt(std::max(0.0, variance));
}

double time_uncertainty_s(const CounterFit& fit, double reading, double reading_half_width) {
    const double of_reading = seconds_per_count(fit.curve, reading) * reading_half_width / sqrt3;
    return std::hypot(curve_uncertainty_s(fit, reading), fit.widening * of_reading);
}

}  // namespace guardband::calc
