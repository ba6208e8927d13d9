#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "guardband/command.h"
#include "judge/judge.h"
#include "measure/registry.h"
#include "media/sound.h"
#include "quantity/figure.h"
#include "report/measurement_report.h"

/// What the commands below `measure` share.
namespace guardband::command_line {

/// Options that every one of them takes.
struct MeasureOptions {
    std::string file, address, start, duration, series;
    bool enforce = false, brief = false;
};

/// Declares the argument FILE and the common options. @param file_help, address_help  for people
void add_measure_options(const Command& command, MeasureOptions& options, const char* file_help,
                         const char* address_help);

/// Declares `--series`. @param help  what a row is, for people
void add_series_option(const Command& command, MeasureOptions& options, const char* help);

/// `--start` and `--duration` in seconds. @throws InputError for a time that can't be
double start_s(const MeasureOptions& options);
std::optional<double> duration_s(const MeasureOptions& options);

/// A number in a unit from the text of an option. @throws InputError unless it is above 0
double above_nought(const std::string& text, const char* unit, const std::string& option);

/// What is known of the recording by `--address`; nothing if it isn't given.
judge::Recording said_to_be(const table::Table& table, const std::string& address);

/// Prints one measurement as asked for. @returns the exit status  @param cautions  ids, shown to people only
int print(Session& session, const MeasureOptions& options, const report::Measurement& shown,
          const std::vector<report::FigureTitle>& titles, const std::vector<std::string>& cautions = {});

/// How a sound file or samples are opened.
struct SoundFileOptions {
    std::string rate, channel, stream, samples, bit;
};

/// Declares `--rate`, `--channel`, `--stream`. @param raw  also `--samples` and `--bit`, for files without a header
void add_sound_options(const Command& command, SoundFileOptions& options, bool raw);

/// Opens FILE as these options say. @throws InputError
std::unique_ptr<media::SoundReader> open_sound_file(const std::string& file, const MeasureOptions& options,
                                                    const SoundFileOptions& sound);
/// From 0; nothing if none was asked for. @throws InputError
std::optional<int> channel_of(const SoundFileOptions& options);

/// What was read, for the JSON.
std::vector<std::pair<std::string, quantity::Figure::Value>> sound_input(const media::SoundInfo& info);
/// `tone.wav: pcm_s24le in wav, 48 kHz, 2 channels`
std::string sound_headline(const media::SoundInfo& info);
/// What is shown of a measurement of sound or samples, but for its figures.
/// @param what  was read, after the headline's file and rate   @param channel  from 0   @param seconds  measured
report::Measurement begun(Session& session, const media::SoundInfo& info, const std::string& what, int channel,
                          double seconds);
/// Its figures, judged, its events and its trouble.
template <class Report>
void complete(report::Measurement& shown, Report& measured, const table::Table& table,
              const judge::Recording& recording) {
    judge::judge(measured.figures, table, recording);
    shown.figures = std::move(measured.figures);
    shown.events = std::move(measured.events);
    shown.trouble = std::move(measured.trouble);
}
std::vector<report::FigureTitle> titles_of(std::span<const measure::FigureTitle> titles, std::string_view group);

void add_measure_clip(const Command& measure, Session& session, const SetAction& set_action);
void add_measure_tone(const Command& measure, Session& session, const SetAction& set_action);
void add_measure_pulses(const Command& measure, Session& session, const SetAction& set_action);
void add_measure_waveform(const Command& measure, Session& session, const SetAction& set_action);

}  // namespace guardband::command_line
