#include "dsp/uneven_sines.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <optional>

#include "dsp/cholesky.h"
#include "dsp/fft.h"
#include "dsp/maximum.h"
#include "dsp/noise_level.h"

namespace guardband::dsp {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr double grid_per_rate = 4, finer = 2;
/// The noise around a rate is itself known to some tenths only.
constexpr double noise_margin = 1.3;
constexpr std::size_t fewest_values = 32;
constexpr int rounds_of_one = 4, rounds_together = 2;

double mean_of(std::span<const double> values) {
    double sum = 0;
    for (const double one : values) sum += one;
    return values.empty() ? 0 : sum / static_cast<double>(values.size());
}

/// Normal equations of a linear least squares fit.
class NormalEquations {
public:
    explicit NormalEquations(std::size_t unknowns) : n_(unknowns), matrix_(n_ * n_), right_(n_) {}

    void add(const std::vector<double>& row, double value) {
        for (std::size_t i = 0; i < n_; ++i) {
            right_[i] += row[i] * value;
            double* line = &matrix_[i * n_];
            for (std::size_t j = 0; j <= i; ++j) line[j] += row[i] * row[j];
        }
    }

    /// Nothing where the unknowns can't be told apart.
    std::optional<Cholesky> factor() const { return Cholesky::of(matrix_, n_); }
    const std::vector<double>& right() const { return right_; }

private:
    std::size_t n_;
    std::vector<double> matrix_, right_;
};

/// One round of Gauss and Newton over all sines and a mean. False where they can't be told apart.
bool improve(const UnevenSeries& series, std::vector<Sine>& sines, bool hz_free, double middle_s) {
    const std::size_t per_sine = hz_free ? 3 : 2, unknowns = per_sine * sines.size() + 1;
    NormalEquations equations(unknowns);
    std::vector<double> row(unknowns, 1.0);
    double squares = 0;
    for (std::size_t n = 0; n < series.values.size(); ++n) {
        const double t = series.times_s[n];
        double off = series.values[n];
        for (std::size_t i = 0; i < sines.size(); ++i) {
            const double phase = turn * sines[i].hz * t, c = std::cos(phase), s = std::sin(phase);
            off -= sines[i].cosine * c + sines[i].sine * s;
            row[per_sine * i] = c, row[per_sine * i + 1] = s;
            // About the middle, so that rate and phase are told apart.
            if (hz_free) row[per_sine * i + 2] = turn * (t - middle_s) * (sines[i].sine * c - sines[i].cosine * s);
        }
        squares += off * off;
        equations.add(row, off);
    }
    const auto left_free = static_cast<double>(series.values.size()) - static_cast<double>(unknowns);
    const auto factor = left_free < 1 ? std::nullopt : equations.factor();
    if (!factor) return false;
    const std::vector<double> step = factor->solve(equations.right());
    double explained = 0;
    for (std::size_t i = 0; i < unknowns; ++i) explained += step[i] * equations.right()[i];
    const double variance = std::max(0.0, squares - explained) / left_free;
    for (std::size_t i = 0; i < sines.size(); ++i) {
        Sine& sine = sines[i];
        sine.cosine += step[per_sine * i], sine.sine += step[per_sine * i + 1];
        sine.amplitude_error = std::sqrt(variance * factor->inverse_at(per_sine * i));
        if (!hz_free) continue;
        // A rate that turns about the middle: the phase at time 0 goes with it.
        const double change = step[per_sine * i + 2], turned = -turn * change * middle_s;
        const double cosine = sine.cosine, other = sine.sine;
        sine.cosine = cosine * std::cos(turned) + other * std::sin(turned);
        sine.sine = other * std::cos(turned) - cosine * std::sin(turned);
        sine.hz += change;
        sine.hz_error = std::sqrt(variance * factor->inverse_at(per_sine * i + 2));
    }
    return true;
}

double middle_of(const UnevenSeries& series) {
    return series.times_s.empty() ? 0 : (series.times_s.front() + series.times_s.back()) / 2;
}

/// A first amplitude and phase, so that a step of the rate means something.
bool start(const UnevenSeries& series, std::vector<Sine>& sines) {
    for (Sine& sine : sines) sine.cosine = sine.sine = 0;
    return improve(series, sines, false, middle_of(series));
}

struct Spectrum {
    double bin_hz = 0;
    std::vector<float> power;
};

Spectrum spectrum_of(const UnevenSeries& series, double high_hz) {
    const double rate_hz = grid_per_rate * high_hz, first_s = series.times_s.front();
    const double seconds = series.times_s.back() - first_s;
    const auto length = fast_length(static_cast<std::size_t>(std::ceil(finer * (seconds * rate_hz + 2))));
    std::vector<float> grid(length);
    const double mean = mean_of(series.values);
    for (std::size_t i = 0; i < series.values.size(); ++i) {
        const double place = (series.times_s[i] - first_s) * rate_hz;
        const auto whole = static_cast<std::size_t>(std::max(0.0, place));
        const double part = place - static_cast<double>(whole), value = series.values[i] - mean;
        if (whole + 1 >= length) continue;
        grid[whole] += static_cast<float>((1 - part) * value), grid[whole + 1] += static_cast<float>(part * value);
    }
    const RealFft fft(length);
    std::vector<std::complex<float>> bins(fft.bins());
    fft.forward(grid, bins);
    Spectrum out{rate_hz / static_cast<double>(length), std::vector<float>(bins.size())};
    std::ranges::transform(bins, out.power.begin(), [](const auto& bin) { return std::norm(bin); });
    return out;
}

}  // namespace

double Sine::amplitude() const { return std::hypot(cosine, sine); }

double Sine::at(double time_s) const {
    return cosine * std::cos(turn * hz * time_s) + sine * std::sin(turn * hz * time_s);
}

Sine fit_sine(const UnevenSeries& series, double hz, bool hz_free) {
    std::vector<Sine> one(1);
    one.front().hz = hz;
    if (series.values.size() < 5 || !start(series, one) || !hz_free) return one.front();
    const Sine kept = one.front();
    const double most = 1 / std::max(1e-9, series.times_s.back() - series.times_s.front());
    for (int round = 0; round < rounds_of_one; ++round)
        if (!improve(series, one, true, middle_of(series)) || std::abs(one.front().hz - hz) > most) return kept;
    return one.front();
}

std::optional<Sine> strongest_sine(const UnevenSeries& series, const SineSearch& search) {
    if (series.values.size() < fewest_values || search.high_hz <= search.low_hz) return std::nullopt;
    const double seconds = series.times_s.back() - series.times_s.front();
    const Spectrum spectrum = spectrum_of(series, search.high_hz);
    const auto first = static_cast<std::size_t>(std::max(1.0, std::ceil(search.low_hz / spectrum.bin_hz)));
    const auto end =
        std::min(spectrum.power.size() - 1, static_cast<std::size_t>(std::floor(search.high_hz / spectrum.bin_hz)) + 1);
    if (first + fewest_values > end) return std::nullopt;
    const std::vector<float> noise = noise_level(logarithms(std::span(spectrum.power).first(end + 1)), 1);
    const double tries = std::max(1.0, (search.high_hz - search.low_hz) * seconds);
    const auto least = static_cast<float>(noise_margin * std::log(tries / search.false_alarm));
    std::size_t best = 0;
    for (std::size_t k = first; k < end; ++k) {
        const float power = spectrum.power[k];
        if (power < spectrum.power[k - 1] || power < spectrum.power[k + 1] || power < least * noise[k]) continue;
        if (best == 0 || power > spectrum.power[best]) best = k;
    }
    if (best == 0) return std::nullopt;
    const double offset =
        parabola_offset(static_cast<double>(spectrum.power[best - 1]), static_cast<double>(spectrum.power[best]),
                        static_cast<double>(spectrum.power[best + 1]));
    return fit_sine(series, (static_cast<double>(best) + offset) * spectrum.bin_hz);
}

void fit_together(const UnevenSeries& series, std::vector<Sine>& sines, std::vector<double>& left) {
    left = series.values;
    if (sines.empty() || series.values.size() < 5 * sines.size()) return;
    std::vector<Sine> together = sines;
    bool done = start(series, together);
    for (int round = 0; done && round < rounds_together; ++round)
        done = improve(series, together, true, middle_of(series));
    if (done) sines = together;
    for (std::size_t n = 0; n < left.size(); ++n)
        for (const Sine& sine : sines) left[n] -= sine.at(series.times_s[n]);
}

}  // namespace guardband::dsp
