#include <algorithm>
#include <memory>

#include "calc/closure.h"
#include "guardband/command.h"
#include "guardband/page_folder.h"
#include "quantity/errors.h"
#include "report/closure_report.h"
#include "report/comparison.h"
#include "report/drawing/footprint_drawing.h"
#include "report/drawing/line_drawing.h"
#include "report/format_report.h"
#include "report/html_pages.h"
#include "report/json.h"
#include "report/search_report.h"
#include "report/table_schema.h"
#include "table/figure_search.h"

namespace guardband::command_line {
namespace {

struct Options {
    std::string id, system, html;
    std::vector<std::string> compare, where;
    bool keys = false, schema = false;
    bool check = false, all = false, enforce = false;
    bool csv = false;
};

bool runs_on(const table::TapeFormat& format, const table::Scanning& scanning) {
    return format.find_system(scanning.id) != nullptr;
}

/// The scanning standard of `--system`, or nullptr.
const table::Scanning* wanted_scanning(const table::Table& table, const Options& options) {
    return options.system.empty() ? nullptr : &table.scanning(options.system, "--system " + options.system);
}

std::vector<const table::TapeFormat*> chosen(const table::Table& table, const Options& options) {
    if (!options.id.empty()) return {&table.format(options.id, "formats " + options.id)};
    const table::Scanning* scanning = wanted_scanning(table, options);
    std::vector<const table::TapeFormat*> formats;
    for (const table::TapeFormat& format : table.formats)
        if (scanning == nullptr || runs_on(format, *scanning)) formats.push_back(&format);
    return formats;
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    const auto formats = chosen(table, options);
    if (session.json)
        session.out() << report::formats_json(table, formats);
    else if (options.csv)
        session.out() << report::formats_list_csv(formats);
    else if (!options.id.empty())
        session.out() << report::format_page_text(table, *formats.front());
    else
        session.out() << report::formats_list_text(table, formats);
    return Done;
}

/// A format, or one mode of it when its address is given.
report::Subject subject_of(const table::Table& table, const std::string& name) {
    const std::string input = "--compare " + name;
    if (name.find(':') == std::string::npos) {
        const table::TapeFormat& format = table.format(name, input);
        return {format.id, &format, nullptr, {}};
    }
    const auto [format, mode] = table.at(name, input);
    return {address_of(*format, *mode), format, mode, {}};
}

int compare(Session& session, const Options& options) {
    std::vector<report::Subject> subjects;
    for (const std::string& name : options.compare) subjects.push_back(subject_of(session.table(), name));
    session.out() << (session.json ? report::comparison_json(session.table(), subjects)
                                   : report::comparison_text(session.table(), subjects));
    return Done;
}

int search(Session& session, const Options& options) {
    std::vector<table::Condition> conditions;
    for (const std::string& text : options.where) conditions.push_back(table::parse_condition(text, "--where"));
    const table::Table& table = session.table();
    const table::Scanning* scanning = wanted_scanning(table, options);
    const auto findings = table::search(table, conditions, scanning == nullptr ? "" : scanning->id);
    if (session.json)
        session.out() << report::search_json(table, conditions, findings);
    else if (options.csv)
        session.out() << report::search_csv(conditions, findings);
    else
        session.out() << report::search_text(table, conditions, findings);
    return Done;
}

int list_keys(Session& session) {
    session.out() << (session.json ? report::keys_json() : report::keys_text());
    return Done;
}

/// A drawing, or nothing where the table has too little for one.
template <typename Draw>
std::string svg_or_nothing(Draw draw) {
    try {
        return draw().svg;
    } catch (const quantity::InputError&) {
        return "";
    }
}

report::PageDrawings drawings_of(const table::Table& table) {
    const std::string input = "--html";
    return {[&table, input](const table::TapeFormat& format, const table::Mode& mode) {
                return svg_or_nothing([&] { return report::drawing::footprint_drawing(table, format, mode, input); });
            },
            [&table, input](const std::string& system) {
                return svg_or_nothing([&] { return report::drawing::line_drawing(table, system, input); });
            }};
}

int write_pages(Session& session, const Options& options) {
    const auto pages = report::html_pages(session.table(), drawings_of(session.table()));
    write_page_folder(options.html, pages, "--html " + options.html);
    if (session.json)
        session.out() << report::to_text(report::Json{{"folder", options.html}, {"files", pages.size()}});
    else
        session.out() << pages.size() << " files in " << options.html << "; begin with " << options.html
                      << "/index.html\n";
    return Done;
}

int print_schema(Session& session) {
    session.out() << report::to_text(report::files_schema());
    return Done;
}

/// The figures of the formats chosen held against each other. With --enforce a difference that no file explains is
/// status 3.
int check(Session& session, const Options& options) {
    const table::Table& table = session.table();
    std::vector<calc::Closure> closures;
    for (const table::TapeFormat* format : chosen(table, options))
        std::ranges::move(calc::closures_of(table, *format), std::back_inserter(closures));
    if (session.json)
        session.out() << report::closures_json(closures, table.edition);
    else if (options.csv)
        session.out() << report::closures_csv(closures);
    else
        session.out() << report::closures_text(closures, table.edition, options.all);
    return options.enforce && std::ranges::any_of(closures, &calc::Closure::is_fault) ? OutsideLimits : Done;
}

/// Of the things that the command can do, one at a time.
void expect_one_task(const Options& options) {
    std::vector<std::string> tasks;
    if (!options.id.empty() && !options.check) tasks.emplace_back("an ID");
    if (!options.compare.empty()) tasks.emplace_back("--compare");
    if (!options.where.empty()) tasks.emplace_back("--where");
    if (options.keys) tasks.emplace_back("--keys");
    if (!options.html.empty()) tasks.emplace_back("--html");
    if (options.schema) tasks.emplace_back("--schema");
    if (options.check) tasks.emplace_back("--check");
    if (tasks.size() > 1)
        throw quantity::InputError("formats", tasks[0] + " and " + tasks[1] + " can't be given together",
                                   "leave one out");
}

int run(Session& session, const Options& options) {
    expect_one_output(session, options.csv);
    expect_one_task(options);
    if ((options.enforce || options.all) && !options.check)
        throw quantity::InputError(options.enforce ? "--enforce" : "--all", "goes with --check", "add --check");
    if (options.check) return check(session, options);
    if (!options.compare.empty()) return compare(session, options);
    if (!options.where.empty()) return search(session, options);
    if (options.keys) return list_keys(session);
    if (!options.html.empty()) return write_pages(session, options);
    if (options.schema) return print_schema(session);
    return show(session, options);
}

}  // namespace

void add_formats_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command =
        program.add_subcommand("formats", "the tape formats of the table, or one of them with all its figures");
    command.add_option("ID", options->id, "a format's id or a name it goes by, such as vhs or Betamax");
    command.add_option("--system", options->system,
                       "only formats that exist on this system: 525/60, 625/50, NTSC, PAL");
    command
        .add_option("--compare", options->compare,
                    "two or three formats, or addresses of modes, side by side with their differences marked")
        .type_name("ID")
        .expected(2, 3);
    command
        .add_option("--where", options->where,
                    "where the table has this figure: tape_width=12.65, drum_diameter=62±0.5, coating=metal; again "
                    "for more conditions")
        .type_name("KEY=VALUE")
        .one_value_each_time();
    command.add_flag("--keys", options->keys, "the keys that --where takes, with their units");
    command.add_option("--html", options->html, "write the whole table as pages to browse into this folder")
        .type_name("DIR");
    command.add_flag("--schema", options->schema,
                     "the JSON Schema of the table's TOML files, for editors and other programs");
    command.add_flag(
        "--check", options->check,
        "hold the figures against each other: pitch, writing speed, angles, running times, packs, carriers");
    command.add_flag("--all", options->all, "with --check: every check, not only those that differ");
    command.add_flag("--enforce", options->enforce, "with --check: end with status 3 if a difference is not explained");
    command.add_flag("--csv", options->csv, "the list as comma-separated values");
    set_action(command, [&session, options] { return run(session, *options); });
}

}  // namespace guardband::command_line
