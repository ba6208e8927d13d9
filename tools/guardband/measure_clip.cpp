#include <fmt/format.h>

#include <memory>

#include "guardband/measure_commands.h"
#include "guardband/progress_bar.h"
#include "measure/pass.h"
#include "measure/registry.h"
#include "measure/time_base_components.h"
#include "media/clip.h"

namespace guardband::command_line {
namespace {

using Options = MeasureOptions;

media::ReadOptions read_options(const Options& options) {
    media::ReadOptions read;
    read.start_s = start_s(options);
    read.duration_s = duration_s(options);
    read.sound = true;
    return read;
}

/// The share of the work that is done: by the clip's time where its length is known, else by the bytes read.
double done_share(const measure::PassProgress& progress, const media::ClipInfo& info, const media::ReadOptions& read) {
    std::optional<double> length_s = read.duration_s;
    if (info.duration_s)
        length_s = std::min(length_s.value_or(*info.duration_s), std::max(*info.duration_s - read.start_s, 0.0));
    if (length_s && *length_s > 0) return progress.time_s / *length_s;
    return info.file_bytes == 0 ? 0 : static_cast<double>(progress.bytes_read) / static_cast<double>(info.file_bytes);
}

measure::ClipReport measured(Session& session, const Options& options) {
    const media::ReadOptions read = read_options(options);
    const auto reader = media::open_clip(options.file, read);
    ProgressBar bar(session.err(), session.err_is_terminal());
    measure::PassOptions pass;
    pass.progress = [&](const measure::PassProgress& progress) {
        bar.show(done_share(progress, reader->info(), read), progress.elapsed,
                 fmt::format("{} frames, {:.0f} frames/s", progress.frames, progress.frames_per_s));
    };
    return measure::measure_clip(*reader, session.table(), pass);
}

/// What is known of the recording: what the user says, or else the TV system that was measured.
judge::Recording recording_of(const table::Table& table, const Options& options, const quantity::Figures& figures) {
    if (!options.address.empty()) return said_to_be(table, options.address);
    const quantity::Figure* system = figures.find("tv_system");
    if (system == nullptr || !system->is_known()) return {};
    return {std::get<std::string>(system->value()), ""};
}

std::string sampling_text(const media::PictureFormat& picture) {
    if (!picture.has_chroma) return "grey";
    if (picture.chroma_shift_x == 0) return picture.chroma_shift_y == 0 ? "4:4:4" : "4:4:0";
    if (picture.chroma_shift_x == 2) return picture.chroma_shift_y == 0 ? "4:1:1" : "4:1:0";
    return picture.chroma_shift_y == 0 ? "4:2:2" : "4:2:0";
}

double read_seconds(const measure::ClipReport& report) {
    const quantity::Figure* rate = report.figures.find("frame_rate");
    if (rate == nullptr || !rate->number() || *rate->number() <= 0) return 0;
    return static_cast<double>(report.frames) / *rate->number();
}

std::string headline(const measure::ClipReport& report, const Options& options) {
    const media::PictureFormat& picture = report.info.picture;
    const double seconds = read_seconds(report);
    return fmt::format("{}: {}×{}, {} bit {}, {} in {}; {} frames{} read{}", report.info.path, picture.width,
                       picture.height, picture.bit_depth, sampling_text(picture), report.info.codec,
                       report.info.container, report.frames, seconds > 0 ? fmt::format(" ({:.1f} s)", seconds) : "",
                       options.address.empty() ? "" : ", said to be " + options.address);
}

report::Measurement to_show(measure::ClipReport& clip, const Options& options, const table::Edition& edition) {
    report::Measurement shown;
    shown.edition = edition;
    shown.headline = headline(clip, options);
    const media::ClipInfo& info = clip.info;
    shown.input = {{"path", info.path},
                   {"container", info.container},
                   {"codec", info.codec},
                   {"width", std::int64_t{info.picture.width}},
                   {"height", std::int64_t{info.picture.height}},
                   {"bit_depth", std::int64_t{info.picture.bit_depth}},
                   {"sampling", sampling_text(info.picture)},
                   {"frames", clip.frames}};
    if (info.sound) {
        shown.input.emplace_back("sound_codec", info.sound->codec);
        shown.input.emplace_back("sound_sample_rate", info.sound->sample_rate_hz);
        shown.input.emplace_back("sound_channels", std::int64_t{info.sound->channels});
    }
    if (info.declared_frame_rate)
        shown.input.emplace_back("frame_rate_declared", quantity::to_string(*info.declared_frame_rate));
    if (!options.address.empty()) shown.input.emplace_back("address", options.address);
    shown.figures = std::move(clip.figures);
    shown.events = std::move(clip.events);
    shown.trouble = std::move(clip.trouble);
    return shown;
}

std::vector<report::FigureTitle> titles() {
    std::vector<report::FigureTitle> all;
    for (const measure::ClipEntry& entry : measure::clip_measurements())
        for (const measure::FigureTitle& title : entry.figures)
            all.push_back({title.id, title.title, measure::to_string(entry.group)});
    return all;
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    if (!options.address.empty())
        (void)table.at(options.address, "--address");  // a mistyped address must not cost a whole pass
    measure::ClipReport clip = measured(session, options);
    const judge::Recording recording = recording_of(table, options, clip.figures);
    measure::name_time_base_components(clip.figures, table, recording.scanning, options.address);
    judge::judge(clip.figures, table, recording);
    return print(session, options, to_show(clip, options, table.edition), titles());
}

}  // namespace

void add_measure_clip(const Command& measure, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command clip =
        measure.add_subcommand("clip", "a digitised tape, in any container and codec that FFmpeg's libraries read");
    add_measure_options(clip, *options, "the clip",
                        "what the tape is said to be, FORMAT:SYSTEM:MODE: chooses the limits, names the drum");
    set_action(clip, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
