#include "measure/clip/flicker_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/noise_level.h"
#include "measure/clip/wave_fit.h"

namespace guardband::measure {
namespace {

constexpr std::size_t fewest_frames = 16;

// Waves that are tried before the search gives up: in a picture that moves in many regular ways, false ones may stand
// out more than the flicker.
constexpr std::size_t most_tries = 6;

// A fundamental must have this share of the depth of its harmonic. Pulses of light, however short, and all exposures
// give at least 0.9.
constexpr double fundamental_share = 0.7;
constexpr int highest_harmonic = 6;
// Contrast that shows a fundamental where a harmonic says that it must be; of 20 places tried, one in 10 000 has it by
// chance. Less will do when its other harmonics together reach the last bound.
constexpr double fundamental_contrast = 12;
constexpr double weak_fundamental_contrast = 4, family_contrast = 25;

// A harmonic folded to within so many cycles over the stretch pulls a line by up to about this many: 50 Hz before 29.97
// frames/s, of which the second harmonic comes to lie 0.15 Hz beside it, over 6 s.
constexpr double unresolved_cycles = 2, unresolved_error_cycles = 0.03;

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

struct Place {
    double cycles, bands;
};

/// Folds a frequency into what the pictures show: 0 … ½ cycle per frame, or 0 … 1 of fields; a wave folded over runs
/// the other way.
Place folded(double cycles, double bands, bool interlaced) {
    const double period = interlaced ? 2 : 1;
    cycles -= period * std::floor(cycles / period);
    return cycles <= period / 2 ? Place{cycles, bands} : Place{period - cycles, -bands};
}

class Searcher {
public:
    Searcher(const LightChange& change, const BrightnessGrid& grid, const FieldTiming& timing)
        : change_(change), timing_(timing), spectra_(change, grid) {}

    FlickerSearch run() const;

private:
    double harmonic_confusion(const FlickerLine& line) const;
    std::optional<FlickerLine> line_at(const MapPeak& peak, double least_contrast) const;
    std::optional<FlickerLine> fast_line(const PowerMap& map) const;
    std::optional<FlickerLine> slow_line(const PowerMap& map) const;
    bool is_fundamental(const MapPeak& peak, int harmonic, const PowerMap& map) const;
    MapPeak fundamental_of(const FlickerLine& line, const PowerMap& map) const;

    const LightChange& change_;
    FieldTiming timing_;
    LightSpectra spectra_;
};

/// What a harmonic does to a line's frequency that is folded to so near it that the stretch can't hold them apart,
/// cycles.
double Searcher::harmonic_confusion(const FlickerLine& line) const {
    double confusion = 0;
    for (int harmonic = 2; harmonic <= 3; ++harmonic) {
        const Place place = folded(harmonic * line.cycles_per_frame, 0, timing_.is_interlaced());
        const double apart = std::abs(place.cycles - line.cycles_per_frame) * static_cast<double>(spectra_.length());
        if (apart < unresolved_cycles) confusion = unresolved_error_cycles;
    }
    return confusion;
}

std::optional<FlickerLine> Searcher::line_at(const MapPeak& peak, double least_contrast) const {
    const double power_of_cell = peak.contrast * peak.noise;  // all cells alike: the sum has weights that add up to 1
    WaveFit fit(spectra_, timing_, peak.bin, power_of_cell);
    const FittedWave wave = fit.best_near(spectra_.cycles(peak.bin), peak.bands);
    // Noise once more, without the line and what it spreads to its sides.
    const auto rest = dsp::logarithms(spectra_.power_without(wave.bands, timing_, fit.line_shape(wave)));
    const double noise = std::min<double>(noise_under(rest, 4, timing_.is_interlaced())[peak.bin], peak.noise);
    const WaveSoundness sound = fit.soundness(wave, noise, change_);
    FlickerLine line;
    line.contrast = fit.power(wave) / noise;
    line.depth =
        std::abs(wave.amplitude) / (change_response(wave.cycles) * std::abs(sinc(wave.bands / BrightnessGrid::bands)) *
                                    (1 - fit.bridging_loss(wave, change_)));
    if (!sound.is_flicker(line.contrast) || line.contrast < least_contrast || line.depth < least_flicker_depth)
        return std::nullopt;
    const Place place = folded(wave.cycles, wave.bands, timing_.is_interlaced());
    line.cycles_per_frame = place.cycles;
    line.bands = place.bands;
    const auto uncertainty = fit.uncertainty(wave, line.contrast);
    line.cycles_uncertainty =
        std::hypot(uncertainty.cycles, harmonic_confusion(line) / static_cast<double>(spectra_.length()));
    line.bands_uncertainty = uncertainty.bands;
    line.depth_uncertainty = line.depth * uncertainty.amplitude_share;
    line.share_explained = sound.taking_part > 0 ? sound.explained_part : sound.explained;
    return line;
}

/// Whether a wave shows enough, alone or with others of its family, to be the fundamental of a line that is its
/// `harmonic`-th.
bool Searcher::is_fundamental(const MapPeak& peak, int harmonic, const PowerMap& map) const {
    if (peak.contrast >= fundamental_contrast) return true;
    double family = 0;
    for (int other = 2; other <= highest_harmonic; ++other) {
        if (other % harmonic == 0) continue;  // the line has that one too
        const Place place = folded(other * spectra_.cycles(peak.bin), other * peak.bands, timing_.is_interlaced());
        if (std::abs(place.bands) <= 4) family += map.at(place.cycles, place.bands).contrast;
    }
    return peak.contrast >= weak_fundamental_contrast && family >= family_contrast;
}

/// The wave of which a line is a harmonic, if it is there; else the line itself.
MapPeak Searcher::fundamental_of(const FlickerLine& line, const PowerMap& map) const {
    const MapPeak own = map.at(line.cycles_per_frame, line.bands);
    MapPeak best = own;
    const int turns = timing_.is_interlaced() ? 2 : 1;
    for (int harmonic = 2; harmonic <= highest_harmonic; ++harmonic) {
        for (int turn = 0; turn < harmonic; ++turn) {
            const Place place = folded((line.cycles_per_frame + turns * turn) / harmonic, line.bands / harmonic,
                                       timing_.is_interlaced());
            const double apart =
                std::abs(place.cycles - line.cycles_per_frame) * static_cast<double>(spectra_.length());
            if (apart < 3 && std::abs(place.bands - line.bands) < 1) continue;  // the line itself
            const MapPeak peak = map.at(place.cycles, place.bands);
            if (peak.depth < fundamental_share * own.depth || !is_fundamental(peak, harmonic, map)) continue;
            if (best.depth == own.depth || peak.depth > best.depth) best = peak;
        }
    }
    return best;
}

std::optional<FlickerLine> Searcher::fast_line(const PowerMap& map) const {
    std::vector<MapPeak> peaks = map.peaks();
    if (peaks.size() > most_tries) peaks.resize(most_tries);
    for (const MapPeak& peak : peaks) {
        const auto line = line_at(peak, map.least_contrast(peak.bin));
        if (!line) continue;
        const MapPeak fundamental = fundamental_of(*line, map);
        if (fundamental.bin == peak.bin && fundamental.bands == peak.bands) return line;
        const auto deeper = line_at(fundamental, fundamental_contrast);
        return deeper ? deeper : line;
    }
    return std::nullopt;
}

std::optional<FlickerLine> Searcher::slow_line(const PowerMap& map) const {
    std::vector<MapPeak> peaks = map.slow_peaks();
    if (peaks.size() > most_tries) peaks.resize(most_tries);
    std::optional<FlickerLine> best;
    std::vector<FlickerLine> weaker;
    for (const MapPeak& peak : peaks) {
        const auto line = line_at(peak, fundamental_contrast);
        if (!line) continue;
        weaker.push_back(*line);
        if (line->contrast >= map.least_contrast(peak.bin) && (!best || line->depth > best->depth)) best = line;
    }
    if (!best) return best;
    // Its fundamental may stand out less.
    const auto is_harmonic_of = [&](const FlickerLine& line) {
        const double harmonic = std::round(best->cycles_per_frame / line.cycles_per_frame);
        return harmonic > 1 && line.depth >= fundamental_share * best->depth &&
               std::abs(best->cycles_per_frame - harmonic * line.cycles_per_frame) *
                       static_cast<double>(spectra_.length()) <
                   1 &&
               std::abs(best->bands - harmonic * line.bands) < 1;
    };
    for (const FlickerLine& line : weaker) {
        if (is_harmonic_of(line)) best = line;
    }
    return best;
}

FlickerSearch Searcher::run() const {
    FlickerSearch result;
    if (spectra_.is_empty()) return result;
    const PowerMap map(spectra_, timing_);
    result.sensitivity = map.sensitivity();
    result.line = fast_line(map);
    const auto slow = slow_line(map);
    if (slow && (!result.line || slow->depth > result.line->depth)) result.line = slow;
    return result;
}

}  // namespace

FlickerSearch search_flicker(const FlickerSeries& series, const BrightnessGrid& grid, const FieldTiming& timing) {
    if (series.length() < fewest_frames) return {};
    const LightChange change = series.change();
    return Searcher(change, grid, timing).run();
}

}  // namespace guardband::measure
