# What users run: optimised, with the tests beside it. Used as `cmake -C tools/cmake/presets/release.cmake -S . -B build/release`, or by tools/build.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(GUARDBAND_BENCH ON CACHE BOOL "")
