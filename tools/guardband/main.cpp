#include <unistd.h>

#include <iostream>

#include "guardband/command_line.h"

int main(int argc, char** argv) {
    std::ios::sync_with_stdio(false);
    const std::vector<std::string> arguments(argv + 1, argv + argc);
    const int status = guardband::command_line::run(arguments, {std::cout, std::cerr, isatty(STDERR_FILENO) != 0});
    std::cout.flush();
    if (!std::cout && status == guardband::command_line::Done) {
        std::cerr << "standard output: can't be written; check the disk or the pipe\n";
        return guardband::command_line::UnusableInput;
    }
    return status;
}
