#include <memory>

#include "guardband/command.h"
#include "report/format_report.h"

namespace guardband::command_line {
namespace {

struct Options {
    std::string id, system;
    bool csv = false;
};

bool runs_on(const table::TapeFormat& format, const table::Scanning& scanning) { return format.find_system(scanning.id) != nullptr; }

std::vector<const table::TapeFormat*> chosen(const table::Table& table, const Options& options) {
    if (!options.id.empty()) return {&table.format(options.id, "formats " + options.id)};
    const table::Scanning* scanning = options.system.empty() ? nullptr : &table.scanning(options.system, "--system " + options.system);
    std::vector<const table::TapeFormat*> formats;
    for (const table::TapeFormat& format : table.formats)
        if (scanning == nullptr || runs_on(format, *scanning)) formats.push_back(&format);
    return formats;
}

int show(Session& session, const Options& options) {
    expect_one_output(session, options.csv);
    const table::Table& table = session.table();
    const auto formats = chosen(table, options);
    if (session.json) session.out() << report::formats_json(formats);
    else if (options.csv) session.out() << report::formats_list_csv(formats);
    else if (!options.id.empty()) session.out() << report::format_page_text(table, *formats.front());
    else session.out() << report::formats_list_text(formats);
    return Done;
}

}  // namespace

void add_formats_command(CLI::App& program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    CLI::App* command = program.add_subcommand("formats", "the tape formats of the table, or one of them with all its figures");
    command->add_option("ID", options->id, "a format's id or a name it goes by, such as vhs or Betamax");
    command->add_option("--system", options->system, "only formats that exist on this system: 525/60, 625/50, NTSC, PAL");
    command->add_flag("--csv", options->csv, "the list as comma-separated values");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
