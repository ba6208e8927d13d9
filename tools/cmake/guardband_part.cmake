# Headers that most files read, compiled once: a third of all compiling. Targets of the same options share them.
set(guardband_common_headers
    <fmt/format.h> <algorithm> <array> <cmath> <functional> <map> <memory> <optional> <span> <string> <string_view> <variant> <vector>)

# guardband_precompile(TARGET FROM): with the headers as FROM, the target that was made first with these options, has them.
function(guardband_precompile target from)
    if(target STREQUAL from)
        target_precompile_headers(${target} PRIVATE ${guardband_common_headers} ${ARGN})
    else()
        target_precompile_headers(${target} REUSE_FROM ${from})
    endif()
endfunction()

# What works on words and single figures gains nothing from the optimiser but long compiling.
if(GUARDBAND_SANITIZE)
    set(guardband_light -Og)
else()
    set(guardband_light -O1)
endif()

# guardband_part(NAME [LIGHT] [FOLDER folder] SOURCES file... [USES part...] [LINKS library...])
#
# One part of the engine: a static library of the sources below src/NAME (or src/FOLDER), which may include and link what its USES name and what those use in
# turn, nothing else. Headers are included by their path from src/. LIGHT: compiled quickly rather than optimised fully.
function(guardband_part name)
    cmake_parse_arguments(PART "LIGHT" "FOLDER" "SOURCES;USES;LINKS" ${ARGN})
    if(NOT PART_FOLDER)
        set(PART_FOLDER ${name})
    endif()
    list(TRANSFORM PART_SOURCES PREPEND "src/${PART_FOLDER}/")
    list(TRANSFORM PART_USES PREPEND "guardband_")
    add_library(guardband_${name} STATIC ${PART_SOURCES})
    target_include_directories(guardband_${name} PUBLIC src)
    target_link_libraries(guardband_${name} PUBLIC ${PART_USES} PRIVATE guardband_warnings fmt::fmt ${PART_LINKS})
    if(PART_LIGHT)
        target_compile_options(guardband_${name} PRIVATE ${guardband_light})
    endif()
    if(PART_LIGHT AND NOT name STREQUAL report)  # which has a list of headers of its own
        guardband_precompile(guardband_${name} guardband_quantity)
    elseif(NOT PART_LIGHT AND NOT name STREQUAL rows)  # compiled for many processors
        guardband_precompile(guardband_${name} guardband_media)
    endif()
    set_property(GLOBAL APPEND PROPERTY guardband_parts guardband_${name})
endfunction()

# guardband_test(PART [QUICK] [FOLDER folder] SOURCES file... [USES part...] [LINKS library...] [DEFINES definition...])
#
# The unit tests of one part, tests/PART/file... (or tests/FOLDER/file...), in a program that links that part and no other, so that an upward call
# does not link. USES names further parts where a test holds two against each other. QUICK: hundreds of checks of a millisecond each, for which a
# process apiece would cost a hundred times the checks; ctest runs them as one.
function(guardband_test part)
    cmake_parse_arguments(TEST "QUICK" "FOLDER" "SOURCES;USES;LINKS;DEFINES" ${ARGN})
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
    # What is tested is optimised; the tests' own code runs for moments and compiles for minutes. Undefined behaviour is looked for in the engine.
    target_compile_options(${part}_test PRIVATE ${guardband_light})
    if(GUARDBAND_SANITIZE)
        target_compile_options(${part}_test PRIVATE -fno-sanitize=undefined)
    endif()
    if(TARGET guardband_${part})
        target_link_libraries(${part}_test PRIVATE guardband_${part})
    endif()
    target_link_libraries(${part}_test PRIVATE ${TEST_USES} guardband_warnings GTest::gmock_main fmt::fmt ${TEST_LINKS})
    guardband_precompile(${part}_test quantity_test <gmock/gmock.h>)
    if(TEST_QUICK)
        add_test(NAME "${part}" COMMAND ${part}_test --gtest_brief=1)
        # The longest processes begin first, lest all other cores wait for them in the end.
        set_tests_properties("${part}" PROPERTIES COST 100)
        return()
    endif()
    gtest_discover_tests(${part}_test DISCOVERY_MODE PRE_TEST TEST_PREFIX "${part}: " PROPERTIES TIMEOUT 600)
endfunction()
