#pragma once

#include <functional>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

/// How a command is written: a thin face before the option parser, whose templates are thus compiled in one file and
/// not once in each command.
namespace guardband::command_line {

/// An option or argument of a command, to say more of it.
class Option {
public:
    explicit Option(CLI::Option* option) : option_(option) {}

    const Option& required() const;
    /// What the help calls its value.
    const Option& type_name(const char* name) const;
    /// How many values it takes.
    const Option& expected(int least, int most) const;
    /// One value each time it is given, so that what follows isn't taken for a second one.
    const Option& one_value_each_time() const;
    const Option& needs(const Option& other) const;

private:
    CLI::Option* option_;
};

/// A command, or the program itself. Targets must outlive the parsing.
class Command {
public:
    explicit Command(CLI::App* app) : app_(app) {}

    Command add_subcommand(const char* name, const char* help) const;
    /// Takes a value: `--name`, `-n,--name`, or an argument by its place if there is no dash.
    Option add_option(const char* name, std::string& value, const char* help) const;
    Option add_option(const char* name, std::vector<std::string>& values, const char* help) const;
    Option add_option(const char* name, int& value, const char* help) const;
    Option add_flag(const char* name, bool& given, const char* help) const;

    /// One of its subcommands must be given.
    void require_subcommand() const;
    /// Runs after parsing if this is the command that was given.
    void on_given(std::function<void()> call) const;
    std::vector<std::string> subcommand_names() const;

private:
    CLI::App* app_;
};

}  // namespace guardband::command_line
