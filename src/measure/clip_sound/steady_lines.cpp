#include "measure/clip_sound/steady_lines.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/maximum.h"
#include "dsp/noise_level.h"

namespace guardband::measure {
namespace {

constexpr double turn = 2 * std::numbers::pi;
/// The mean of the logarithm of exponentially distributed power lies this much below that of its mean; its standard
/// deviation is π/√6.
constexpr double log_bias = 0.5772156649, log_deviation = 1.2825498;
/// Pieces overlap by half under Hann's window: so much of their number is new.
constexpr double independent_share = 0.75;
/// Five standard deviations: once in a thousand bands of thousand bins by chance.
constexpr double certain_deviations = 5, least_excess = 1.1;
constexpr std::size_t most_lines = 30;
/// What a sampling clock wanders by itself within a clip, share.
constexpr double clock_uncertainty = 2e-8;
constexpr int line_reach = 2;  ///< bins to either side that a line fills under Hann's window

struct Floor {
    std::vector<float> power;  ///< mean power of the noise
    double threshold;          ///< by how much the logarithm must exceed it
};

Floor floor_of(const BandSpectrum& band) {
    Floor floor;
    std::vector<float> unbiased = band.log_power;
    floor.power = dsp::noise_level(unbiased, 1, {12, 1.3, 120});
    const double independent = std::max(1.0, independent_share * band.pieces);
    floor.threshold = std::max(least_excess, certain_deviations * log_deviation / std::sqrt(independent));
    return floor;
}

double excess(const BandSpectrum& band, const Floor& floor, std::size_t k) {
    return band.log_power[k] + log_bias - std::log(std::max(1e-30, static_cast<double>(floor.power[k])));
}

/// Power above the noise about a bin.
double line_power(const BandSpectrum& band, const Floor& floor, std::size_t k, double& centre) {
    double sum = 0, moment = 0;
    const auto first = static_cast<std::ptrdiff_t>(k) - line_reach, end = static_cast<std::ptrdiff_t>(k) + line_reach;
    for (auto bin = std::max<std::ptrdiff_t>(0, first);
         bin <= std::min(end, static_cast<std::ptrdiff_t>(band.log_power.size()) - 1); ++bin) {
        const auto b = static_cast<std::size_t>(bin);
        // Where the line is high, noise adds nothing to the mean of the logarithm; where there is no line it is all.
        const double here = std::exp(static_cast<double>(band.log_power[b]));
        const double noise = floor.power[b] * std::exp(-log_bias);
        const double power = here > 6 * noise ? here : std::max(0.0, here - noise);
        sum += power, moment += power * static_cast<double>(bin);
    }
    centre = sum > 0 ? moment / sum : static_cast<double>(k);
    return sum;
}

SteadyLine line_at(const BandSpectrum& band, const Floor& floor, std::size_t k) {
    SteadyLine line;
    double centre = 0;
    const double power = line_power(band, floor, k, centre);
    line.amplitude = std::sqrt(power / band.line_gain);
    line.above_noise = std::exp(excess(band, floor, k));
    line.coherence = band.coherence[k];
    constexpr double db_per_neper = 8.685889638, of_the_method_db = 0.1;
    line.level_uncertainty_db =
        std::hypot(of_the_method_db,
                   db_per_neper / std::sqrt(2 * line.above_noise * std::max(1.0, independent_share * band.pieces)));
    line.hz = band.hz(centre);
    const double pieces = std::max(1, band.pieces - 1);
    // What noise does to the place of a line's centre: half a bin over the root of its height, per piece.
    line.uncertainty_hz = 0.5 * band.step_hz / std::sqrt(line.above_noise * pieces) + 0.02 * band.step_hz;
    constexpr double steady = 0.5;
    if (line.coherence < steady) return line;
    // The mixed-down line advances by a whole number of turns and the rest that is seen. The centre tells the number.
    const std::size_t middle = band.log_power.size() / 2;
    const double mid_hz = band.hz(static_cast<double>(middle));
    const double expected = (line.hz - mid_hz) * band.hop_s;
    const double turns = std::round(expected - band.advance_turns[k]) + band.advance_turns[k];
    line.hz = mid_hz + turns / band.hop_s;
    const double from_coherence = (1 / (line.coherence * line.coherence) - 1) / 2;
    const double spread = std::sqrt(std::max(from_coherence, 0.5 / line.above_noise));
    // Loud moments of the programme weigh more than pieces by themselves would: no better than their number's root.
    line.uncertainty_hz = spread / (turn * band.hop_s) / std::sqrt(pieces) + clock_uncertainty * line.hz;
    return line;
}

}  // namespace

std::vector<SteadyLine> steady_lines(const BandSpectrum& band) {
    std::vector<SteadyLine> lines;
    if (band.log_power.size() < 8) return lines;
    const Floor floor = floor_of(band);
    for (std::size_t k = 2; k + 2 < band.log_power.size(); ++k) {
        const auto& p = band.log_power;
        if (p[k] < p[k - 1] || p[k] <= p[k + 1] || p[k] < p[k - 2] || p[k] < p[k + 2]) continue;
        if (excess(band, floor, k) > floor.threshold) lines.push_back(line_at(band, floor, k));
    }
    std::ranges::sort(lines, std::greater<>{}, &SteadyLine::above_noise);
    if (lines.size() > most_lines) lines.resize(most_lines);
    return lines;
}

SteadyLine wavering_line(const BandSpectrum& band, double width_hz) {
    SteadyLine best;
    const auto count = band.log_power.size();
    const auto width = static_cast<std::size_t>(std::max(1.0, std::round(width_hz / band.step_hz)));
    if (count < 4 * width + 8) return best;
    const Floor floor = floor_of(band);
    std::vector<double> above(count);
    for (std::size_t k = 0; k < count; ++k)
        above[k] = std::exp(static_cast<double>(band.log_power[k])) / (floor.power[k] * std::exp(-log_bias)) - 1;
    // The mean of a heap of pure noise scatters by this.
    const double scatter =
        log_deviation / std::sqrt(std::max(1.0, independent_share * band.pieces) * static_cast<double>(width) / 1.5);
    double sum = 0, highest = 0;
    std::size_t end = 0;
    for (std::size_t k = 0; k < count; ++k) {
        sum += above[k] - (k >= width ? above[k - width] : 0);
        if (k + 1 >= width && sum > highest) highest = sum, end = k + 1;
    }
    const double mean = highest / static_cast<double>(width);
    if (mean < std::max(certain_deviations * scatter, 0.3)) return best;
    const std::size_t from = end > 2 * width ? end - 2 * width : 0, to = std::min(count, end + width);
    double power = 0, moment = 0, square = 0;
    for (std::size_t k = from; k < to; ++k) {
        const double one = std::max(0.0, above[k]) * floor.power[k] * std::exp(-log_bias), x = static_cast<double>(k);
        power += one, moment += one * x, square += one * x * x;
    }
    const double centre = moment / power, spread = std::sqrt(std::max(0.25, square / power - centre * centre));
    best.hz = band.hz(centre);
    best.amplitude = std::sqrt(power / band.line_gain);
    best.above_noise = mean + 1;
    best.uncertainty_hz =
        band.step_hz * (spread / std::sqrt(std::max(1.0, independent_share * band.pieces)) + 0.1 * spread / mean);
    return best;
}

}  // namespace guardband::measure
