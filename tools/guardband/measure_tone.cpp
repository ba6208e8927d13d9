#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <memory>

#include "guardband/measure_commands.h"
#include "guardband/progress_bar.h"
#include "guardband/series_file.h"
#include "measure/sound/tone.h"
#include "quantity/errors.h"
#include "report/measurement_comparison.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;

struct Options {
    MeasureOptions common;
    SoundFileOptions sound;
    std::string nominal, detector, parts, before;
};

measure::Detector detector_named(const std::string& name) {
    if (name.empty() || name == "two-sigma") return measure::Detector::TwoSigma;
    if (name == "quasi-peak") return measure::Detector::QuasiPeak;
    throw InputError("--detector", "\"" + name + "\" is not known", "give two-sigma or quasi-peak");
}

std::optional<double> tape_speed_mm_s(const table::Table& table, const std::string& address) {
    if (address.empty()) return std::nullopt;
    const auto [format, mode] = table.at(address, "--address");
    const table::Fact* speed = format->fact_in(*mode, "tape_speed");
    return speed == nullptr ? std::nullopt : std::optional(speed->in("mm/s"));
}

measure::ToneOptions tone_options(Session& session, const Options& options) {
    measure::ToneOptions tone;
    if (!options.nominal.empty()) tone.nominal_hz = above_nought(options.nominal, "Hz", "--nominal");
    tone.detector = detector_named(options.detector);
    tone.channel = channel_of(options.sound);
    if (!options.parts.empty())
        tone.parts = measure::read_parts(options.parts, tape_speed_mm_s(session.table(), options.common.address));
    return tone;
}

measure::ToneReport measured(Session& session, const Options& options, const std::string& file,
                             measure::ToneOptions tone) {
    ProgressBar bar(session.err(), session.err_is_terminal());
    const auto began = std::chrono::steady_clock::now();
    double file_bytes = 1;
    const auto open = [&] {
        auto sound = open_sound_file(file, options.common, options.sound);
        file_bytes = static_cast<double>(std::max<std::uint64_t>(1, sound->info().file_bytes));
        return sound;
    };
    tone.progress = [&](double time_s, std::uint64_t bytes_read) {
        bar.show(static_cast<double>(bytes_read) / file_bytes, std::chrono::steady_clock::now() - began,
                 fmt::format("{:.0f} s of tone", time_s));
    };
    return measure::measure_tone(open, tone);
}

report::Measurement to_show(Session& session, const Options& options, measure::ToneReport& tone) {
    report::Measurement shown =
        begun(session, tone.info,
              fmt::format("{:.1f} s of tone{}", tone.seconds,
                          tone.info.channels > 1 ? fmt::format(" in channel {}", tone.channel + 1) : ""),
              tone.channel, tone.seconds);
    shown.input.emplace_back("start_s", tone.start_s);
    if (!options.common.address.empty()) shown.input.emplace_back("address", options.common.address);
    const auto number = [&](const char* id) { return tone.figures.find(id)->number().value_or(0); };
    shown.kind = fmt::format("tone of {:.6g} Hz, speed {:.4g}", number("tone_frequency"), number("speed_ratio"));
    if (tone.figures.find("wow_flutter_weighted")->is_known())
        shown.kind += fmt::format(", weighted ±{:.3g} %", number("wow_flutter_weighted"));
    complete(shown, tone, session.table(), said_to_be(session.table(), options.common.address));
    return shown;
}

int show(Session& session, const Options& options) {
    measure::ToneOptions how = tone_options(session, options);
    const auto titles = titles_of(measure::tone_titles(), "Speed");
    std::optional<report::Measurement> before;
    if (!options.before.empty()) {
        measure::ToneReport earlier = measured(session, options, options.before, how);
        before = to_show(session, options, earlier);
    }
    SeriesFile series(options.common.series, measure::tone_series_columns());
    how.series = series.sink();
    measure::ToneReport tone = measured(session, options, options.common.file, how);
    series.finish();
    const report::Measurement shown = to_show(session, options, tone);
    if (!before || options.common.brief) return print(session, options.common, shown, titles);
    session.out() << (session.json ? report::comparison_json(*before, shown)
                                   : report::comparison_text(*before, shown, titles));
    return options.common.enforce && judge::count_outside(shown.figures) > 0 ? OutsideLimits : Done;
}

}  // namespace

void add_measure_tone(const Command& measure, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command tone =
        measure.add_subcommand("tone", "a test tone as a machine plays it: speed, drift, wow and flutter");
    add_measure_options(tone, options->common, "a recording of the tone: WAV, FLAC, the sound of a clip",
                        "what the tape is, FORMAT:SYSTEM:MODE: chooses limits and tape speed");
    tone.add_option("--nominal", options->nominal, "what was recorded: 3150, 3000 (Hz); else the nearest test tone")
        .type_name("HZ");
    tone.add_option("--detector", options->detector,
                    "two-sigma (IEC 60386, amendment 1; AES6-2008), or quasi-peak for the older meter's reading")
        .type_name("KIND");
    tone.add_option("--parts", options->parts,
                    "parts that turn, by diameter or rate (TOML): says which one each component comes from")
        .type_name("FILE");
    tone.add_option("--before", options->before, "a recording from before the repair: shows both side by side")
        .type_name("FILE");
    add_series_option(tone, options->common, "write comma-separated values: time, and speed against its mean");
    add_sound_options(tone, options->sound, false);
    set_action(tone, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
