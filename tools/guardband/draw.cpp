#include <memory>

#include "guardband/command.h"
#include "guardband/whole_file.h"
#include "quantity/errors.h"
#include "report/drawing/footprint_drawing.h"
#include "report/drawing/line_drawing.h"
#include "report/json.h"

namespace guardband::command_line {
namespace {

using report::drawing::Drawing;

struct Options {
    std::string what, file;
};

Drawing footprint(const table::Table& table, const std::string& address) {
    const std::string input = "draw footprint " + address;
    const auto [format, mode] = table.at(address, input);
    return report::drawing::footprint_drawing(table, *format, *mode, input);
}

Drawing line(const table::Table& table, const std::string& system) {
    return report::drawing::line_drawing(table, system, "draw line " + system);
}

int deliver(Session& session, const Drawing& drawing, const Options& options) {
    write_whole_file(options.file, drawing.svg, "-o " + options.file);
    if (session.json)
        session.out() << report::to_text(report::Json{
            {"file", options.file}, {"left_out", drawing.missing}, {"table_version", session.table().edition.version}});
    return Done;
}

void add_kind(Command draw, Session& session, const SetAction& set_action, const char* name, const char* help,
              const char* what, const char* what_help, Drawing (*make)(const table::Table&, const std::string&)) {
    auto options = std::make_shared<Options>();
    const Command command = draw.add_subcommand(name, help);
    command.add_option(what, options->what, what_help).required();
    command.add_option("-o,--output", options->file, "the SVG file to write").required().type_name("FILE");
    set_action(command,
               [&session, options, make] { return deliver(session, make(session.table(), options->what), *options); });
}

}  // namespace

void add_draw_command(Command program, Session& session, const SetAction& set_action) {
    const Command draw = program.add_subcommand("draw", "technical drawings to scale, as SVG");
    draw.require_subcommand();
    add_kind(draw, session, set_action, "footprint", "the tracks of a mode on the tape", "ADDRESS",
             "the mode: FORMAT:SYSTEM:MODE, such as vhs:625/50:SP", footprint);
    add_kind(draw, session, set_action, "line", "one line of a system's signal and its field blanking", "SYSTEM",
             "a colour system or a scanning standard: NTSC, PAL, 405/50 ...", line);
}

}  // namespace guardband::command_line
