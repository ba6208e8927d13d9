#include "guardband/measure_commands.h"

#include <fmt/format.h>

#include "quantity/errors.h"
#include "report/working_report.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;

double seconds_of(const std::string& text, const std::string& option) {
    const double seconds = quantity::parse_quantity(text, quantity::unit_named("s"), option).in("s");
    if (seconds < 0) throw InputError(option, "can't be negative", "give seconds from the start");
    return seconds;
}

/// A whole number from 0 to `most`. @throws InputError
int whole(const std::string& text, int least, int most, const std::string& option) {
    const double value = quantity::parse_quantity(text, quantity::no_unit(), option).value;
    if (value != static_cast<int>(value) || value < least || value > most)
        throw InputError(option, "\"" + text + "\" is none",
                         fmt::format("give a whole number from {} to {}", least, most));
    return static_cast<int>(value);
}

constexpr int most_channels = 64, most_streams = 100;

std::string rate_text(double hz) {
    return hz < 1e6 ? fmt::format("{:g} kHz", hz / 1e3) : fmt::format("{:.9g} MHz", hz / 1e6);
}

}  // namespace

void add_measure_options(const Command& command, MeasureOptions& options, const char* file_help,
                         const char* address_help) {
    command.add_option("FILE", options.file, file_help).required();
    command.add_option("--address", options.address, address_help);
    command.add_option("--start", options.start, "where to begin, from the start: 12.5, 2min");
    command.add_option("--duration", options.duration, "how much to read: 60, 5min");
    command.add_flag("--brief", options.brief, "one line: what it is, and what is outside its limit");
    command.add_flag("--enforce", options.enforce, "end with status 3 if a figure is outside its limit");
}

void add_series_option(const Command& command, MeasureOptions& options, const char* help) {
    command.add_option("--series", options.series, help).type_name("FILE.csv");
}

double start_s(const MeasureOptions& options) {
    return options.start.empty() ? 0 : seconds_of(options.start, "--start");
}

std::optional<double> duration_s(const MeasureOptions& options) {
    if (options.duration.empty()) return std::nullopt;
    const double seconds = seconds_of(options.duration, "--duration");
    if (seconds == 0) throw InputError("--duration", "is 0", "give more than 0 seconds");
    return seconds;
}

double above_nought(const std::string& text, const char* unit, const std::string& option) {
    const double value = quantity::parse_quantity(text, quantity::unit_named(unit), option).in(unit);
    if (!(value > 0)) throw InputError(option, "\"" + text + "\" is not above 0", "give a number above 0");
    return value;
}

judge::Recording said_to_be(const table::Table& table, const std::string& address) {
    if (address.empty()) return {};
    const auto [format, mode] = table.at(address, "--address");
    return {mode->system, format->id};
}

int print(Session& session, const MeasureOptions& options, const report::Measurement& shown,
          const std::vector<report::FigureTitle>& titles, const std::vector<std::string>& cautions) {
    if (session.json)
        session.out() << report::measurement_json(shown);
    else if (options.brief)
        session.out() << report::measurement_line(shown, titles);
    else
        session.out() << report::measurement_text(shown, titles) << report::cautions_text(session.table(), cautions);
    return options.enforce && judge::count_outside(shown.figures) > 0 ? OutsideLimits : Done;
}

void add_sound_options(const Command& command, SoundFileOptions& options, bool raw) {
    command.add_option("--rate", options.rate, "samples a second, instead of the header's: 48000, 96kHz");
    command.add_option("--channel", options.channel, "which channel, the first is 1; the clearest if not given")
        .type_name("N");
    command.add_option("--stream", options.stream, "which of the file's sound streams, the first is 1").type_name("N");
    if (!raw) return;
    command.add_option("--samples", options.samples, "samples without a header, little-endian: u8, s8, u16, s16, f32")
        .type_name("KIND");
    command.add_option("--bit", options.bit, "of samples: one logic line, the lowest bit is 0").type_name("N");
}

std::unique_ptr<media::SoundReader> open_sound_file(const std::string& file, const MeasureOptions& options,
                                                    const SoundFileOptions& sound) {
    media::SoundOptions read;
    read.start_s = start_s(options);
    read.duration_s = duration_s(options);
    if (!sound.rate.empty()) read.sample_rate_hz = above_nought(sound.rate, "Hz", "--rate");
    if (!sound.stream.empty()) read.stream = whole(sound.stream, 1, most_streams, "--stream") - 1;
    std::optional<int> bit;
    if (!sound.bit.empty()) bit = whole(sound.bit, 0, 7, "--bit");
    if (sound.samples.empty()) {
        if (bit) throw InputError("--bit", "is for samples without a header", "give --samples too");
        return media::open_sound(file, read);
    }
    const auto format = media::sample_format_named(sound.samples);
    if (!format)
        throw InputError("--samples", "\"" + sound.samples + "\" is not known", "give u8, s8, u16, s16 or f32");
    return media::open_raw_samples(file, *format, read, bit);
}

std::optional<int> channel_of(const SoundFileOptions& options) {
    if (options.channel.empty()) return std::nullopt;
    return whole(options.channel, 1, most_channels, "--channel") - 1;
}

std::vector<std::pair<std::string, quantity::Figure::Value>> sound_input(const media::SoundInfo& info) {
    return {{"path", info.path},
            {"container", info.container},
            {"codec", info.codec},
            {"sample_rate", info.sample_rate_hz},
            {"channels", std::int64_t{info.channels}}};
}

std::string sound_headline(const media::SoundInfo& info) {
    std::string text =
        fmt::format("{}: {} in {}, {}", info.path, info.codec, info.container, rate_text(info.sample_rate_hz));
    if (info.header_rate_hz > 0 && info.header_rate_hz != info.sample_rate_hz)
        text += fmt::format(" (its header says {})", rate_text(info.header_rate_hz));
    return text + (info.channels > 1 ? fmt::format(", {} channels", info.channels) : "");
}

report::Measurement begun(Session& session, const media::SoundInfo& info, const std::string& what, int channel,
                          double seconds) {
    report::Measurement shown;
    shown.edition = session.table().edition;
    shown.columns = report::page_width;
    shown.headline = sound_headline(info) + "; " + what;
    shown.input = sound_input(info);
    shown.input.emplace_back("channel", std::int64_t{channel + 1});
    shown.input.emplace_back("duration_s", seconds);
    return shown;
}

std::vector<report::FigureTitle> titles_of(std::span<const measure::FigureTitle> titles, std::string_view group) {
    std::vector<report::FigureTitle> all;
    for (const measure::FigureTitle& title : titles) all.push_back({title.id, title.title, group});
    return all;
}

}  // namespace guardband::command_line
