#pragma once

#include <span>
#include <string_view>

namespace guardband::table {

/// A file of `formats/`, as it was when the program was built.
struct EmbeddedFile {
    std::string_view name;
    std::string_view text;
};

/// All files of `formats/`; the build makes the source of this function (tools/cmake/guardband_embed.cmake).
std::span<const EmbeddedFile> embedded_files();

}  // namespace guardband::table
