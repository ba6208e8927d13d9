#pragma once

#include <string>

namespace guardband::command_line {

/// Writes a file that is either there as a whole or not at all: under a name of its own first, renamed when it is
/// complete.
/// @param input  how an error names the file, e.g. `-o plan.svg`
/// @throws InputError if it can't be written
void write_whole_file(const std::string& path, const std::string& content, const std::string& input);

}  // namespace guardband::command_line
