#pragma once

#include <CLI/CLI.hpp>
#include <memory>

namespace guardband::command_line {

/// How `--help` is laid out: names on the left and what they mean beside them, broken at blanks so that no line is
/// longer than 80 columns. To be given to the program before its commands are added, which take it over.
std::shared_ptr<CLI::FormatterBase> help_text();

}  // namespace guardband::command_line
