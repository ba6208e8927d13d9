#include "measure/clip_sound/sound_bandwidth.h"

#include <algorithm>
#include <cmath>

#include "dsp/window.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr std::size_t piece_samples = 4096, bins_per_band = 16;
constexpr double loud_share = 0.95, quiet_share = 0.10;
/// Levels of noise by itself in a band of 16 bins differ by 4 dB between these shares of the time.
constexpr double least_swing_db = 8, least_step_db = 15, largest_step_db = 20;
/// Bands that may be silent between others: programme has holes.
constexpr std::size_t longest_hole = 3;
constexpr std::int64_t least_pieces = 10;

double db(double level) { return 20 * std::log10(std::max(level, 1e-9)); }

/// The number of bands up to the last that stands, holes passed over.
std::size_t reach_of(const std::vector<bool>& stands) {
    std::size_t reach = 0, hole = 0;
    for (std::size_t band = 1; band < stands.size() && hole <= longest_hole; ++band) {
        hole = stands[band] ? 0 : hole + 1;
        if (stands[band]) reach = band + 1;
    }
    return reach;
}

}  // namespace

SoundBandwidth::SoundBandwidth(const ClipContext& context)
    : SoundMeasurement(context), fft_(piece_samples), window_(dsp::hann(piece_samples)), spectrum_(fft_.bins()) {
    if (sample_rate_hz() > 0) bands_.resize(piece_samples / 2 / bins_per_band);
}

void SoundBandwidth::hear(const media::SoundBlock& block) {
    if (bands_.empty()) return;
    const std::size_t before = waiting_.size(), count = block.channels.front().size();
    waiting_.resize(before + count);
    const std::size_t channels = std::min<std::size_t>(2, block.channels.size());
    for (std::size_t c = 0; c < channels; ++c)
        for (std::size_t n = 0; n < count; ++n) waiting_[before + n] += block.channels[c][n];
    while (waiting_.size() >= piece_samples) take_piece();
}

void SoundBandwidth::take_piece() {
    std::vector<float> piece(piece_samples);
    for (std::size_t n = 0; n < piece_samples; ++n) piece[n] = window_[n] * waiting_[n];
    waiting_.erase(waiting_.begin(), waiting_.begin() + piece_samples);
    fft_.forward(piece, spectrum_);
    // Per bin of white noise of RMS 1 the mean power is N times 3/8.
    constexpr double scale = 1.0 / (piece_samples * 0.375 * bins_per_band);
    for (std::size_t band = 0; band < bands_.size(); ++band) {
        double power = 0;
        for (std::size_t k = 0; k < bins_per_band; ++k) power += std::norm(spectrum_[band * bins_per_band + k]);
        bands_[band].add(std::sqrt(power * scale));
    }
    ++pieces_;
}

Figure SoundBandwidth::bandwidth() const {
    if (const std::string reason = without_sound(); !reason.empty()) return Figure::unknown(reason);
    if (pieces_ < least_pieces) return Figure::unknown("its sound is shorter than a second");
    std::vector<double> loud, quiet;
    for (const dsp::LevelHistogram& band : bands_) {
        loud.push_back(db(band.quantile(loud_share)));
        quiet.push_back(db(band.quantile(quiet_share)));
    }
    const double band_khz = sample_rate_hz() / piece_samples * bins_per_band / 1e3;
    const double top_khz = sample_rate_hz() / 2e3;
    std::vector<bool> stands(loud.size());
    // What lies further below the loudest band is no programme: resamplers leave images there, codecs their noise.
    const double loudest = *std::ranges::max_element(loud), deepest_db = 80;
    for (std::size_t k = 0; k < loud.size(); ++k)
        stands[k] = loud[k] - quiet[k] > least_swing_db && loud[k] > loudest - deepest_db;
    std::size_t reach = reach_of(stands);
    std::string note = "up to where loud and quiet moments differ";
    if (reach == 0) {
        // Nothing changes: the noise is what lies above, and the end half way down to it.
        double floor = HUGE_VAL;
        for (std::size_t k = loud.size(); k-- > 0;) {
            floor = std::min(floor, quiet[k]);
            const double step = std::clamp((loudest - floor) / 2, least_step_db, largest_step_db);
            stands[k] = loud[k] > loudest - step && loud[k] - floor > least_step_db;
        }
        reach = reach_of(stands);
        note = "of a steady sound, up to where its spectrum falls off";
    }
    if (reach == 0) return Figure::unknown("no programme stands out of the noise");
    const double khz = std::min(top_khz, static_cast<double>(reach) * band_khz);
    if (reach + 2 >= bands_.size()) note = "up to the end of what the sampling rate holds";
    Figure figure = Figure::measured(khz, band_khz / std::sqrt(3.0), "kHz");
    figure.with_note(note);
    return figure;
}

void SoundBandwidth::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("sound_bandwidth", bandwidth());
}

}  // namespace guardband::measure
