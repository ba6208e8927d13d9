#include "measure/waveform/waveform.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <memory>

#include "guardband/measure_commands.h"
#include "guardband/progress_bar.h"
#include "guardband/series_file.h"
#include "measure/time_base_components.h"
#include "quantity/errors.h"

namespace guardband::command_line {
namespace {

struct Options {
    MeasureOptions common;
    SoundFileOptions sound;
    std::string millivolts, limits;
};

measure::WaveformReport measured(Session& session, const Options& options) {
    ProgressBar bar(session.err(), session.err_is_terminal());
    const auto began = std::chrono::steady_clock::now();
    double file_bytes = 1;
    const auto open = [&] {
        auto samples = open_sound_file(options.common.file, options.common, options.sound);
        file_bytes = static_cast<double>(std::max<std::uint64_t>(1, samples->info().file_bytes));
        return samples;
    };
    measure::WaveformOptions how;
    how.channel = channel_of(options.sound);
    if (!options.millivolts.empty())
        how.millivolts_per_unit = above_nought(options.millivolts, "", "--millivolts-per-unit");
    how.progress = [&](double time_s, std::uint64_t bytes_read) {
        bar.show(static_cast<double>(bytes_read) / file_bytes, std::chrono::steady_clock::now() - began,
                 fmt::format("{:.1f} s of video", time_s));
    };
    SeriesFile series(options.common.series, measure::waveform_series_columns());
    how.series = series.sink();
    measure::WaveformReport report = measure::measure_waveform(open, how, session.table());
    series.finish();
    return report;
}

std::string kind_of(const measure::WaveformReport& waveform) {
    const auto* system = waveform.figures.find("tv_system");
    const auto* colour = waveform.figures.find("colour");
    std::string text = system->is_known() ? std::get<std::string>(system->value()) : "unknown system";
    if (colour->is_known())
        text += std::get<std::string>(colour->value()) == "none" ? " without colour"
                                                                 : " " + std::get<std::string>(colour->value());
    return text;
}

/// What the limits are for. @throws InputError for another word
std::string setting_of(const Options& options) {
    if (options.limits.empty()) return "recorder";
    if (std::ranges::find(table::limit_settings(), options.limits) != table::limit_settings().end())
        return options.limits;
    throw quantity::InputError("--limits", "\"" + options.limits + "\" is not known",
                               "give studio, transmission or recorder");
}

report::Measurement to_show(Session& session, const Options& options, measure::WaveformReport& waveform) {
    report::Measurement shown = begun(session, waveform.info,
                                      fmt::format("{:.3g} s, {} lines of {}{}", waveform.seconds, waveform.lines,
                                                  kind_of(waveform), waveform.inverted ? ", inverted" : ""),
                                      waveform.channel, waveform.seconds);
    shown.input.emplace_back("lines", waveform.lines);
    shown.input.emplace_back("polarity", std::string(waveform.inverted ? "inverted" : "upright"));
    if (!options.common.address.empty()) shown.input.emplace_back("address", options.common.address);
    judge::Recording recording = said_to_be(session.table(), options.common.address);
    if (recording.scanning.empty()) recording.scanning = waveform.scanning;
    recording.setting = setting_of(options);
    measure::name_time_base_components(waveform.figures, session.table(), recording.scanning, options.common.address);
    shown.kind = "composite video";
    complete(shown, waveform, session.table(), recording);
    return shown;
}

int show(Session& session, const Options& options) {
    // A mistyped word must not cost a whole pass.
    (void)said_to_be(session.table(), options.common.address);
    (void)setting_of(options);
    measure::WaveformReport waveform = measured(session, options);
    std::vector<report::FigureTitle> titles;
    for (const measure::WaveformTitle& entry : measure::waveform_titles())
        titles.push_back({entry.title.id, entry.title.title, entry.group});
    // The probe may sit inside a machine that runs with its cover off, or beside the tube of an open monitor.
    return print(session, options.common, to_show(session, options, waveform), titles,
                 {"mains", "rotating-drum", "picture-tube"});
}

}  // namespace

void add_measure_waveform(const Command& measure, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command waveform = measure.add_subcommand(
        "waveform", "composite video as a digitiser samples it: system, sync, burst, time base, noise, test lines");
    add_measure_options(waveform, options->common, "samples of composite video: WAV, FLAC, or bare samples",
                        "what the tape is said to be, FORMAT:SYSTEM:MODE: chooses the limits, names the drum");
    add_series_option(waveform, options->common,
                      "write comma-separated values, a row a line: its time, place and sync");
    add_sound_options(waveform, options->sound, true);
    waveform
        .add_option("--millivolts-per-unit", options->millivolts,
                    "what one step of the samples' codes is (FLAC and floats: full scale); else levels go by sync")
        .type_name("MV");
    waveform
        .add_option("--limits", options->limits,
                    "what the signal is held against: studio, transmission, or recorder, which is taken if not said")
        .type_name("SETTING");
    set_action(waveform, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
