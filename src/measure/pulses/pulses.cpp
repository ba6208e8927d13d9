#include "measure/pulses/pulses.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "measure/pulses/pulse_train.h"
#include "measure/pulses/recorded_mode.h"
#include "measure/sound/drift.h"
#include "measure/sound/speed_spectrum.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::InputError;
using quantity::Severity;

constexpr std::size_t most_pulses = 4'000'000;
constexpr std::size_t fewest_pulses = 8;
/// Regular intervals among noise come to a third, in music to less than half of all; among pulses with every tenth at
/// fault to four fifths.
constexpr double least_regular_share = 0.6;
/// A tape may change its mode, but not several times while none lasts; notes do.
constexpr std::size_t many_rates = 6;
constexpr double shortest_mode_s = 2;
constexpr double silence_swing = 1e-4;  ///< −80 dB of full scale
constexpr double least_spectrum_s = 5;
constexpr double lowest_component_hz = 0.1;
constexpr std::size_t most_components = 10;

constexpr std::array titles{FigureTitle{"pulse_rate", "Hz", "Pulse rate"},
                            FigureTitle{"pulse_jitter_rms", "µs", "Jitter, RMS"},
                            FigureTitle{"missing_pulses", "", "Missing pulses"},
                            FigureTitle{"extra_pulses", "", "Extra pulses"},
                            FigureTitle{"speed_ratio", "ratio", "Speed, played ÷ recorded"},
                            FigureTitle{"tape_speed", "mm/s", "Tape speed of recording"},
                            FigureTitle{"address", "", "Mode of recording"},
                            FigureTitle{"jitter_components", "", "Speed components"}};

[[noreturn]] void no_pulses(const media::SoundInfo& info, const std::string& instead) {
    throw InputError(info.path, "has no regular pulses, but " + instead,
                     "record the control head's or tachometer's signal for some seconds");
}

std::vector<double> pulse_times(media::SoundReader& sound, const LevelSketch& sketch, Edge edge, std::string& trouble) {
    PulseDetector detector(sketch, edge, sound.info().sample_rate_hz);
    while (const media::SoundBlock* block = sound.next()) {
        detector.see(block->channels[static_cast<std::size_t>(sketch.channel)]);
        if (detector.times().size() < most_pulses) continue;
        trouble = fmt::format("only its first {} pulses are measured", most_pulses);
        return detector.times();
    }
    trouble = sound.trouble();
    return detector.times();
}

double length_s(const PulseStretch& stretch) { return stretch.end_s - stretch.start_s; }

PulseTrain regular_train(const media::SoundInfo& info, const LevelSketch& sketch, const std::vector<double>& times) {
    if (times.size() < fewest_pulses)
        no_pulses(info, fmt::format("only {} {} in {:.2f} s", times.size(), times.size() == 1 ? "edge" : "edges",
                                    sketch.seconds));
    const bool may_lack_slopes = sketch.shape == PulseShape::TwoLevels;
    PulseTrain train = follow_pulses(times, may_lack_slopes ? 1 / info.sample_rate_hz : 0);
    if (train.regular_share < least_regular_share || train.stretches.empty())
        no_pulses(info, fmt::format("noise or other sound: of {} edges, {:.0f} % follow at even distances",
                                    times.size(), 100 * train.regular_share));
    const double longest_s = length_s(*std::ranges::max_element(train.stretches, {}, length_s));
    if (train.stretches.size() >= many_rates && longest_s < shortest_mode_s)
        no_pulses(info, fmt::format("{} rates by turns, none for longer than {:.2g} s, as in music, speech or video",
                                    train.stretches.size(), longest_s));
    return train;
}

std::string mode_text(const RecordedMode& mode) {
    std::string text = mode.address.empty() ? mode.reason : "recorded in " + mode.address;
    for (std::size_t i = 0; i < mode.others.size(); ++i) text += (i == 0 ? ", or " : ", ") + mode.others[i];
    return text;
}

Event stretch_event(const PulseStretch& stretch, const RecordedMode* mode) {
    Event event;
    event.kind = "stretch";
    event.time_s = stretch.start_s;
    event.count = stretch.pulses;
    event.what = fmt::format("to {:.2f} s: {:.6g} Hz", stretch.end_s, stretch.rate_hz);
    if (mode != nullptr) event.what += ", " + mode_text(*mode);
    return event;
}

void add_moments(std::vector<Event>& events, const std::vector<double>& moments, const char* kind, const char* what) {
    for (const double time_s : moments) {
        Event event;
        event.kind = kind;
        event.severity = Severity::Warning;
        event.time_s = time_s;
        event.count = 1;
        event.what = what;
        events.push_back(std::move(event));
    }
}

/// Relative speed lines; the mean over a period, which is what an interval shows, is made up for.
Figure components_figure(const PulseStretch& stretch) {
    const double seconds = stretch.end_s - stretch.start_s;
    if (seconds < least_spectrum_s)
        return Figure::unknown(
            fmt::format("a spectrum takes {:g} s of pulses or more; there are {:.1f} s", least_spectrum_s, seconds));
    const Trend trend = straight_trend(stretch.speed);
    std::vector<float> speed = stretch.speed;
    const auto count = static_cast<double>(speed.size());
    for (std::size_t i = 0; i < speed.size(); ++i)
        speed[i] -= static_cast<float>(trend.mean + trend.change * ((static_cast<double>(i) + 0.5) / count - 0.5));
    const SpeedSpectrum spectrum =
        find_lines(speed, stretch.rate_hz, {lowest_component_hz, 0.45 * stretch.rate_hz, 0, 0});
    std::vector<quantity::Component> components;
    for (const SpeedLine& line : spectrum.lines) {
        if (components.size() == most_components) break;
        const double turn = std::numbers::pi * line.hz / stretch.rate_hz;
        components.push_back({line.hz, 100 * line.depth * turn / std::sin(turn), "", 1});
    }
    return Figure::components(std::move(components));
}

void add_mode(quantity::Figures& figures, const PulseOptions& options, const RecordedMode& mode) {
    const std::string played = table::address_of(*options.playing_format, *options.playing_mode);
    if (mode.speed_ratio <= 0) {
        for (const char* id : {"speed_ratio", "tape_speed", "address"}) figures.add(id, Figure::unknown(mode.reason));
        return;
    }
    const double u = mode.relative_uncertainty;
    Figure ratio = Figure::measured(mode.speed_ratio, mode.speed_ratio * u, "ratio");
    ratio.with_note("if the machine ran at the speed of " + played +
                    ": a servo that locks to these very pulses shows their own rate in any mode");
    figures.add("speed_ratio", std::move(ratio));
    figures.add("tape_speed", Figure::measured(mode.tape_speed_mm_s, mode.tape_speed_mm_s * u, "mm/s"));
    if (mode.address.empty()) {
        figures.add("address", Figure::unknown(mode.reason));
        return;
    }
    Figure address = Figure::text(mode.address);
    if (!mode.others.empty()) {
        std::string others;
        for (const std::string& other : mode.others) others += (others.empty() ? "" : ", ") + other;
        address.with_note("as well could be " + others);
    }
    figures.add("address", std::move(address));
}

std::int64_t total(const PulseTrain& train, std::int64_t PulseStretch::*member) {
    std::int64_t sum = 0;
    for (const PulseStretch& stretch : train.stretches) sum += stretch.*member;
    return sum;
}

void add_figures(PulseReport& report, const PulseTrain& train, const PulseOptions& options) {
    const auto& longest = *std::ranges::max_element(train.stretches, {}, length_s);
    Figure rate = Figure::measured(longest.rate_hz, longest.rate_uncertainty_hz, "Hz");
    std::string note = "by the sampling clock";
    if (train.stretches.size() > 1)
        note += fmt::format("; the longest of {} stretches, {:.2f} to {:.2f} s", train.stretches.size(),
                            longest.start_s, longest.end_s);
    rate.with_note(note);
    report.figures.add("pulse_rate", std::move(rate));
    report.figures.add("pulse_jitter_rms",
                       Figure::measured(1e6 * longest.jitter_s, 1e6 * longest.jitter_uncertainty_s, "µs"));
    report.figures.add("missing_pulses", Figure::counted(total(train, &PulseStretch::missing)));
    report.figures.add("extra_pulses", Figure::counted(total(train, &PulseStretch::extra)));
    if (options.playing_mode != nullptr)
        add_mode(report.figures, options,
                 recorded_mode(*options.playing_format, *options.playing_mode, longest.rate_hz,
                               longest.rate_uncertainty_hz));
    report.figures.add("jitter_components", components_figure(longest));
}

void add_events(PulseReport& report, const PulseTrain& train, const PulseOptions& options) {
    for (const PulseStretch& stretch : train.stretches) {
        if (train.stretches.size() > 1) {
            if (options.playing_mode != nullptr) {
                const RecordedMode mode = recorded_mode(*options.playing_format, *options.playing_mode, stretch.rate_hz,
                                                        stretch.rate_uncertainty_hz);
                report.events.push_back(stretch_event(stretch, &mode));
            } else {
                report.events.push_back(stretch_event(stretch, nullptr));
            }
        }
        add_moments(report.events, stretch.missing_s, "missing", "a pulse is missing");
        add_moments(report.events, stretch.extra_s, "extra", "a pulse too many");
    }
    std::ranges::stable_sort(report.events, {}, &Event::time_s);
}

constexpr std::array<std::string_view, 2> series_columns{"time_s", "interval_ms"};

void write_series(const SeriesSink& sink, const std::vector<double>& times) {
    for (std::size_t i = 0; i < times.size(); ++i)
        sink(std::array{times[i], i == 0 ? NAN : 1e3 * (times[i] - times[i - 1])});
}

}  // namespace

PulseReport measure_pulses(const std::function<std::unique_ptr<media::SoundReader>()>& open,
                           const PulseOptions& options) {
    PulseReport report;
    const auto first_pass = open();
    report.info = first_pass->info();
    if (options.channel && *options.channel >= report.info.channels)
        throw InputError(report.info.path, fmt::format("has {} channel(s)", report.info.channels),
                         "name one of them with --channel, the first is 1");
    const LevelSketch sketch = sketch_levels(*first_pass, options.channel);
    report.channel = sketch.channel;
    report.shape = sketch.shape;
    if (sketch.swing <= silence_swing) no_pulses(report.info, "silence or a level that never moves");
    const auto sound = open();
    const std::vector<double> times = pulse_times(*sound, sketch, options.edge, report.trouble);
    const PulseTrain train = regular_train(report.info, sketch, times);
    report.seconds = train.stretches.back().end_s - train.stretches.front().start_s;
    if (options.series) write_series(options.series, times);
    add_figures(report, train, options);
    add_events(report, train, options);
    return report;
}

std::span<const FigureTitle> pulse_titles() { return titles; }

std::span<const std::string_view> pulse_series_columns() { return series_columns; }

}  // namespace guardband::measure
