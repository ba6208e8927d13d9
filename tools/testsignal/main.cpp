#include <unistd.h>

#include <iostream>

#include "testsignal/command.h"

int main(int argc, char** argv) {
    std::ostream* progress = isatty(STDERR_FILENO) ? &std::cerr : nullptr;
    return guardband::testsignal::run({argv + 1, argv + argc}, std::cout, std::cerr, progress);
}
