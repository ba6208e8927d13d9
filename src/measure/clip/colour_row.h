#pragma once

#include <span>

namespace guardband::measure {

/// A row of samples, 8-bit codes. The first of luma stands where the first of the chroma does.
struct ColourRow {
    std::span<const float> luma, cb, cr;
};

}  // namespace guardband::measure
