#include "measure/clip/step_coherence.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

#include "dsp/window.h"

namespace guardband::measure {
namespace {

constexpr std::size_t energy_reach = 8;
constexpr float rounding_energy = 0.5;  // squared codes of the clip
constexpr double pi = std::numbers::pi;

/// Samples over the root of the mean energy of those up to `energy_reach` away.
void even_out(std::span<const float> samples, std::span<float> out) {
    const std::size_t n = samples.size();
    double energy = 0;
    std::size_t first = 0, end = 0;
    for (std::size_t i = 0; i < n; ++i) {
        for (; end < std::min(n, i + energy_reach + 1); ++end)
            energy += static_cast<double>(samples[end] * samples[end]);
        for (; first + energy_reach < i; ++first) energy -= static_cast<double>(samples[first] * samples[first]);
        const auto mean = static_cast<float>(std::max(0.0, energy) / static_cast<double>(end - first));
        out[i] = samples[i] / std::sqrt(mean + rounding_energy);
    }
}

/// By distance: the mean of the products, and their part at one rate, as seen from the middle of the two samples.
struct Course {
    std::array<double, 8> mean{};
    std::array<std::complex<double>, 8> at_rate{};
};

Course course(const std::array<const std::vector<float>*, 8>& products, std::size_t first, std::size_t stride,
              double cycles) {
    Course found;
    const std::size_t count = (products[0]->size() - first + stride - 1) / stride;
    const std::vector<float> window = dsp::hann(count);
    const double weight = std::accumulate(window.begin(), window.end(), 0.0);
    for (std::size_t lag = 0; lag < products.size(); ++lag) {
        const auto value = [&](std::size_t i) { return static_cast<double>((*products[lag])[first + i * stride]); };
        for (std::size_t i = 0; i < count; ++i) found.mean[lag] += value(i) / static_cast<double>(count);
        const std::complex<double> step = std::polar(1.0, -2 * pi * cycles);
        std::complex<double> turn = std::polar(1.0, -pi * cycles * static_cast<double>(lag));
        for (std::size_t i = 0; i < count; ++i, turn *= step)
            found.at_rate[lag] += static_cast<double>(window[i]) * (value(i) - found.mean[lag]) * turn;
        found.at_rate[lag] /= weight;
    }
    return found;
}

/// Spectrum at one frequency of what has such means of products.
double spectrum(const std::array<double, 8>& by_lag, double cycles) {
    double sum = by_lag[0];
    for (std::size_t lag = 1; lag < by_lag.size(); ++lag) {
        const auto k = static_cast<double>(lag);
        const double taper = 0.5 + 0.5 * std::cos(pi * k / static_cast<double>(by_lag.size()));
        sum += 2 * taper * by_lag[lag] * std::cos(2 * pi * cycles * k);
    }
    return sum;
}

/// Of all the courses together, each seen from where its own trace begins. Around 0 and around a half.
std::array<double, 2> coherence(std::span<const Course> courses, double cycles) {
    std::array<double, 8> coherent{}, all{};
    for (const Course& one : courses) {
        const double amplitude = std::abs(one.at_rate[0]);
        for (std::size_t lag = 0; lag < all.size(); ++lag) {
            all[lag] += one.mean[lag];
            if (amplitude > 0) coherent[lag] += (one.at_rate[lag] * std::conj(one.at_rate[0])).real() / amplitude;
        }
    }
    const auto share = [&](double middle) {
        const double here = spectrum(all, middle + cycles / 2), there = spectrum(all, middle - cycles / 2);
        const double power = std::sqrt(std::max(0.0, here) * std::max(0.0, there));
        return power > 0 ? spectrum(coherent, middle) / power : 0;
    };
    return {share(0), share(0.5)};
}

}  // namespace

StepCoherence::StepCoherence(std::size_t places) : places_(places), even_(places) {
    products_.fill(std::vector<float>(places));
}

void StepCoherence::add(std::span<const float> samples) {
    if (samples.size() < places_) return;
    even_out(samples.first(places_), even_);
    for (std::size_t i = 0; i < distances.size(); ++i) {
        if (distances[i] >= places_) break;
        float* sums = products_[i].data();
        const float *here = even_.data(), *there = here + distances[i];
        const std::size_t count = places_ - distances[i];
        for (std::size_t place = 0; place < count; ++place) sums[place] += here[place] * there[place];
    }
}

StepCoherence::Reading StepCoherence::reading(double cycles, std::size_t stride) const {
    std::array<const std::vector<float>*, lags> products{};
    for (std::size_t lag = 0; lag < lags; ++lag) {
        const auto at = std::ranges::find(distances, lag * stride);
        products[lag] = &products_[static_cast<std::size_t>(at - distances.begin())];
    }
    const auto at = [&](double rate) {
        std::array<Course, 2> courses;
        for (std::size_t first = 0; first < stride; ++first) courses[first] = course(products, first, stride, rate);
        return coherence(std::span(courses).first(stride), rate);
    };
    const auto [zero, half] = at(cycles);
    double squares = 0, count = 0;
    for (const int aside : {-7, -5, -3, 3, 5, 7}) {
        const double rate =
            cycles + static_cast<double>(aside) * static_cast<double>(stride) / static_cast<double>(places_);
        if (rate <= 0 || rate >= 0.5) continue;
        for (const double one : at(rate)) squares += one * one, ++count;
    }
    return {zero, half, std::sqrt(squares / std::max(1.0, count))};
}

StepCoherence::Reading StepCoherence::every_place(double cycles) const { return reading(cycles, 1); }

StepCoherence::Reading StepCoherence::every_second_place(double cycles) const { return reading(cycles, 2); }

}  // namespace guardband::measure
