#include "measure/clip_sound/steady_tones.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "measure/clip/scanning_match.h"
#include "measure/clip_sound/hum.h"
#include "measure/mains.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double piece_s = 2;
constexpr double hum_low_hz = 25, hum_high_hz = 425;
constexpr double whistle_low_hz = 15'000, whistle_high_hz = 16'400;
constexpr double least_rate_for_whistle_hz = 34'000;
/// Below −90 dB of full scale lies the grain of 16 bits, which a pure tone turns into lines; tapes are never so quiet.
constexpr double least_amplitude = 3.2e-5;
/// Width over which flutter smears a whistle, Hz: 0.15 % of it.
constexpr double wavering_width_hz = 25;

std::string too_short(int pieces) {
    return fmt::format("its sound is shorter than {:g} s", pieces < 2 ? 2 * piece_s : piece_s);
}

std::vector<SteadyLine> lines_above_grain(const BandSpectrum& band) {
    std::vector<SteadyLine> lines = steady_lines(band);
    std::erase_if(lines, [](const SteadyLine& line) { return line.amplitude < least_amplitude; });
    return lines;
}

/// The strongest line of the band; or the heap around it where flutter smears it, whose sidebands are lines, too.
SteadyLine whistle_in(const BandSpectrum& band) {
    const SteadyLine heap = wavering_line(band, wavering_width_hz);
    constexpr double steady = 0.5, least_share_of_the_heap = 0.6;
    for (const SteadyLine& line : lines_above_grain(band))
        if (line.coherence > steady &&
            std::pow(line.amplitude, 2) > least_share_of_the_heap * std::pow(heap.amplitude, 2))
            return line;
    return heap.amplitude < least_amplitude ? SteadyLine{} : heap;
}

const table::Scanning* scanning_of(const ClipContext& context) {
    const auto rate = context.stamps.frame_rate();
    return rate ? match_scanning(context.table, context.info.picture.height, rate->hz).scanning : nullptr;
}

/// By the line rate of the clip's own system, or the nearer of the two that tapes were made in. Where the other lies
/// close, it is named: a whistle of one system on a tape that runs fast is the other's.
Figure whistle_ratio(const ClipContext& context, const SteadyLine& whistle) {
    const table::Scanning* known = scanning_of(context);
    const table::Scanning& s625 = context.table.scanning("625/50", "table");
    const table::Scanning& s525 = context.table.scanning("525/60", "table");
    const auto off = [&](const table::Scanning& s) { return std::abs(whistle.hz / s.line_rate().value() - 1); };
    const table::Scanning& taken = known != nullptr ? *known : off(s625) < off(s525) ? s625 : s525;
    const double nominal = taken.line_rate().value();
    Figure figure = Figure::measured(whistle.hz / nominal, whistle.uncertainty_hz / nominal, "");
    constexpr double close = 0.001;
    std::vector<double> others;
    for (const table::Scanning* other : {&s625, &s525})
        if (other->id != taken.id && (known == nullptr || off(*other) < close))
            others.push_back(whistle.hz / other->line_rate().value());
    if (!others.empty()) figure.with_alternatives(others);
    figure.with_note(fmt::format("by the line whistle, taken to be that of {} and to lie on the tape", taken.id));
    return figure;
}

Figure hum_ratio(const Hum& hum) {
    Figure figure = Figure::measured(hum.hz / hum.nominal_hz, hum.uncertainty_hz / hum.nominal_hz, "");
    figure.with_note(fmt::format("by the hum, taken to be of mains of {:g} Hz and to lie on the tape", hum.nominal_hz));
    return figure;
}

}  // namespace

SteadyTones::SteadyTones(const ClipContext& context)
    : SoundMeasurement(context), mains_hz_(mains_rates_hz(context.table)) {
    const double rate = sample_rate_hz();
    if (rate > 0) low_.emplace(rate, hum_low_hz, hum_high_hz, piece_s);
    if (rate >= least_rate_for_whistle_hz) high_.emplace(rate, whistle_low_hz, whistle_high_hz, piece_s);
}

void SteadyTones::hear(const media::SoundBlock& block) {
    if (!low_) return;
    // The mean of two channels at most: what is steady is in both, and surround brings nothing.
    const std::size_t channels = std::min<std::size_t>(2, block.channels.size());
    mono_ = block.channels.front();
    for (std::size_t c = 1; c < channels; ++c)
        for (std::size_t n = 0; n < mono_.size(); ++n) mono_[n] += block.channels[c][n];
    for (float& sample : mono_) sample /= static_cast<float>(channels);
    low_->hear(mono_);
    if (high_) high_->hear(mono_);
}

void SteadyTones::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    std::string reason = without_sound();
    const BandSpectrum low = reason.empty() ? low_->finish() : BandSpectrum{};
    if (reason.empty() && low.pieces < 2) reason = too_short(low.pieces);
    std::optional<Hum> hum;
    if (reason.empty()) hum = find_hum(lines_above_grain(low), mains_hz_);
    const std::string no_hum = reason.empty() ? "no hum stands out of the sound" : reason;
    if (hum) {
        Figure frequency = Figure::measured(hum->hz, hum->uncertainty_hz, "Hz");
        frequency.with_note(fmt::format("{} of its multiples up to 400 Hz stand out", hum->harmonics));
        figures.add("hum_frequency", std::move(frequency));
        figures.add("hum_level", Figure::measured(20 * std::log10(hum->amplitude), hum->level_uncertainty_db, "dBFS"));
    } else {
        figures.add("hum_frequency", Figure::unknown(no_hum));
        figures.add("hum_level", Figure::unknown(no_hum));
    }
    SteadyLine whistle;
    if (reason.empty() && high_) whistle = whistle_in(high_->finish());
    if (whistle.amplitude > 0) {
        Figure figure = Figure::measured(whistle.hz, whistle.uncertainty_hz, "Hz");
        figure.with_note(fmt::format("at {:.0f} dBFS", 20 * std::log10(whistle.amplitude)));
        figures.add("line_whistle_frequency", std::move(figure));
    } else if (!reason.empty()) {
        figures.add("line_whistle_frequency", Figure::unknown(reason));
    } else {
        figures.add("line_whistle_frequency", Figure::unknown(high_ ? "none stands out between 15 and 16.4 kHz"
                                                                    : "its sampling rate is too low for it"));
    }
    if (whistle.amplitude > 0)
        figures.add("sound_speed_ratio", whistle_ratio(context_, whistle));
    else if (hum)
        figures.add("sound_speed_ratio", hum_ratio(*hum));
    else
        figures.add("sound_speed_ratio",
                    Figure::unknown(reason.empty() ? "neither hum nor line whistle stands out" : reason));
}

}  // namespace guardband::measure
