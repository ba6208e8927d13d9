# What the build takes from the system. Debian's names of the packages are in tools/setup.
find_package(Threads REQUIRED)
find_package(fmt REQUIRED)
find_package(PkgConfig REQUIRED)

# Headers of others are SYSTEM headers: our warnings are for our code.
add_library(guardband_warnings INTERFACE)
target_compile_options(guardband_warnings INTERFACE -Wall -Wextra -Wconversion -Wshadow -Werror)
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU" AND CMAKE_CXX_COMPILER_VERSION VERSION_LESS 13)
    target_compile_options(guardband_warnings INTERFACE -Wno-restrict -Wno-stringop-overflow -Wno-stringop-overread -Wno-array-bounds)  # false alarms on std::string + std::string, GCC bug 105651
endif()

# A library that nothing calls is not loaded: the headers of some are all that we use.
add_link_options(-Wl,--as-needed)

if(GUARDBAND_SANITIZE)
    target_compile_options(guardband_warnings INTERFACE -Wno-maybe-uninitialized)  # GCC's own advice: sanitizers make it see ghosts
    add_compile_options(-fsanitize=${GUARDBAND_SANITIZE} -fno-sanitize-recover=all -fno-omit-frame-pointer)
    # Half of the compiling, for what the address sanitizer, warnings and plain crashes show as well. Arithmetic, shifts, bounds and enumerators stay.
    add_compile_options(-fno-sanitize=alignment,builtin,nonnull-attribute,null,object-size,return,returns-nonnull-attribute,unreachable,vptr)
    add_link_options(-fsanitize=${GUARDBAND_SANITIZE})
endif()

# Only the headers of FFmpeg: src/media/ loads the libraries when a clip is opened, so that other commands start at once.
pkg_check_modules(LIBAV REQUIRED IMPORTED_TARGET libavformat libavcodec libavutil libswscale)
add_library(libav_headers INTERFACE)
target_include_directories(libav_headers SYSTEM INTERFACE ${LIBAV_INCLUDE_DIRS})

# Debian's small OpenCV packages bring no CMake file.
find_path(OPENCV_INCLUDE_DIR opencv2/core.hpp PATH_SUFFIXES opencv4 REQUIRED)
find_library(OPENCV_CORE opencv_core REQUIRED)
find_library(OPENCV_IMGPROC opencv_imgproc REQUIRED)
add_library(opencv_small INTERFACE)
target_include_directories(opencv_small SYSTEM INTERFACE ${OPENCV_INCLUDE_DIR})
target_link_libraries(opencv_small INTERFACE ${OPENCV_IMGPROC} ${OPENCV_CORE})

find_package(CLI11 REQUIRED)
find_package(tomlplusplus REQUIRED)
find_package(nlohmann_json REQUIRED)
pkg_check_modules(EBUR128 REQUIRED IMPORTED_TARGET libebur128)
# Its headers alone: whatever links the library times a clock at every start, which takes longer than a command of the table (rows/processor.h).
pkg_check_modules(HIGHWAY REQUIRED libhwy)
add_library(highway INTERFACE)
target_include_directories(highway SYSTEM INTERFACE ${HIGHWAY_INCLUDE_DIRS})
pkg_check_modules(KISSFFT REQUIRED IMPORTED_TARGET kissfft-float)
pkg_check_modules(PNG REQUIRED IMPORTED_TARGET libpng)

# The archive: what we use of it needs no further library, and nothing is loaded at the start. Those parts are LGPL-2+; its readers of teletext's
# packet 8/30, GPL-2, are not among them and must not come in.
find_path(ZVBI_INCLUDE_DIR libzvbi.h REQUIRED)
find_library(ZVBI_ARCHIVE libzvbi.a REQUIRED)
add_library(zvbi INTERFACE)
target_include_directories(zvbi SYSTEM INTERFACE ${ZVBI_INCLUDE_DIR})
target_link_libraries(zvbi INTERFACE ${ZVBI_ARCHIVE} Threads::Threads)

if(GUARDBAND_TESTS)
    find_package(GTest REQUIRED)
    include(GoogleTest)
endif()
if(GUARDBAND_BENCH)
    find_package(benchmark REQUIRED)
endif()
