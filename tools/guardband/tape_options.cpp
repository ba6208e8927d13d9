#include "guardband/tape_options.h"

#include "quantity/errors.h"
#include "quantity/measured.h"

namespace guardband::command_line {

std::optional<calc::Input> size_given(const std::string& text, calc::PackSize size) {
    if (text.empty()) return std::nullopt;
    const quantity::Unit& unit = quantity::unit_named(unit_of(size));
    const quantity::Quantity given = quantity::parse_measured(text, unit, std::string(option_of(size)));
    return calc::Input{given.in(unit), given.uncertainty_in(unit).value_or(0)};
}

const table::Mode* mode_given(const table::Table& table, const std::string& address, const table::TapeFormat*& format) {
    if (address.empty()) return nullptr;
    const std::string input = "--address " + address;
    const auto [of_address, mode] = table.at(address, input);
    if (format != nullptr && format != of_address)
        throw quantity::InputError(input, "a mode of another format than --format " + format->id,
                                   "leave --format out, or name a mode of it");
    format = of_address;
    return mode;
}

void expect_format_of_grade(const std::optional<std::string>& grade, const table::TapeFormat* format) {
    if (grade && format == nullptr)
        throw quantity::InputError("--grade " + *grade, "needs the format that it is a cassette or reel of",
                                   "name it with --format");
}

}  // namespace guardband::command_line
