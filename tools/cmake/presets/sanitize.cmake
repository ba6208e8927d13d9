# Every test under the address and undefined-behaviour sanitizers, optimised a little so that the suite stays quick.
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g1 -UNDEBUG" CACHE STRING "")
set(GUARDBAND_SANITIZE "address,undefined" CACHE STRING "")
