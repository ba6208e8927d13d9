#pragma once

#include <string>

#include "quantity/figure.h"

namespace guardband::report {

/// The figures of what `measure --json` printed. @param input  how an error names the file
/// @throws InputError if the text is no such output
quantity::Figures read_figures(const std::string& text, const std::string& input);

}  // namespace guardband::report
