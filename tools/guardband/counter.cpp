#include <memory>

#include "calc/counter_answer.h"
#include "guardband/command.h"
#include "guardband/tape_options.h"
#include "guardband/whole_file.h"
#include "quantity/errors.h"
#include "quantity/measured.h"
#include "report/counter_report.h"
#include "report/drawing/counter_card.h"

namespace guardband::command_line {
namespace {

using calc::CounterQuery;
using quantity::InputError;

struct Options {
    TapeOptions tape;
    std::string reel = "take-up", ratio, reading, time, file;
    std::vector<std::string> pairs;
    bool card = false, explain = false;
};

calc::Input number_given(const std::string& text, const std::string& option) {
    const quantity::Quantity number = quantity::parse_measured(text, quantity::no_unit(), option);
    return {number.value, number.uncertainty.value_or(0)};
}

calc::Input time_given(const std::string& text, const std::string& option) {
    const quantity::Quantity time = quantity::parse_measured_time(text, option);
    return {time.value, time.uncertainty.value_or(0)};
}

calc::CounterPair pair_given(const std::string& text) {
    const std::string option = "--calibrate " + text;
    const std::size_t sign = text.find('=');
    if (sign == std::string::npos || sign == 0 || sign + 1 == text.size())
        throw InputError(option, "not a reading and a time", "write READING=TIME, such as 1234=1:02:30");
    const calc::Input reading = number_given(text.substr(0, sign), option);
    const calc::Input time = time_given(text.substr(sign + 1), option);
    return {reading.value, reading.half_width, time.value, time.half_width};
}

std::optional<double> ratio_given(const Options& options) {
    if (options.ratio.empty()) return std::nullopt;
    if (!options.pairs.empty())
        throw InputError("--ratio", "can't be given together with --calibrate",
                         "the pairs tell the counts a turn; leave one out");
    const double ratio = number_given(options.ratio, "--ratio").value;
    if (!(ratio > 0))
        throw InputError("--ratio", "counts a turn must be above 0", "count them over ten turns of the reel");
    return ratio;
}

calc::CountedReel reel_given(const std::string& reel) {
    if (reel == "take-up") return calc::CountedReel::TakeUp;
    if (reel == "supply") return calc::CountedReel::Supply;
    throw InputError("--reel " + reel, "no such reel", "take-up or supply");
}

CounterQuery query_of(const table::Table& table, const Options& options) {
    CounterQuery query;
    put_tape(table, options.tape, query);
    query.reel = reel_given(options.reel);
    for (const std::string& pair : options.pairs) query.pairs.push_back(pair_given(pair));
    query.counts_per_turn = ratio_given(options);
    if (!options.reading.empty() && !options.time.empty())
        throw InputError("--reading", "can't be given together with --time",
                         "one is worked out from the other; a pair of both goes to --calibrate");
    if (!options.reading.empty()) query.reading = number_given(options.reading, "--reading");
    if (!options.time.empty()) query.time_s = time_given(options.time, "--time");
    return query;
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    const CounterQuery query = query_of(table, options);
    const calc::CounterAnswer answer = calc::answer_of(table, query);
    std::optional<calc::CounterCard> card;
    if (options.card || !options.file.empty()) card = card_of(answer, query, report::drawing::card_rows);
    if (!options.file.empty())
        write_whole_file(options.file, report::counter_card_drawing(answer, query, *card, table).svg,
                         "-o " + options.file);
    const calc::CounterCard* shown = options.card ? &*card : nullptr;
    session.out() << (session.json ? report::counter_json(answer, query, shown, table, options.explain)
                                   : report::counter_text(answer, query, shown, table, options.explain));
    return Done;
}

}  // namespace

void add_counter_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand(
        "counter", "a counter that a reel drives: its reading into time and back, calibrated by pairs of both");
    command.add_option("--format", options->tape.format, "a format's id or a name it goes by");
    command.add_option("--grade", options->tape.grade,
                       "the cassette's label, such as E-180: its hub, thickness, length");
    command.add_option("--address", options->tape.address, "the mode that the tape runs in, FORMAT:SYSTEM:MODE");
    command.add_option("--reading", options->reading, "what the counter reads, to be turned into time");
    command.add_option("--time", options->time,
                       "time since 0, to be turned into a reading: 1:02:30, 62:30 (m:ss), 62.5min (s if no unit)");
    command
        .add_option("--calibrate", options->pairs,
                    "a reading and the time that belongs to it, 1234=1:02:30; as often as there are pairs")
        .type_name("READING=TIME")
        .one_value_each_time();
    command.add_option("--ratio", options->ratio, "counts a turn of the reel, where no pair tells it (1)");
    command.add_option("--reel", options->reel, "the reel that drives it: take-up or supply (take-up)");
    command.add_option("--hub", options->tape.hub, "diameter of the bare hub, where the table lacks it (mm)");
    command.add_option("--thickness", options->tape.thickness, "total thickness of the tape (µm)");
    command.add_option("--length", options->tape.length, "length of the tape (m)");
    command.add_flag("--card", options->card, "a lookup card of time against reading");
    command.add_option("-o,--output", options->file, "an SVG file to write the card to, A6 across").type_name("FILE");
    command.add_flag("--explain", options->explain, "how it was got: formulas, numbers, sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
