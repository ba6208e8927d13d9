# For a debugger: no optimisation, assertions of the standard library on.
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(CMAKE_CXX_FLAGS "-D_GLIBCXX_ASSERTIONS" CACHE STRING "")
