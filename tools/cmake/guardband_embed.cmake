# Makes C++ of the files in formats/, so that the program carries its table wherever it runs. Used twice: included, it declares the rule; run by
# `cmake -P`, it writes the file.
if(CMAKE_SCRIPT_MODE_FILE)
    file(GLOB files ${FOLDER}/*.toml)
    list(SORT files)
    set(source "// Made by tools/cmake/guardband_embed.cmake from formats/; do not edit.\n#include \"table/embedded.h\"\n\n")
    string(APPEND source "namespace guardband::table {\nnamespace {\n\nconstexpr EmbeddedFile files[] = {\n")
    foreach(file IN LISTS files)
        get_filename_component(name ${file} NAME)
        file(READ ${file} text)
        string(APPEND source "{\"${name}\", R\"guardband(${text})guardband\"},\n")
    endforeach()
    string(APPEND source "};\n\n}  // namespace\n\nstd::span<const EmbeddedFile> embedded_files() { return files; }\n\n}  // namespace guardband::table\n")
    file(WRITE ${OUTPUT} "${source}")
    return()
endif()

file(GLOB guardband_format_files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/formats/*.toml)  # a new format is one file and no code
set(guardband_embedded_table ${PROJECT_BINARY_DIR}/embedded_table.cpp)
add_custom_command(
    OUTPUT ${guardband_embedded_table}
    COMMAND ${CMAKE_COMMAND} -DFOLDER=${PROJECT_SOURCE_DIR}/formats -DOUTPUT=${guardband_embedded_table} -P ${CMAKE_CURRENT_LIST_FILE}
    DEPENDS ${guardband_format_files} ${CMAKE_CURRENT_LIST_FILE}
    COMMENT "Embedding formats/"
    VERBATIM)
