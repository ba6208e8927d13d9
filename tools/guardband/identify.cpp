#include <algorithm>
#include <filesystem>
#include <fstream>
#include <memory>

#include "guardband/command.h"
#include "identify/answer.h"
#include "identify/capture.h"
#include "identify/shelf.h"
#include "measure/pass.h"
#include "measure/pulses/pulses.h"
#include "measure/waveform/waveform.h"
#include "media/clip.h"
#include "media/sound.h"
#include "quantity/errors.h"
#include "report/figures_json.h"
#include "report/identify_report.h"

namespace guardband::command_line {
namespace {

using identify::Observation;
using quantity::InputError;

struct Options {
    std::vector<std::string> observed;
    std::string evidence, capture, playing_as, prior, region, machines;
    bool kinds = false, alike = false;
};

constexpr std::size_t most_observations = 200;   // more are no evidence about one tape
constexpr std::size_t largest_file = 1'000'000;  // bytes; such files are written by hand

/// No more than a byte above the largest, so that a wrong file costs nothing.
std::string text_of(const std::string& path, const std::string& input) {
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) throw InputError(input, "is a folder", "name a file in it");
    std::ifstream stream(path, std::ios::binary);
    if (!stream.is_open()) throw InputError(input, "can't be read", "name a readable file");
    std::string text(largest_file + 1, '\0');
    stream.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(std::max<std::streamsize>(stream.gcount(), 0)));
    return text;
}

table::Document document_of(const std::string& path, const std::string& option) {
    const std::string text = text_of(path, option + " " + path);
    if (text.size() > largest_file)
        throw InputError(option + " " + path, "is too large", "name a TOML file written for it");
    return table::parse_document(path, text);
}

/// How much of a recording is measured: rates and bandwidths don't change along it, and whoever asks is waiting.
constexpr double measured_s = 60;

/// A file of samples as fast as this is sampled video, not sound; the rest of `measured_s` would show nothing new.
constexpr double video_from_hz = 1e6, measured_of_video_s = 4;

/// Measured now: a clip, or without pictures sampled video or the control head's pulses.
quantity::Figures measured(const table::Table& table, const std::string& path) {
    if (media::has_video(path)) {
        media::ReadOptions read;
        read.duration_s = measured_s;
        read.sound = true;
        return measure::measure_clip(*media::open_clip(path, read), table, {}).figures;
    }
    media::SoundOptions read;
    read.duration_s = measured_s;
    if (media::open_sound(path, read)->info().sample_rate_hz < video_from_hz)
        return measure::measure_pulses([&] { return media::open_sound(path, read); }, {}).figures;
    read.duration_s = measured_of_video_s;
    return measure::measure_waveform([&] { return media::open_sound(path, read); }, {}, table).figures;
}

/// What `measure` printed, or a recording to be measured.
quantity::Figures figures_of(const table::Table& table, const std::string& path, const std::string& input) {
    const std::string text = text_of(path, input);
    const std::size_t first = text.find_first_not_of(" \t\r\n");
    if (first != std::string::npos && text[first] == '{') {
        if (text.size() > largest_file)
            throw InputError(input, "is too large for measured figures", "name a smaller file");
        return report::read_figures(text, input);
    }
    return measured(table, path);
}

std::vector<Observation> captured(const table::Table& table, const Options& options) {
    const std::string input = "--capture " + options.capture;
    const std::vector<Observation> all =
        identify::observations_from(table, figures_of(table, options.capture, input), options.playing_as, input);
    if (all.empty())
        throw InputError(input, "shows nothing of what a tape is known by",
                         "measure more of it, or give other evidence with --observe");
    return all;
}

std::vector<Observation> observations_of(const table::Table& table, const Options& options) {
    std::vector<Observation> all;
    if (!options.capture.empty()) all = captured(table, options);
    if (!options.evidence.empty())
        for (Observation& seen : identify::read_evidence(table, document_of(options.evidence, "--evidence")))
            all.push_back(std::move(seen));
    for (const std::string& text : options.observed) all.push_back(identify::parse_observation(table, text));
    if (all.size() > most_observations)
        throw InputError("identify", "more observations than one tape can have", "give those of one tape, 200 at most");
    return all;
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    if (options.kinds) {
        session.out() << (session.json ? report::evidence_kinds_json(table) : report::evidence_kinds_text(table));
        return Done;
    }
    const table::Region* region =
        options.region.empty() ? nullptr : &identify::region_named(table, options.region, "--region");
    const std::vector<Observation> observations = observations_of(table, options);
    const identify::Models models(table, region);
    if (options.alike) {
        session.out() << (session.json ? report::alike_json(models) : report::alike_text(models));
        return Done;
    }
    identify::Prior prior(models);
    if (region != nullptr) prior.weigh(weights_of(models, *region));
    if (!options.prior.empty()) prior.weigh(read_prior(models, document_of(options.prior, "--prior")));
    std::vector<identify::Machine> shelf;
    if (!options.machines.empty()) shelf = identify::read_shelf(table, document_of(options.machines, "--machines"));
    const identify::Answer answer = answer_of(models, prior, observations);
    const std::vector<identify::Playable> plays = playable(shelf, answer);
    session.out() << (session.json ? report::identify_json(answer, models, plays)
                                   : report::identify_text(answer, models, plays));
    return Done;
}

}  // namespace

void add_identify_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand(
        "identify", "what a tape is, how sure, why, what contradicts it and what to measure next");
    command
        .add_option("--observe", options->observed,
                    "one thing that was observed, KIND=VALUE or KIND=VALUE@CONTEXT; may be repeated: "
                    "tape_width=12.65, control_track_rate=25.0±0.1@vhs:625/50:SP")
        .type_name("KIND=VALUE")
        .one_value_each_time();
    command.add_option("--evidence", options->evidence, "a TOML file of observations").type_name("FILE.toml");
    const Option capture = command.add_option(
        "--capture", options->capture,
        "a clip of it, a recording of composite video or of the control head's pulses, or what `guardband measure` "
        "printed as JSON");
    command
        .add_option("--playing-as", options->playing_as,
                    "the mode that the machine ran in during the capture, or its tape speed")
        .type_name("ADDRESS")
        .needs(capture);
    command.add_option("--prior", options->prior, "a TOML file of weights for formats, systems and modes")
        .type_name("FILE.toml");
    command.add_option("--region", options->region, "where the tape comes from: north-america, western-europe ...");
    command.add_option("--machines", options->machines, "a TOML file of machines: which of them plays the tape")
        .type_name("SHELF.toml");
    command.add_flag("--kinds", options->kinds, "explain every kind of evidence and how to measure it");
    command.add_flag("--alike", options->alike, "list the modes that nothing outside a machine tells apart");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
