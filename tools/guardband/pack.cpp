#include <memory>

#include "calc/pack_answer.h"
#include "guardband/command.h"
#include "guardband/tape_options.h"
#include "quantity/errors.h"
#include "quantity/measured.h"
#include "report/pack_report.h"

namespace guardband::command_line {
namespace {

using calc::PackQuery;

struct Options {
    TapeOptions tape;
    std::string at;
    int pulses = 1;
    bool explain = false;
};

PackQuery query_of(const table::Table& table, const Options& options) {
    PackQuery query;
    put_tape(table, options.tape, query);
    if (!options.at.empty()) {
        const quantity::Quantity at = quantity::parse_measured_time(options.at, "--at");
        query.at_s = calc::Input{at.value, at.uncertainty.value_or(0)};
    }
    if (options.pulses < 1)
        throw quantity::InputError("--pulses", "a reel gives at least one pulse a turn",
                                   "give a whole number from 1 on");
    query.pulses_per_turn = options.pulses;
    return query;
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    const PackQuery query = query_of(table, options);
    const calc::PackAnswer answer = calc::answer_of(table, query);
    session.out() << (session.json ? report::pack_json(answer, query, table, options.explain)
                                   : report::pack_text(answer, query, table, options.explain));
    return Done;
}

}  // namespace

void add_pack_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand(
        "pack",
        "tape wound on a hub: length, diameter, hub or thickness from the other three, what it plays, its reels");
    command.add_option("--format", options->tape.format, "a format's id or a name it goes by");
    command.add_option("--grade", options->tape.grade,
                       "the cassette's label, such as E-180: its length, hub and thickness");
    command.add_option("--outer", options->tape.outer, "diameter of the pack, measured across it: 83, 83.5±0.2 (mm)");
    command.add_option("--hub", options->tape.hub, "diameter of the bare hub (mm)");
    command.add_option("--thickness", options->tape.thickness, "total thickness of the tape (µm)");
    command.add_option("--length", options->tape.length, "tape on the reel: 258m, 847ft (metres if no unit is given)");
    command.add_option("--address", options->tape.address,
                       "one mode, FORMAT:SYSTEM:MODE, with its reels along the tape; else every mode of the format");
    command.add_option("--at", options->at,
                       "look at the reels at this time since the start: 1:02:30, 62:30 (m:ss), 62.5min (s if no unit)");
    command.add_option("--pulses", options->pulses, "pulses that a reel gives in one turn (1)");
    command.add_flag("--explain", options->explain, "how it was got: formulas, numbers, sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
