#pragma once

#include <string>
#include <vector>

#include "support/svg_reader.h"

namespace guardband::support {

/// All texts of a drawing, in their order.
std::vector<std::string> texts_of(const SvgElement& drawing);

/// The number that follows `before` in one of the drawing's texts: `scale ` in `A whole track, scale 2:1` is 2, and 0.5
/// in `scale 1:2`.
/// @param view  a text must begin with this to count  @throws std::runtime_error if there is none
double scale_of(const SvgElement& drawing, const std::string& view);

/// What a reader would stumble over: words outside the page's frame, too small, or on top of one another. Judged with
/// widths of its own, so that a fault of the drawing's estimate shows. One line each.
std::vector<std::string> faults_of_words(const SvgElement& drawing);

}  // namespace guardband::support
