#pragma once

#include <optional>
#include <string>

#include "calc/pack_query.h"

namespace guardband::command_line {

/// A size of a pack as the user gave it, with the uncertainty that was given or that its digits leave; nothing if the
/// text is empty.
std::optional<calc::Input> size_given(const std::string& text, calc::PackSize size);

/// The mode of an address. Sets the format too; @throws InputError if it is another than the one that is set
const table::Mode* mode_given(const table::Table& table, const std::string& address, const table::TapeFormat*& format);

/// @throws InputError if a grade is named without a format
void expect_format_of_grade(const std::optional<std::string>& grade, const table::TapeFormat* format);

}  // namespace guardband::command_line
