#pragma once

#include <iosfwd>
#include <string>
#include <vector>

namespace guardband::testsignal {

/// The program `guardband-testsignal`: makes the clips of recipe files and writes the truth beside each.
/// @param progress  where progress goes, or nullptr
/// @returns the exit status: 0 done, 1 a fault of the program's own, 2 usage or input that can't be used
int run(std::vector<std::string> arguments, std::ostream& out, std::ostream& err, std::ostream* progress);

}  // namespace guardband::testsignal
