# guardband_embed_table()
#
# Puts formats/ into the table part, read, checked and packed at build time, so that the program carries its table wherever it runs and starts at
# once.
function(guardband_embed_table)
    add_executable(pack_table tools/cmake/pack_table.cpp)
    target_link_libraries(pack_table PRIVATE guardband_table_files guardband_warnings)
    file(GLOB files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/formats/*.toml)  # a new format is one file and no code
    set(source ${PROJECT_BINARY_DIR}/embedded_table.cpp)
    add_custom_command(
        OUTPUT ${source}
        COMMAND pack_table formats ${source}
        WORKING_DIRECTORY ${PROJECT_SOURCE_DIR}
        DEPENDS pack_table ${files}
        COMMENT "Reading, checking and packing formats/"
        VERBATIM)
    target_sources(guardband_table PRIVATE ${source})
endfunction()
