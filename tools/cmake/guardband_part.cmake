# guardband_part(NAME [FOLDER folder] SOURCES file... [USES part...] [LINKS library...])
#
# One part of the engine: a static library of the sources below src/NAME (or src/FOLDER), which may include and link what its USES name and what those use in
# turn, nothing else. Headers are included by their path from src/.
function(guardband_part name)
    cmake_parse_arguments(PART "" "FOLDER" "SOURCES;USES;LINKS" ${ARGN})
    if(NOT PART_FOLDER)
        set(PART_FOLDER ${name})
    endif()
    list(TRANSFORM PART_SOURCES PREPEND "src/${PART_FOLDER}/")
    list(TRANSFORM PART_USES PREPEND "guardband_")
    add_library(guardband_${name} STATIC ${PART_SOURCES})
    target_include_directories(guardband_${name} PUBLIC src)
    target_link_libraries(guardband_${name} PUBLIC ${PART_USES} PRIVATE guardband_warnings ${PART_LINKS})
    set_property(GLOBAL APPEND PROPERTY guardband_parts guardband_${name})
endfunction()

# guardband_test(PART [FOLDER folder] SOURCES file... [USES part...] [LINKS library...] [DEFINES definition...])
#
# The unit tests of one part, tests/PART/file... (or tests/FOLDER/file...), in a program that links that part and no other, so that an upward call does not link.
# USES names further parts where a test holds two against each other.
function(guardband_test part)
    cmake_parse_arguments(TEST "" "FOLDER" "SOURCES;USES;LINKS;DEFINES" ${ARGN})
    if(NOT GUARDBAND_TESTS)
        return()
    endif()
    if(NOT TEST_FOLDER)
        set(TEST_FOLDER ${part})
    endif()
    list(TRANSFORM TEST_SOURCES PREPEND "tests/${TEST_FOLDER}/")
    list(TRANSFORM TEST_USES PREPEND "guardband_")
    add_executable(${part}_test ${TEST_SOURCES})
    target_include_directories(${part}_test PRIVATE src tests)
    target_compile_definitions(${part}_test PRIVATE ${TEST_DEFINES})
    if(GUARDBAND_SANITIZE)  # undefined behaviour is looked for in the engine; in tests this sanitizer doubles the compiling
        target_compile_options(${part}_test PRIVATE -fno-sanitize=undefined)
    endif()
    if(TARGET guardband_${part})
        target_link_libraries(${part}_test PRIVATE guardband_${part})
    endif()
    target_link_libraries(${part}_test PRIVATE ${TEST_USES} guardband_warnings GTest::gmock_main ${TEST_LINKS})
    gtest_discover_tests(${part}_test DISCOVERY_MODE PRE_TEST TEST_PREFIX "${part}: " PROPERTIES TIMEOUT 600)
endfunction()
