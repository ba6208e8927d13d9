#include <memory>

#include "guardband/command.h"
#include "quantity/errors.h"
#include "report/comparison.h"
#include "report/system_report.h"
#include "table/suggestion.h"

namespace guardband::command_line {
namespace {

using report::System;

struct Options {
    std::string id;
    std::vector<std::string> compare;
    bool csv = false;
};

/// A colour system before the scanning standard that goes by the same everyday word: who asks for PAL means the colour.
std::optional<System> find_system(const table::Table& table, const std::string& name) {
    if (const auto* colour = table.find_colour(name)) return colour;
    if (const auto* scanning = table.find_scanning(name)) return scanning;
    if (const auto* transmission = table.find_transmission(name)) return transmission;
    return std::nullopt;
}

System named_system(const table::Table& table, const std::string& name, const std::string& input) {
    if (const auto found = find_system(table, name)) return *found;
    std::vector<std::string> known;
    for (const System& system : report::all_systems(table)) known.push_back(report::id_of(system));
    throw quantity::InputError(input + " " + name, "no TV system of that name",
                               table::did_you_mean(name, known, "`guardband systems` lists those it knows"));
}

int compare(Session& session, const Options& options) {
    if (!options.id.empty() || options.csv)
        throw quantity::InputError("--compare", "can't be given together with an ID or --csv", "leave them out");
    std::vector<report::Subject> subjects;
    for (const std::string& name : options.compare) {
        const System system = named_system(session.table(), name, "--compare");
        subjects.push_back({report::id_of(system), nullptr, nullptr, system});
    }
    session.out() << (session.json ? report::comparison_json(session.table(), subjects)
                                   : report::comparison_text(session.table(), subjects));
    return Done;
}

int show(Session& session, const Options& options) {
    expect_one_output(session, options.csv);
    if (!options.compare.empty()) return compare(session, options);
    const table::Table& table = session.table();
    const auto systems = options.id.empty() ? report::all_systems(table)
                                            : std::vector<System>{named_system(table, options.id, "systems")};
    if (session.json)
        session.out() << report::systems_json(table, systems);
    else if (options.csv)
        session.out() << report::systems_list_csv(table);
    else if (!options.id.empty())
        session.out() << report::system_page_text(table, systems.front());
    else
        session.out() << report::systems_list_text(table);
    return Done;
}

}  // namespace

void add_systems_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command =
        program.add_subcommand("systems", "the TV systems of the table, or one of them with all its figures");
    command.add_option("ID", options->id,
                       "a scanning standard, colour or transmission system, such as 625/50, PAL or M");
    command
        .add_option("--compare", options->compare, "two or three systems side by side, with their differences marked")
        .type_name("ID")
        .expected(2, 3);
    command.add_flag("--csv", options->csv, "the list as comma-separated values");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
