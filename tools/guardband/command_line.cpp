#include "guardband/command_line.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <exception>

#include "guardband/command.h"
#include "guardband/help_text.h"
#include "quantity/errors.h"
#include "report/figure_page.h"
#include "table/suggestion.h"

namespace guardband::command_line {
namespace {

/// The parser with all commands.
class Program {
public:
    explicit Program(const Streams& streams)
        : session_(streams), app_("Which tape is it, how long does it run, is the capture faithful?", "guardband") {
        app_.formatter(help_text());
        app_.require_subcommand(1);
        app_.fallthrough();
        app_.set_version_flag("--version", [] {
            return "guardband " GUARDBAND_VERSION "\n" + report::edition_text(table::load_table().edition);
        });
        app_.add_flag("--json", session_.json, "one JSON object on standard output, nothing else there");
        app_.add_option("--formats", session_.format_folders, "a folder of format files to add to the built-in table")
            ->type_name("DIR")
            ->allow_extra_args(false);
        const SetAction set_action = [this](const Command& command, std::function<int()> action) {
            command.on_given([this, action = std::move(action)] { action_ = action; });
        };
        const Command program(&app_);
        add_formats_command(program, session_, set_action);
        add_systems_command(program, session_, set_action);
        add_runtime_command(program, session_, set_action);
        add_pack_command(program, session_, set_action);
        add_counter_command(program, session_, set_action);
        add_identify_command(program, session_, set_action);
        add_measure_command(program, session_, set_action);
        add_track_command(program, session_, set_action);
        add_beat_command(program, session_, set_action);
        add_draw_command(program, session_, set_action);
        add_convert_command(program, session_, set_action);
        add_storage_command(program, session_, set_action);
    }

    int run(std::vector<std::string> arguments) {
        expect_known_command(arguments);
        std::ranges::reverse(arguments);  // the order in which CLI11 takes a vector
        app_.parse(arguments);
        return action_ ? action_() : static_cast<int>(Done);
    }

    CLI::App& app() { return app_; }

private:
    /// CLI11 would call a mistyped command an unexpected argument; we can do better.
    void expect_known_command(const std::vector<std::string>& arguments) {
        if (arguments.empty())
            throw quantity::InputError("guardband", "no command given", "`guardband --help` lists them");
        const std::string& first = arguments.front();
        if (first.starts_with("-")) return;
        const std::vector<std::string> names = Command(&app_).subcommand_names();
        if (std::ranges::find(names, first) == names.end())
            throw quantity::InputError("guardband", "no command \"" + first + "\"",
                                       table::did_you_mean(first, names, "`guardband --help` lists them"));
    }

    Session session_;
    CLI::App app_;
    std::function<int()> action_;
};

int fail(const Streams& streams, const std::string& line, int status) {
    std::string text = line;
    std::ranges::replace(text, '\n', ' ');
    streams.err << text << "\n";
    return status;
}

}  // namespace

const table::Table& Session::table() {
    if (!table_) table_ = table::load_table(format_folders);
    return *table_;
}

void expect_one_output(const Session& session, bool csv) {
    if (session.json && csv)
        throw quantity::InputError("--csv", "can't be given together with --json", "leave one out");
}

int run(const std::vector<std::string>& arguments, const Streams& streams) {
    try {
        Program program(streams);
        try {
            return program.run(arguments);
        } catch (const CLI::CallForHelp& e) {
            streams.out << program.app().help();
            return Done;
        } catch (const CLI::CallForVersion& e) {
            streams.out << e.what() << "\n";
            return Done;
        } catch (const CLI::ParseError& e) {
            return fail(streams,
                        std::string("guardband: ") + e.what() + "; see `guardband " +
                            (arguments.empty() || arguments.front().starts_with("-") ? "" : arguments.front() + " ") +
                            "--help`",
                        UnusableInput);
        }
    } catch (const quantity::InputError& e) {
        return fail(streams, e.what(), UnusableInput);
    } catch (const std::bad_alloc&) {
        return fail(streams, "guardband: out of memory", OwnFault);
    } catch (const std::exception& e) {
        return fail(streams, std::string("guardband: a fault of the program's own: ") + e.what(), OwnFault);
    }
}

}  // namespace guardband::command_line
