#pragma once

#include <ostream>
#include <string>
#include <vector>

namespace guardband::command_line {

/// Exit statuses of the program.
enum ExitStatus { Done = 0, OwnFault = 1, UnusableInput = 2, OutsideLimits = 3 };

/// Where a run writes, and whether people watch it.
struct Streams {
    std::ostream& out;
    std::ostream& err;
    bool err_is_terminal = false;
};

/// Runs the program: parses, calls, prints. Everything that goes wrong ends here as one line on `streams.err`.
/// @param arguments  without the program's own name
int run(const std::vector<std::string>& arguments, const Streams& streams);

}  // namespace guardband::command_line
