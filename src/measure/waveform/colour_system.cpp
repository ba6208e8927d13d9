#include "measure/waveform/colour_system.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "dsp/robust.h"
#include "measure/waveform/phasor.h"

#include "measure/waveform/burst_search.h"
namespace guardband::measure {
namespace {

using Phasors = std::vector<std::complex<double>>;

constexpr double near_nyquist = 0.3, searched_hz = 200e3;  ///< of the sampling rate; around a system's subcarrier
constexpr std::size_t most_porches = 3000, least_porches = 50;
constexpr double porch_from_us = 5.8, porch_to_us = 9.6;
constexpr double turn = 2 * std::numbers::pi;
constexpr double noise_hz[] = {1.9e6, 2.6e6};  ///< where neither luminance of the porch nor a burst is
constexpr double least_over_noise = 6;         ///< power of a burst over the noise in its window
constexpr double least_share_of_depth = 0.06;  ///< peak to peak, of sync
constexpr double rest_difference_hz = 60e3;    ///< alternate lines that differ by more are SECAM's: 156 kHz
constexpr double clock_error = 1e-4;           ///< of a player's crystal and a digitiser's together
constexpr double least_late_share = 0.25;      ///< of a burst's power, that SECAM still has at the porch's end
constexpr double late_from_us = 8.2;
constexpr double largest_relative_error = 1e-3;  ///< of a subcarrier against its system's

/// One piece of every porch, read at one frequency.
Phasors read_all(const std::vector<BackPorch>& porches, double hz, double rate_hz, double from_us, double to_us) {
    const int length = std::max(4, static_cast<int>((to_us - from_us) * 1e-6 * rate_hz));
    const PhasorReader reader(hz / rate_hz, length);
    Phasors read;
    for (const BackPorch& porch : porches) {
        const auto begin = static_cast<std::int64_t>(std::lround(porch.lead + from_us * 1e-6 * rate_hz)) - porch.start;
        if (begin < 0 || begin + length > static_cast<std::int64_t>(porch.samples.size())) {
            read.emplace_back(0, 0);
            continue;
        }
        read.push_back(
            reader.read(std::span(porch.samples).subspan(static_cast<std::size_t>(begin)), porch.start + begin, 0));
    }
    return read;
}

double mean_power(const Phasors& phasors) {
    double sum = 0;
    for (const auto& z : phasors) sum += std::norm(z);
    return phasors.empty() ? 0 : sum / static_cast<double>(phasors.size());
}

/// Products of each phasor with the conjugate of the one `lag` lines before.
std::complex<double> lagged(const std::vector<BackPorch>& porches, const Phasors& z, int lag) {
    std::complex<double> sum = 0;
    for (std::size_t i = static_cast<std::size_t>(lag); i < z.size(); ++i)
        if (porches[i].number - porches[i - static_cast<std::size_t>(lag)].number == lag)
            sum += z[i] * std::conj(z[i - static_cast<std::size_t>(lag)]);
    return sum;
}

/// How much the frequency lies above the one it was read at, from the turn between two pieces of the same burst.
double offset_within(const Phasors& early, const Phasors& late, double apart_s, std::size_t first, std::size_t step) {
    std::complex<double> sum = 0;
    for (std::size_t i = first; i < early.size(); i += step) sum += late[i] * std::conj(early[i]);
    return std::arg(sum) / turn / apart_s;
}

struct Pieces {
    Phasors early, late;
    double apart_s = 0;
};

Pieces two_pieces(const std::vector<BackPorch>& porches, double hz, double rate_hz, double from_us, double to_us) {
    const double middle = (from_us + to_us) / 2;
    return {read_all(porches, hz, rate_hz, from_us, middle), read_all(porches, hz, rate_hz, middle, to_us),
            std::round((middle - from_us) * 1e-6 * rate_hz) / rate_hz};
}

/// Difference of the rest frequencies of even and odd lines, and their mean.
struct Rest {
    double difference_hz = 0, mean_hz = 0;
};

Rest rest_frequencies(const std::vector<BackPorch>& porches, double hz, double rate_hz) {
    const Pieces pieces = two_pieces(porches, hz, rate_hz, rest_from_us, rest_to_us);
    std::complex<double> sums[2] = {0, 0};
    for (std::size_t i = 0; i < porches.size(); ++i)
        sums[porches[i].number % 2] += pieces.late[i] * std::conj(pieces.early[i]);
    const double even = hz + std::arg(sums[0]) / turn / pieces.apart_s,
                 odd = hz + std::arg(sums[1]) / turn / pieces.apart_s;
    return {std::abs(even - odd), (even + odd) / 2};
}

/// The frequency of a burst that goes on from line to line, from one near it. The turn from a line to the one after the
/// next tells it exactly but for whole multiples of half the line rate; of those the one at a system's own subcarrier
/// is taken, if the turn within the bursts lets it be, else the one that agrees best with that.
double exact_frequency(const std::vector<BackPorch>& porches, double near_hz, double rate_hz, double line_hz,
                       std::span<const double> known_hz) {
    const Pieces pieces = two_pieces(porches, near_hz, rate_hz, burst_from_us, burst_to_us);
    const double crude = near_hz > near_nyquist * rate_hz
                             ? burst_frequency(porches, near_hz, searched_hz, rate_hz, burst_from_us, burst_to_us)
                             : near_hz + offset_within(pieces.early, pieces.late, pieces.apart_s, 0, 1);
    const Phasors whole = read_all(porches, near_hz, rate_hz, burst_from_us, burst_to_us);
    const double apart_hz = line_hz / 2;  // two lines on, where PAL's burst stands as it did
    const double fine = near_hz + std::arg(lagged(porches, whole, 2)) / turn * apart_hz;
    const auto nearest_to = [&](double hz) { return fine + std::round((hz - fine) / apart_hz) * apart_hz; };
    double best = nearest_to(crude), best_error = clock_error;
    for (const double hz : known_hz) {
        const double error = std::abs(nearest_to(hz) / hz - 1);
        if (error < best_error && std::abs(hz - crude) < 1.5 * apart_hz) best = nearest_to(hz), best_error = error;
    }
    return best;
}

bool swings_from_line_to_line(const std::vector<BackPorch>& porches, double hz, double rate_hz) {
    const Phasors z = read_all(porches, hz, rate_hz, burst_from_us, burst_to_us);
    std::complex<double> steps = 0, doubled = 0;
    double all = 0;
    for (std::size_t i = 1; i < z.size(); ++i) {
        if (porches[i].number != porches[i - 1].number + 1) continue;
        const std::complex<double> step = z[i] * std::conj(z[i - 1]);
        if (std::norm(step) == 0) continue;
        steps += step;
        doubled += step * step / std::abs(step);
        all += std::abs(step);
    }
    return std::abs(doubled) > std::abs(steps) && std::abs(steps) < 0.5 * all;
}

bool is_secam(const table::Colour& colour) { return colour.facts.known("subcarrier_red") != nullptr; }
bool is_swinging(const table::Colour& colour) {
    return !is_secam(colour) && colour.facts.known("colour_identification") != nullptr;
}

double nominal_hz(const table::Colour& colour) {
    if (is_secam(colour))
        return (colour.facts.find("subcarrier_red")->in("Hz") + colour.facts.find("subcarrier_blue")->in("Hz")) / 2;
    return colour.facts.find("subcarrier")->in("Hz");
}

/// The system whose subcarrier is nearest to one that swings or does not.
const table::Colour* nearest(const table::Table& table, const table::Scanning& scanning, double hz, bool swings) {
    const table::Colour* best = nullptr;
    for (const table::Colour& colour : table.colours) {
        if (colour.scanning != scanning.id || is_secam(colour) || is_swinging(colour) != swings) continue;
        const double error = std::abs(nominal_hz(colour) - hz);
        if (error < largest_relative_error * hz && (best == nullptr || error < std::abs(nominal_hz(*best) - hz)))
            best = &colour;
    }
    return best;
}

}  // namespace

void PorchCollector::see_line(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || porches_.size() >= most_porches) return;
    if (line.in_field >= 0 && line.in_field < blanking_end_) return;
    BackPorch porch;
    porch.number = line.number;
    porch.lead = line.sync.lead;
    porch.start = static_cast<std::int64_t>(line.sync.lead + porch_from_us * 1e-6 * rate_hz_);
    const auto length = static_cast<std::int64_t>((porch_to_us - porch_from_us) * 1e-6 * rate_hz_);
    if (!window.holds(porch.start, porch.start + length)) return;
    for (const float sample : window.at(porch.start, length)) porch.samples.push_back(sample - line.sync.back);
    porches_.push_back(std::move(porch));
}

ColourFinding find_colour(const std::vector<BackPorch>& porches, const table::Table& table,
                          const table::Scanning& scanning, double rate_hz, double line_hz, double depth) {
    ColourFinding finding;
    if (porches.size() < least_porches) return finding;
    double noise = 0, best = 0, best_hz = 0, secam_hz = 0;
    std::vector<double> known_hz;
    for (const double hz : noise_hz)
        noise = std::max(noise, mean_power(read_all(porches, hz, rate_hz, burst_from_us, burst_to_us)));
    for (const table::Colour& colour : table.colours) {
        if (colour.scanning != scanning.id) continue;
        const double hz = nominal_hz(colour);
        is_secam(colour) ? secam_hz = hz : known_hz.emplace_back(hz);
        const double power = mean_power(read_all(porches, hz, rate_hz, burst_from_us, burst_to_us));
        if (power > best) best = power, best_hz = hz;
    }
    if (best < least_over_noise * noise || 4 * std::sqrt(best) < least_share_of_depth * depth) return finding;
    // SECAM's subcarrier goes on to the picture; a burst has ended before.
    const double late = secam_hz > 0 ? mean_power(read_all(porches, secam_hz, rate_hz, late_from_us, rest_to_us)) : 0;
    if (late > least_late_share * best) {
        const Rest rest = rest_frequencies(porches, secam_hz, rate_hz);
        if (rest.difference_hz > rest_difference_hz) {
            finding.subcarrier_hz = rest.mean_hz;
            for (const table::Colour& colour : table.colours)
                if (colour.scanning == scanning.id && is_secam(colour)) finding.colour = &colour;
            return finding;
        }
    }
    finding.subcarrier_hz = exact_frequency(porches, best_hz, rate_hz, line_hz, known_hz);
    finding.swings = swings_from_line_to_line(porches, finding.subcarrier_hz, rate_hz);
    finding.colour = nearest(table, scanning, finding.subcarrier_hz, finding.swings);
    if (finding.colour == nullptr)
        finding.why =
            fmt::format("a burst of {:.1f} kHz that {} from line to line is no system's of {}",
                        finding.subcarrier_hz / 1e3, finding.swings ? "swings" : "does not swing", scanning.id);
    return finding;
}

}  // namespace guardband::measure
