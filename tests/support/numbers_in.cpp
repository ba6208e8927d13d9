#include "support/numbers_in.h"

#include <cstddef>
#include <regex>  // takes seconds to compile: in this file alone

namespace guardband::support {

std::vector<double> numbers_in(const std::string& text, const std::string& pattern) {
    std::smatch found;
    std::vector<double> numbers;
    if (!std::regex_search(text, found, std::regex(pattern))) return numbers;
    for (std::size_t group = 1; group < found.size(); ++group) numbers.push_back(std::stod(found[group]));
    return numbers;
}

}  // namespace guardband::support
