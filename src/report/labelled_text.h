#pragma once

#include <cstddef>
#include <string>

#include "report/text_table.h"

namespace guardband::report {

/// `  track pitch     48.59 ± 0.14 µm`: a label two blanks in and its text beside it, broken before the page's end.
/// @param label_width  where the text begins, counted from the label
std::string labelled(const std::string& label, const std::string& text, std::size_t label_width);

/// Sentences of their own among such lines, two blanks in.
std::string indented(const std::string& text);

}  // namespace guardband::report
