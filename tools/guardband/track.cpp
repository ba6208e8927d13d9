#include <cmath>
#include <iterator>
#include <memory>
#include <tuple>

#include "calc/track_working.h"
#include "guardband/command.h"
#include "quantity/errors.h"
#include "report/track_report.h"

namespace guardband::command_line {
namespace {

using calc::Input;
using quantity::InputError;

struct Options {
    std::string address, played_by, head_width, shuttle, spacing, gap, error_angle, thickness;
    bool losses = false, explain = false;
};

constexpr double fastest_shuttle = 1000;  // times play; beyond any machine

Input amount(const std::string& text, const char* unit, const std::string& option) {
    const quantity::Quantity read = quantity::parse_quantity(text, quantity::unit_named(unit), option);
    return {read.in(unit), read.uncertainty_in(quantity::unit_named(unit)).value_or(0)};
}

/// A length that is not negative, or not 0 either.
Input length_um(const std::string& text, const std::string& option, bool may_be_nought = true) {
    const Input input = amount(text, "µm", option);
    if (input.value < 0 || (input.value == 0 && !may_be_nought))
        throw InputError(option, "\"" + text + "\" is " + (input.value < 0 ? "negative" : "nothing"),
                         "give a length above 0, such as 0.3um");
    if (input.half_width > input.value)
        throw InputError(option, "\"" + text + "\" may be below 0", "give an uncertainty smaller than the length");
    return input;
}

double times_play(std::string text) {
    for (const std::string_view sign : {"x", "×"})
        if (text.ends_with(sign)) text.erase(text.size() - sign.size());
    const quantity::Quantity read = quantity::parse_quantity(text, quantity::no_unit(), "--shuttle");
    if (read.uncertainty || std::abs(read.value) > fastest_shuttle)
        throw InputError("--shuttle", "\"" + text + "\" is no speed that can be worked with",
                         "give times play from -1000 to 1000, such as 9 or -7");
    return read.value;
}

void expect_moving_heads(const table::TapeFormat& format, const table::Mode& mode, const std::string& option) {
    const table::Fact* recording = format.facts.known("recording");
    if (recording != nullptr && recording->printed == "fixed head")
        throw InputError(option, "the heads of " + address_of(format, mode) + " stand still and cross no tracks",
                         "leave it out");
}

calc::Playback playback_of(const table::Table& table, const report::TrackAnswer& answer, const Options& options) {
    calc::PlaybackQuery query{answer.format, answer.mode, nullptr, nullptr, {}};
    std::string input = "--head-width " + options.head_width;
    if (!options.head_width.empty()) query.head_um = length_um(options.head_width, "--head-width", false);
    if (!options.played_by.empty()) {
        input = "--played-by " + options.played_by;
        std::tie(query.machine_format, query.machine_mode) = table.at(options.played_by, input);
    }
    expect_moving_heads(*answer.format, *answer.mode, input);
    if (query.machine_mode != nullptr) expect_moving_heads(*query.machine_format, *query.machine_mode, input);
    return calc::playback(table, query, input);
}

/// What the azimuth error works on: the head's width, else the mode's track.
Input width_read(const table::Table& table, const report::TrackAnswer& answer, const Options& options) {
    if (!options.head_width.empty()) return length_um(options.head_width, "--head-width", false);
    const auto width = calc::track_width_of(table, *answer.format, *answer.mode);
    if (width) return width->um;
    throw InputError("--error-angle", "the table gives neither track width nor pitch of this mode",
                     "give --head-width");
}

calc::LossQuery losses_of(const table::Table& table, const report::TrackAnswer& answer, const Options& options) {
    calc::LossQuery query;
    if (!options.spacing.empty()) query.spacing_um = length_um(options.spacing, "--spacing");
    if (!options.gap.empty()) query.gap_um = length_um(options.gap, "--gap");
    if (!options.thickness.empty()) query.thickness_um = length_um(options.thickness, "--thickness");
    if (!options.error_angle.empty()) {
        query.error_angle_deg = amount(options.error_angle, "deg", "--error-angle");
        if (std::abs(query.error_angle_deg->value) + query.error_angle_deg->half_width >= 90)
            throw InputError("--error-angle", "\"" + options.error_angle + "\" is no error of azimuth",
                             "give an angle below 90 degrees, such as 0.1 or 5arcmin");
        query.width_um = width_read(table, answer, options);
    }
    if (!query.spacing_um && !query.gap_um && !query.thickness_um && !query.error_angle_deg)
        throw InputError("--losses", "nothing is given that loses",
                         "give one or more of --spacing, --gap, --error-angle, --thickness");
    return query;
}

void add_working(report::TrackAnswer& answer, const table::Table& table) {
    const auto append = [&](calc::Working steps) {
        answer.working.insert(answer.working.end(), std::make_move_iterator(steps.begin()),
                              std::make_move_iterator(steps.end()));
    };
    if (!answer.playback && !answer.shuttle && !answer.losses)
        append(calc::track_working(table, *answer.format, *answer.mode));
    if (answer.playback || answer.losses) append(calc::carriers_working(table, *answer.format, *answer.mode));
    if (answer.playback) append(calc::playback_working(*answer.playback));
    if (answer.shuttle)
        append(calc::shuttle_working(*answer.shuttle, calc::track_facts(table, *answer.format, *answer.mode)));
    if (answer.losses) append(calc::losses_working(*answer.losses, answer.loss_query));
}

/// Tracks are counted with a developing fluid; heads and their spacing are looked at in an open machine.
std::vector<std::string> cautions_of(const Options& options) {
    if (options.losses) return {"mains", "rotating-drum"};
    return options.played_by.empty() && options.head_width.empty() && options.shuttle.empty()
               ? std::vector<std::string>{"solvents"}
               : std::vector<std::string>{};
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    report::TrackAnswer answer;
    std::tie(answer.format, answer.mode) = table.at(options.address, "track " + options.address);
    answer.tracks = calc::track_geometry(table, *answer.format, *answer.mode);
    answer.carriers = calc::carriers_of(table, *answer.format, *answer.mode);
    answer.checks = calc::closures_of(table, *answer.format, *answer.mode);
    if (!options.played_by.empty() || (!options.head_width.empty() && !options.losses))
        answer.playback = playback_of(table, answer, options);
    if (!options.shuttle.empty()) {
        expect_moving_heads(*answer.format, *answer.mode, "--shuttle");
        answer.shuttle = calc::shuttle(table, *answer.format, *answer.mode, times_play(options.shuttle));
    }
    if (options.losses) {
        answer.loss_query = losses_of(table, answer, options);
        answer.losses = calc::losses_at_carriers(table, *answer.format, *answer.mode, answer.loss_query);
    }
    if (options.explain) add_working(answer, table);
    answer.cautions = cautions_of(options);
    session.out() << (session.json ? report::track_json(answer, table) : report::track_text(answer, table));
    return Done;
}

}  // namespace

void add_track_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand(
        "track", "the tracks of a mode: pitch, angles, writing speed, wavelengths; what another head reads of them");
    command.add_option("ADDRESS", options->address, "the mode: FORMAT:SYSTEM:MODE, such as vhs:625/50:LP").required();
    command.add_option("--played-by", options->played_by, "a mode whose machine plays the tape: ADDRESS")
        .type_name("ADDRESS");
    command.add_option("--head-width", options->head_width, "width of the head that plays it: 58, 58±2 (µm)")
        .type_name("UM");
    command.add_option("--shuttle", options->shuttle, "noise bars at X times play: 9, -7, 0 for a still picture")
        .type_name("X");
    const Option losses =
        command.add_flag("--losses", options->losses, "losses at each carrier, for one or more of the following");
    command.add_option("--spacing", options->spacing, "between head and tape: 0.1, 100nm ... (µm)")
        .type_name("UM")
        .needs(losses);
    command.add_option("--gap", options->gap, "effective length of the head's gap: 0.3 (µm)")
        .type_name("UM")
        .needs(losses);
    command.add_option("--error-angle", options->error_angle, "error of the gap's azimuth: 0.1, 5arcmin (degrees)")
        .type_name("DEG")
        .needs(losses);
    command.add_option("--thickness", options->thickness, "of what is recorded of the coating: 0.5 (µm)")
        .type_name("UM")
        .needs(losses);
    command.add_flag("--explain", options->explain, "how each figure was got: formula, numbers, sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
