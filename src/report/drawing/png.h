#pragma once

#include <cstdint>
#include <span>
#include <string>

namespace guardband::report::drawing {

/// An 8-bit grey picture as the bytes of a PNG file.
/// @param samples  rows from the top, `width` each  @throws DomainError if there are not width × height of them, or
/// none
std::string grey_png(int width, int height, std::span<const std::uint8_t> samples);

}  // namespace guardband::report::drawing
