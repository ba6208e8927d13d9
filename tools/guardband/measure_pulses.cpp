#include "measure/pulses/pulses.h"

#include <fmt/format.h>

#include <memory>
#include <tuple>

#include "guardband/measure_commands.h"
#include "guardband/series_file.h"
#include "quantity/errors.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;

struct Options {
    MeasureOptions common;
    SoundFileOptions sound;
    std::string edge, playing_as;
};

measure::Edge edge_named(const std::string& name) {
    if (name.empty() || name == "rising") return measure::Edge::Rising;
    if (name == "falling") return measure::Edge::Falling;
    throw InputError("--edge", "\"" + name + "\" is not known", "give rising or falling");
}

measure::PulseOptions pulse_options(Session& session, const Options& options) {
    measure::PulseOptions pulses;
    pulses.edge = edge_named(options.edge);
    pulses.channel = channel_of(options.sound);
    if (!options.playing_as.empty())
        std::tie(pulses.playing_format, pulses.playing_mode) = session.table().at(options.playing_as, "--playing-as");
    return pulses;
}

report::Measurement to_show(Session& session, const Options& options, measure::PulseReport& pulses) {
    const bool bumps = pulses.shape == measure::PulseShape::Bumps;
    report::Measurement shown =
        begun(session, pulses.info,
              fmt::format("{:.1f} s of {}{}", pulses.seconds, bumps ? "bumps" : "two-level pulses",
                          pulses.info.channels > 1 ? fmt::format(" in channel {}", pulses.channel + 1) : ""),
              pulses.channel, pulses.seconds);
    shown.input.emplace_back("pulses", std::string(bumps ? "bumps" : "two levels"));
    if (!options.playing_as.empty()) shown.input.emplace_back("playing_as", options.playing_as);
    const auto number = [&](const char* id) { return pulses.figures.find(id)->number().value_or(0); };
    shown.kind = fmt::format("pulses of {:.6g} Hz, {:g} missing, {:g} extra", number("pulse_rate"),
                             number("missing_pulses"), number("extra_pulses"));
    complete(shown, pulses, session.table(), said_to_be(session.table(), options.common.address));
    return shown;
}

int show(Session& session, const Options& options) {
    (void)said_to_be(session.table(), options.common.address);  // a mistyped address must not cost a whole pass
    const auto open = [&] { return open_sound_file(options.common.file, options.common, options.sound); };
    measure::PulseOptions how = pulse_options(session, options);
    SeriesFile series(options.common.series, measure::pulse_series_columns());
    how.series = series.sink();
    measure::PulseReport pulses = measure::measure_pulses(open, how);
    series.finish();
    // The probe sits at the control head or the tachometer of a machine that runs with its cover off.
    return print(session, options.common, to_show(session, options, pulses),
                 titles_of(measure::pulse_titles(), "Pulses"), {"mains", "rotating-drum"});
}

}  // namespace

void add_measure_pulses(const Command& measure, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command pulses = measure.add_subcommand(
        "pulses", "control-track or tachometer pulses: rate, jitter, missing ones, mode of recording");
    add_measure_options(pulses, options->common, "a recording of the pulses: WAV, FLAC, or bare samples",
                        "what the tape is said to be, FORMAT:SYSTEM:MODE: chooses the limits");
    pulses.add_option("--edge", options->edge, "which side of a pulse is timed: rising (positive bumps), or falling")
        .type_name("SIDE");
    pulses
        .add_option("--playing-as", options->playing_as,
                    "the machine's mode while it plays, FORMAT:SYSTEM:MODE: tells the mode of recording")
        .type_name("ADDRESS");
    add_series_option(pulses, options->common,
                      "write comma-separated values, a row a pulse: its time, the interval before it");
    add_sound_options(pulses, options->sound, true);
    set_action(pulses, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
