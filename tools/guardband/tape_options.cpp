#include "guardband/tape_options.h"

#include "quantity/errors.h"
#include "quantity/measured.h"

namespace guardband::command_line {
namespace {

/// A size of a pack as the user gave it; nothing if the text is empty.
std::optional<calc::Input> size_given(const std::string& text, calc::PackSize size) {
    if (text.empty()) return std::nullopt;
    const quantity::Unit& unit = quantity::unit_named(unit_of(size));
    const quantity::Quantity given = quantity::parse_measured(text, unit, std::string(option_of(size)));
    return calc::Input{given.in(unit), given.uncertainty_in(unit).value_or(0)};
}

/// The mode of an address. Sets the format too; @throws InputError if it is another than the one that is set
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

void expect_format_of_grade(const calc::TapeQuery& query) {
    if (query.grade && query.format == nullptr)
        throw quantity::InputError("--grade " + *query.grade, "needs the format that it is a cassette or reel of",
                                   "name it with --format");
}

}  // namespace

void put_tape(const table::Table& table, const TapeOptions& options, calc::TapeQuery& query) {
    using calc::PackSize;
    if (!options.format.empty()) query.format = &table.format(options.format, "--format " + options.format);
    query.mode = mode_given(table, options.address, query.format);
    if (!options.grade.empty()) query.grade = options.grade;
    expect_format_of_grade(query);
    query.given[PackSize::Outer] = size_given(options.outer, PackSize::Outer);
    query.given[PackSize::Hub] = size_given(options.hub, PackSize::Hub);
    query.given[PackSize::Thickness] = size_given(options.thickness, PackSize::Thickness);
    query.given[PackSize::Length] = size_given(options.length, PackSize::Length);
}

}  // namespace guardband::command_line
