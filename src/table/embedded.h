#pragma once

#include <string_view>

namespace guardband::table {

/// The files of `formats/` as they were when the program was built, read, checked and packed. The build makes the
/// source of this function (tools/cmake/guardband_embed.cmake).
std::string_view embedded_table();

}  // namespace guardband::table
