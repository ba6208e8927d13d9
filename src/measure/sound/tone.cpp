#include "measure/sound/tone.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "measure/sound/deflection.h"
#include "measure/sound/demodulation.h"
#include "measure/sound/drift.h"
#include "measure/sound/nominal_tone.h"
#include "measure/sound/speed_spectrum.h"
#include "measure/sound/speed_stretch.h"
#include "measure/sound/tone_finder.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

using quantity::Figure;
using quantity::InputError;

constexpr double longest_s = 1800;     ///< what is followed; test tapes run for minutes
constexpr double shortest_s = 0.1;     ///< of tone, for a frequency
constexpr double least_reading_s = 5;  ///< IEC 60386 with amendment 1, AES6: a two-sigma reading takes 5 s or more
/// A wow of 0.2 Hz is read to 1.2 % from three turns, and up to a quarter wrong from less than two.
constexpr double slow_wow_s = 14.9;
constexpr double noise_worth_saying = 0.1;  ///< share of a reading that the noise alone would make
/// Where a tone's sidebands hold noise and no flutter of rotating parts, Hz; the demodulator is flat there.
constexpr double noise_low_hz = 300, noise_high_hz = 440;
constexpr double noise_step_hz = 0.5;

constexpr std::array titles{FigureTitle{"tone_frequency", "Hz", "Tone frequency"},
                            FigureTitle{"speed_ratio", "ratio", "Speed, played ÷ recorded"},
                            FigureTitle{"drift", "%", "Drift, start to end"},
                            FigureTitle{"wow_flutter_weighted", "%", "Wow and flutter, weighted ±"},
                            FigureTitle{"wow_unweighted", "%", "Wow, 0.1 to 6 Hz ±"},
                            FigureTitle{"flutter_unweighted", "%", "Flutter, 6 to 200 Hz ±"},
                            FigureTitle{"flutter_components", "", "Components"}};

[[noreturn]] void no_tone(const media::SoundInfo& info, const std::string& instead) {
    throw InputError(info.path, "has no steady test tone, but " + instead,
                     "record a tone of 3150 or 3000 Hz from a test tape, for 5 s or more");
}

/// Follows the tone from where it was found.
SpeedSeries follow(media::SoundReader& sound, const FoundTone& tone, const ToneOptions& options, std::string& trouble) {
    const double rate_hz = sound.info().sample_rate_hz;
    Demodulator demodulator(rate_hz, tone.frequency_hz, tone.start_s);
    const auto first = static_cast<std::int64_t>(std::llround(tone.start_s * rate_hz));
    while (const media::SoundBlock* block = sound.next()) {
        const std::vector<float>& samples = block->channels[static_cast<std::size_t>(tone.channel)];
        const auto skip =
            std::clamp<std::int64_t>(first - block->first_sample, 0, static_cast<std::int64_t>(samples.size()));
        demodulator.see(std::span(samples).subspan(static_cast<std::size_t>(skip)));
        if (options.progress) options.progress(block->time_s, sound.bytes_read());
        if (static_cast<double>(demodulator.size()) < longest_s * demodulator.rate_hz()) continue;
        trouble = fmt::format("only {:.0f} minutes of it are measured", longest_s / 60);
        return demodulator.finish();
    }
    trouble = sound.trouble();
    return demodulator.finish();
}

/// The relative speed about its mean, without its straight trend.
std::vector<float> flutter_of(const SpeedStretch& stretch) {
    const Trend trend = straight_trend(stretch.deviation);
    std::vector<float> flutter;
    flutter.reserve(stretch.deviation.size());
    const auto count = static_cast<double>(stretch.deviation.size());
    for (std::size_t i = 0; i < stretch.deviation.size(); ++i) {
        const double line = trend.mean + trend.change * ((static_cast<double>(i) + 0.5) / count - 0.5);
        flutter.push_back(static_cast<float>((static_cast<double>(stretch.deviation[i]) - line) / (1 + trend.mean)));
    }
    return flutter;
}

Figure ratio_figure(double tone_hz, double uncertainty_hz, const NominalTone& nominal) {
    Figure figure = Figure::measured(tone_hz / nominal.hz, uncertainty_hz / nominal.hz, "ratio");
    if (nominal.is_given) {
        figure.with_note(fmt::format("against {:g} Hz as given", nominal.hz));
        return figure;
    }
    std::vector<double> others;
    for (const double hz : nominal.others_hz) others.push_back(tone_hz / hz);
    figure.with_alternatives(others);
    figure.with_note(fmt::format("against {:g} Hz, the nearest test tone; --nominal says which one it is", nominal.hz));
    return figure;
}

/// What the noise under the tone alone would make a two-sigma meter read.
double noise_reading(double noise_slope, FlutterBand band) {
    double power = 0;
    for (double hz = noise_step_hz / 2; hz < noise_high_hz; hz += noise_step_hz) {
        const double density = noise_slope * hz * flutter_response(band, hz);
        power += density * density * noise_step_hz;
    }
    return 2 * std::sqrt(power);
}

Figure reading_figure(const DeflectionReading& reading, double noise, Detector detector, bool may_miss_wow) {
    const double free_of_noise = std::sqrt(std::max(0.0, reading.value * reading.value - noise * noise));
    const double uncertainty = std::hypot(reading.uncertainty, reading.value - free_of_noise);
    Figure figure = Figure::measured(100 * reading.value, 100 * uncertainty, "%");
    std::string note = detector == Detector::QuasiPeak ? "quasi-peak reading of the older meter" : "";
    if (noise > noise_worth_saying * reading.value)
        note += fmt::format("{}noise under the tone alone would read about ±{:.2g} %", note.empty() ? "" : "; ",
                            100 * noise);
    if (may_miss_wow)
        note += fmt::format("{}wow slower than 0.3 Hz takes {:.0f} s or more", note.empty() ? "" : "; ", slow_wow_s);
    if (!note.empty()) figure.with_note(note);
    return figure;
}

void add_readings(ToneReport& report, std::span<const float> flutter, double rate_hz, double noise_slope,
                  Detector detector) {
    constexpr std::array bands{std::pair{"wow_flutter_weighted", FlutterBand::Weighted},
                               std::pair{"wow_unweighted", FlutterBand::Wow},
                               std::pair{"flutter_unweighted", FlutterBand::Flutter}};
    for (const auto& [id, band] : bands) {
        if (report.seconds < least_reading_s)
            report.figures.add(id,
                               Figure::unknown(fmt::format("a reading takes {:g} s of tone or more; there are {:.1f} s",
                                                           least_reading_s, report.seconds)));
        else
            report.figures.add(
                id, reading_figure(read_deflection(flutter, rate_hz, band, detector), noise_reading(noise_slope, band),
                                   detector, band != FlutterBand::Flutter && report.seconds < slow_wow_s));
    }
}

Figure drift_figure(const Drift& drift, double seconds) {
    if (seconds < least_reading_s)
        return Figure::unknown(
            fmt::format("a drift takes {:g} s of tone or more; there are {:.1f} s", least_reading_s, seconds));
    const double scale = 100 / (1 + drift.mean);
    Figure figure = Figure::measured(scale * drift.change, scale * drift.change_uncertainty, "%");
    figure.with_note(fmt::format("over {:.1f} s", seconds));
    return figure;
}

Figure components_figure(const SpeedSpectrum& spectrum, const ToneOptions& options, double speed_ratio,
                         double seconds) {
    if (seconds < least_reading_s)
        return Figure::unknown(
            fmt::format("a spectrum takes {:g} s of tone or more; there are {:.1f} s", least_reading_s, seconds));
    return Figure::components(attribute(spectrum.lines, options.parts, speed_ratio));
}

constexpr std::array<std::string_view, 2> series_columns{"time_s", "speed_percent"};

void write_series(const SeriesSink& sink, const SpeedStretch& stretch, double mean) {
    for (std::size_t i = 0; i < stretch.deviation.size(); ++i)
        sink(std::array{stretch.start_s + static_cast<double>(i) / stretch.rate_hz,
                        100 * (static_cast<double>(stretch.deviation[i]) - mean) / (1 + mean)});
}

}  // namespace

ToneReport measure_tone(const std::function<std::unique_ptr<media::SoundReader>()>& open, const ToneOptions& options) {
    ToneReport report;
    const auto first_pass = open();
    report.info = first_pass->info();
    if (options.channel && *options.channel >= report.info.channels)
        throw InputError(report.info.path, fmt::format("has {} channel(s)", report.info.channels),
                         "name one of them with --channel, the first is 1");
    const ToneSearch search = find_tone(*first_pass, options.channel);
    if (!search.tone) no_tone(report.info, search.instead);
    report.channel = search.tone->channel;

    const auto sound = open();
    const SpeedSeries series = follow(*sound, *search.tone, options, report.trouble);
    SpeedStretch stretch = longest_stretch(series);
    if (stretch.seconds() < shortest_s) no_tone(report.info, "a tone that breaks off at once");
    report.start_s = stretch.start_s;
    report.seconds = stretch.seconds();
    report.events = std::move(stretch.events);

    const Drift drift = find_drift(stretch.deviation, stretch.rate_hz);
    if (options.series) write_series(options.series, stretch, drift.mean);
    const double tone_hz = series.carrier_hz * (1 + drift.mean);
    const double uncertainty_hz = series.carrier_hz * drift.mean_uncertainty;
    const NominalTone nominal = nominal_tone(tone_hz, options.nominal_hz);
    const std::vector<float> flutter = flutter_of(stretch);
    const SpeedSpectrum spectrum = find_lines(flutter, stretch.rate_hz, {0.1, 200, noise_low_hz, noise_high_hz});
    report.figures.add("tone_frequency",
                       Figure::measured(tone_hz, uncertainty_hz, "Hz").with_note("by the sampling clock"));
    report.figures.add("speed_ratio", ratio_figure(tone_hz, uncertainty_hz, nominal));
    report.figures.add("drift", drift_figure(drift, report.seconds));
    add_readings(report, flutter, stretch.rate_hz, spectrum.noise_slope, options.detector);
    report.figures.add("flutter_components",
                       components_figure(spectrum, options, tone_hz / nominal.hz, report.seconds));
    return report;
}

std::span<const FigureTitle> tone_titles() { return titles; }

std::span<const std::string_view> tone_series_columns() { return series_columns; }

}  // namespace guardband::measure
