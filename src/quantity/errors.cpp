#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

std::string one_line(const std::string& input, const std::string& fault, const std::string& remedy) {
    std::string line = input.empty() ? fault : input + ": " + fault;
    if (!remedy.empty()) line += "; " + remedy;
    for (char& c : line)
        if (c == '\n' || c == '\r') c = ' ';
    return line;
}

}  // namespace

InputError::InputError(std::string input, std::string what, std::string remedy)
    : std::runtime_error(one_line(input, what, remedy)),
      input_(std::move(input)),
      fault_(std::move(what)),
      remedy_(std::move(remedy)) {}

}  // namespace guardband::quantity
