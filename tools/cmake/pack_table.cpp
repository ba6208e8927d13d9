// Part of the build: reads formats/, checks it as strictly as a user's own files, and writes it as C++. A fault in a
// format file stops the build with its file, line and key.
#include <cstdio>
#include <exception>
#include <fstream>
#include <iostream>
#include <string>

#include "table/packed.h"
#include "table/reader.h"

namespace {

/// The bytes as lines of a string literal, every one escaped so that nothing in them can end it.
std::string literal_of(const std::string& bytes) {
    std::string text;
    constexpr std::size_t bytes_per_line = 32;
    for (std::size_t i = 0; i < bytes.size(); ++i) {
        if (i % bytes_per_line == 0) text += i == 0 ? "\"" : "\"\n\"";
        char escaped[5];
        (void)std::snprintf(escaped, sizeof escaped, "\\%03o",
                            static_cast<unsigned>(static_cast<unsigned char>(bytes[i])));
        text += escaped;
    }
    return text + "\"";
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 3) return 2;
    try {
        guardband::table::Table table;
        guardband::table::read_folder(argv[1], table);
        if (table.edition.version.empty())
            throw std::runtime_error(std::string(argv[1]) + "/table.toml: is missing; a built-in table has a version");
        std::ofstream out(argv[2]);
        out << "// Made by tools/cmake/pack_table.cpp from formats/; do not edit.\n#include "
               "\"table/embedded.h\"\n\n#include <string_view>\n\n"
            << "std::string_view guardband::table::embedded_table() {\n    using namespace "
               "std::string_view_literals;\n    return\n"
            << literal_of(pack(table)) << "sv;\n}\n";
        out.flush();
        if (!out) throw std::runtime_error(std::string(argv[2]) + ": can't be written");
        return 0;
    } catch (const std::exception& e) {
        std::cerr << "error: " << e.what() << "\n";
        return 1;
    }
}
