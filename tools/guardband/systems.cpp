#include <memory>

#include "guardband/command.h"
#include "quantity/errors.h"
#include "report/system_report.h"
#include "table/suggestion.h"

namespace guardband::command_line {
namespace {

using report::System;

struct Options {
    std::string id;
    bool csv = false;
};

std::vector<System> all_systems(const table::Table& table) {
    std::vector<System> systems;
    for (const auto& scanning : table.scannings) systems.emplace_back(&scanning);
    for (const auto& colour : table.colours) systems.emplace_back(&colour);
    for (const auto& transmission : table.transmissions) systems.emplace_back(&transmission);
    return systems;
}

/// A colour system before the scanning standard that goes by the same everyday word: who asks for PAL means the colour.
std::optional<System> find_system(const table::Table& table, const std::string& name) {
    if (const auto* colour = table.find_colour(name)) return colour;
    if (const auto* scanning = table.find_scanning(name)) return scanning;
    if (const auto* transmission = table.find_transmission(name)) return transmission;
    return std::nullopt;
}

System named_system(const table::Table& table, const std::string& name) {
    if (const auto found = find_system(table, name)) return *found;
    std::vector<std::string> known;
    for (const System& system : all_systems(table)) std::visit([&](const auto* s) { known.push_back(s->id); }, system);
    throw quantity::InputError("systems " + name, "no TV system of that name",
                               table::did_you_mean(name, known, "`guardband systems` lists those it knows"));
}

int show(Session& session, const Options& options) {
    expect_one_output(session, options.csv);
    const table::Table& table = session.table();
    const auto systems = options.id.empty() ? all_systems(table) : std::vector<System>{named_system(table, options.id)};
    if (session.json) session.out() << report::systems_json(table, systems);
    else if (options.csv) session.out() << report::systems_list_csv(table);
    else if (!options.id.empty()) session.out() << report::system_page_text(table, systems.front());
    else session.out() << report::systems_list_text(table);
    return Done;
}

}  // namespace

void add_systems_command(CLI::App& program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    CLI::App* command = program.add_subcommand("systems", "the TV systems of the table, or one of them with all its figures");
    command->add_option("ID", options->id, "a scanning standard, colour or transmission system, such as 625/50, PAL or M");
    command->add_flag("--csv", options->csv, "the list as comma-separated values");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
