#include <memory>

#include "calc/running_time.h"
#include "calc/running_time_comparison.h"
#include "guardband/command.h"
#include "guardband/whole_file.h"
#include "quantity/errors.h"
#include "report/drawing/running_time_drawing.h"
#include "report/running_time_comparison.h"
#include "report/running_time_report.h"

namespace guardband::command_line {
namespace {

struct Options {
    std::string format, grade, length, system, mode;
    std::string drawing;
    bool csv = false, compare = false, explain = false;
};

calc::RunningTimeQuery query_of(const table::Table& table, const Options& options) {
    calc::RunningTimeQuery query;
    if (!options.format.empty()) query.format = &table.format(options.format, "--format " + options.format);
    if (!options.grade.empty()) query.grade = options.grade;
    if (!options.length.empty())
        query.length = quantity::parse_quantity(options.length, quantity::unit_named("m"), "--length");
    if (!options.system.empty()) query.system = &table.scanning(options.system, "--system " + options.system);
    if (!options.mode.empty()) query.mode = options.mode;
    return query;
}

std::string with_word(const std::string& meant, const std::string& given) {
    return meant == given ? meant : meant + " (given as " + given + ")";
}

report::RunningTimePreface preface_of(const calc::RunningTimeQuery& query, const Options& options) {
    report::RunningTimePreface preface;
    if (query.format != nullptr) preface.filters.push_back("format " + with_word(query.format->id, options.format));
    if (query.grade) preface.filters.push_back("cassette " + *query.grade);
    if (query.length)
        preface.filters.push_back("length " + quantity::shortest(query.length->in("m")) + " m" +
                                  (query.length->unit->name == "m" ? "" : " (given as " + options.length + ")"));
    if (query.system != nullptr) preface.filters.push_back("machine of " + with_word(query.system->id, options.system));
    if (query.mode) preface.filters.push_back("mode " + *query.mode);
    return preface;
}

void expect_fit_to_compare(const Options& options) {
    if (!options.compare && !options.drawing.empty())
        throw quantity::InputError("-o", "is for the drawing of a comparison", "add --compare");
    if (!options.compare) return;
    if (!options.grade.empty() || !options.length.empty())
        throw quantity::InputError("--compare", "takes each format's own cassettes",
                                   "leave out --grade and --length; choose with --format, --system, --mode");
    if (options.csv || options.explain)
        throw quantity::InputError("--compare", "can't be given together with --csv or --explain",
                                   "leave out --compare for these");
}

int compare(Session& session, const Options& options) {
    const table::Table& table = session.table();
    const auto formats = calc::compared_running_times(table, calc::running_times(table, query_of(table, options)));
    if (!options.drawing.empty()) {
        if (formats.empty())
            throw quantity::InputError("--compare", "nothing in the table fits all of these", "ask for less");
        write_whole_file(options.drawing, report::drawing::running_time_drawing(formats, table.edition),
                         "-o " + options.drawing);
    }
    if (session.json)
        session.out() << report::running_time_comparison_json(formats, table.edition);
    else if (options.drawing.empty())
        session.out() << report::running_time_comparison_text(formats, table.edition);
    return Done;
}

int show(Session& session, const Options& options) {
    expect_one_output(session, options.csv);
    expect_fit_to_compare(options);
    if (options.compare) return compare(session, options);
    if (!options.grade.empty() && !options.length.empty())
        throw quantity::InputError("--length", "can't be given together with --grade",
                                   "a grade has a length already; leave one out");
    const calc::RunningTimeQuery query = query_of(session.table(), options);
    const auto rows = calc::running_times(session.table(), query);
    if (session.json)
        session.out() << report::running_times_json(rows, session.table().edition, options.explain);
    else if (options.csv)
        session.out() << report::running_times_csv(rows);
    else
        session.out() << report::running_times_text(rows, preface_of(query, options), session.table(), options.explain);
    return Done;
}

}  // namespace

void add_runtime_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand(
        "runtime", "how long a cassette or a length of tape runs, in every mode that the filters leave");
    command.add_option("--format", options->format, "a format's id or a name it goes by");
    command.add_option("--grade", options->grade, "the cassette's label, such as E-180 or L-750");
    command.add_option("--length", options->length,
                       "a length of tape instead: 246m, 810ft, 250±2 (metres if no unit is given)");
    command.add_option("--system", options->system,
                       "the machine's system: 525/60, 625/50, NTSC, PAL; the cassette may be of the other");
    command.add_option("--mode", options->mode, "the mode: SP, LP, II ...");
    command.add_flag("--csv", options->csv, "comma-separated values");
    command.add_flag("--compare", options->compare,
                     "formats side by side: bars of the common and of the longest cassette of each");
    command.add_option("-o,--output", options->drawing, "with --compare: an SVG file to draw it in").type_name("FILE");
    command.add_flag("--explain", options->explain, "show the formula with the numbers put in, and their sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
