#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "guardband/command_line.h"
#include "guardband/syntax.h"
#include "table/table.h"

namespace guardband::command_line {

/// What all commands share: the common options and the table, which is read when the first command asks for it.
class Session {
public:
    explicit Session(const Streams& streams) : streams_(streams) {}

    std::ostream& out() const { return streams_.out; }
    std::ostream& err() const { return streams_.err; }
    bool err_is_terminal() const { return streams_.err_is_terminal; }
    const table::Table& table();

    bool json = false;
    std::vector<std::string> format_folders;

private:
    const Streams& streams_;
    std::optional<table::Table> table_;
};

/// Adds a command to the program. Its callback runs after parsing and returns the exit status.
using SetAction = std::function<void(const Command& command, std::function<int()> action)>;

void add_formats_command(Command program, Session& session, const SetAction& set_action);
void add_systems_command(Command program, Session& session, const SetAction& set_action);
void add_runtime_command(Command program, Session& session, const SetAction& set_action);
void add_pack_command(Command program, Session& session, const SetAction& set_action);
void add_counter_command(Command program, Session& session, const SetAction& set_action);
void add_measure_command(Command program, Session& session, const SetAction& set_action);
void add_convert_command(Command program, Session& session, const SetAction& set_action);
void add_storage_command(Command program, Session& session, const SetAction& set_action);
void add_track_command(Command program, Session& session, const SetAction& set_action);
void add_beat_command(Command program, Session& session, const SetAction& set_action);
void add_identify_command(Command program, Session& session, const SetAction& set_action);
void add_draw_command(Command program, Session& session, const SetAction& set_action);

/// @throws InputError if both were asked for: only one can go to standard output
void expect_one_output(const Session& session, bool csv);

}  // namespace guardband::command_line
