#include "measure/clip/wave_soundness.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <span>
#include <vector>

namespace guardband::measure {
namespace {

using Complex = std::complex<double>;

// Bounds of soundness. On moving scenes without flicker, waves that pass for their contrast explain 0.1 to 0.7 of what
// the cells do (objects that go to and fro, each cell in its own way) at contrasts of up to a few hundred, or come from
// one moment (fades: rest contrast below 1). Flicker explains 0.8 to 1, also where it fills only part of the picture,
// if what takes part is looked at; 0.6 where a harmonic falls on the same frequency, as with 50 Hz before 30 frames/s.
// Where few cells take part, most of them do so by chance and say nothing.
constexpr double least_rest_contrast = 10;
constexpr double least_explained = 0.75, plain_contrast = 1000, least_explained_if_plain = 0.5;
constexpr double least_part = 0.15;

// Whether a wave rides on the picture is tested over pieces of so many of its cycles, in shots at least half as long.
// Light that stands still or goes its own way scores 0.1 to 0.3; what scrolls, 0.8 to 1.
constexpr double riding_cycles = 4, most_riding = 0.6, least_tested = 0.25;
constexpr std::size_t fewest_riding_frames = 16;
// Finer waves look like coarser ones when there are 16 bands of rows over the height.
constexpr std::array<double, 5> aliases_of_bands{0, -BrightnessGrid::bands, BrightnessGrid::bands,
                                                 -2 * BrightnessGrid::bands, 2 * BrightnessGrid::bands};
// So do the strokes of letters, which are far finer still. Where so many aliases are tried, one would fit by chance in
// short pieces: these must ride on it for so many frames in a row.
constexpr int finest_alias = 8;
constexpr std::size_t long_ride_frames = 48;

// A camera that sways over a scene that is brighter on one side makes all of it brighter and darker as it goes; at
// twice and three times its own frequency as well where the scene is brighter in its middle. Panning that is no sway
// has up to a fifth of its square at one frequency. Panning of less than so many samples per frame, RMS, makes nothing
// flicker.
constexpr double most_swaying = 0.5, least_panning = 0.5;
constexpr int highest_of_sway = 3;

/// In a wave that moves along with the picture, frame and height go together: cycles n + bands · position stays the
/// same.
/// @param aliases  bands that may have to be added   @param piece  frames over which that must hold
double riding(const LightSpectra& spectra, double cycles, double wave_bands, const LightChange& change,
              std::span<const double> aliases, std::size_t piece) {
    double tested = 0;
    std::vector<double> riding(aliases.size());
    std::vector<Complex> sums(aliases.size());
    for (std::size_t begin = 0, end = 0; begin < change.length; begin = end) {
        for (end = begin + 1; end < change.length && end - begin < piece && change.bridged[end] == 0; ++end) {
        }
        if (2 * (end - begin) < piece) continue;  // a shot too short to tell
        std::ranges::fill(sums, Complex{});
        for (std::size_t n = begin; n < end; ++n) {
            const double weight = spectra.window()[n];
            tested += weight;
            for (std::size_t a = 0; a < sums.size(); ++a) {
                const double bands = wave_bands + aliases[a];
                sums[a] += weight * turned(cycles * static_cast<double>(n - begin) + bands * change.position[n]);
            }
        }
        for (std::size_t a = 0; a < sums.size(); ++a) riding[a] += std::abs(sums[a]);
    }
    return tested > least_tested * spectra.window_sum() ? *std::ranges::max_element(riding) / tested : 0;
}

}  // namespace

bool WaveSoundness::is_flicker(double contrast) const {
    if (rest_contrast < least_rest_contrast || riding > most_riding || swaying > most_swaying) return false;
    const double least = contrast < plain_contrast ? least_explained : least_explained_if_plain;
    return (taking_part < least_part ? explained : explained_part) >= least;
}

double riding_with_picture(const LightSpectra& spectra, double cycles, double bands, const LightChange& change) {
    const double turn = std::abs(std::remainder(cycles, 1.0));  // per frame, as one field shows it
    const auto piece = std::max(static_cast<std::size_t>(std::ceil(riding_cycles / turn)), fewest_riding_frames);
    std::vector<double> fine;
    for (int times = -finest_alias; times <= finest_alias; ++times) fine.push_back(times * BrightnessGrid::bands);
    return std::max(riding(spectra, cycles, bands, change, aliases_of_bands, piece),
                    riding(spectra, cycles, bands, change, fine, std::max(piece, long_ride_frames)));
}

/// By the square of what a wave of each frequency that may be the sway's leaves of the panning.
double swaying_with_camera(const LightSpectra& spectra, double cycles, const LightChange& change) {
    double sum = 0, squares = 0, weights = 0;
    for (std::size_t n = 0; n < change.length; ++n) {
        const double weight = spectra.window()[n];
        sum += weight * change.pan[n], squares += weight * change.pan[n] * change.pan[n], weights += weight;
    }
    if (weights <= 0) return 0;
    const double mean = sum / weights, variance = squares / weights - mean * mean;
    if (variance < least_panning * least_panning) return 0;
    double most = 0;
    for (int part = 1; part <= highest_of_sway; ++part) {
        Complex at = 0;
        for (std::size_t n = 0; n < change.length; ++n)
            at += static_cast<double>(spectra.window()[n]) * (change.pan[n] - mean) *
                  turned(-cycles / part * static_cast<double>(n));
        most = std::max(most, 2 * std::norm(at) / (weights * weights * variance));
    }
    return most;
}

}  // namespace guardband::measure
