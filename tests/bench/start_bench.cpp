// What a command costs that reads no clip: start of the program, the whole table unpacked, the answer printed. Prints
// wall and CPU time of the fastest and the middle run of many; never passes or fails.
//
//     start_bench GUARDBAND
//
// `true` beside it shows what starting any process costs on the machine.

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <string>
#include <vector>

namespace {

constexpr int runs = 101;

struct Cost {
    double wall_ms, cpu_ms;
};

double ms(const timeval& time) {
    return 1e3 * static_cast<double>(time.tv_sec) + 1e-3 * static_cast<double>(time.tv_usec);
}

/// Runs a program once, its output thrown away.
Cost cost_of(std::vector<std::string> command) {
    std::vector<char*> arguments;
    for (std::string& word : command) arguments.push_back(word.data());
    arguments.push_back(nullptr);
    posix_spawn_file_actions_t silent;
    posix_spawn_file_actions_init(&silent);
    posix_spawn_file_actions_addopen(&silent, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    const auto start = std::chrono::steady_clock::now();
    pid_t child = 0;
    if (posix_spawnp(&child, arguments.front(), &silent, nullptr, arguments.data(), environ) != 0) return {-1, -1};
    rusage usage{};
    int status = 0;
    wait4(child, &status, 0, &usage);
    const std::chrono::duration<double, std::milli> wall = std::chrono::steady_clock::now() - start;
    posix_spawn_file_actions_destroy(&silent);
    return {wall.count(), ms(usage.ru_utime) + ms(usage.ru_stime)};
}

void measure(const std::vector<std::string>& command, const std::string& name) {
    std::vector<double> wall, cpu;
    for (int run = 0; run < runs; ++run) {
        const Cost cost = cost_of(command);
        wall.push_back(cost.wall_ms), cpu.push_back(cost.cpu_ms);
    }
    std::ranges::sort(wall), std::ranges::sort(cpu);
    fmt::print("{:<40} wall {:6.2f} ms least, {:6.2f} ms middle    CPU {:6.2f} ms middle\n", name, wall.front(),
               wall[runs / 2], cpu[runs / 2]);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 2) {
        fmt::print(stderr, "start_bench GUARDBAND: name the program\n");
        return 2;
    }
    const std::string program = argv[1];
    measure({"true"}, "true");
    measure({program, "--version"}, "--version (no table)");
    measure({program, "formats"}, "formats");
    measure({program, "formats", "vhs"}, "formats vhs");
    measure({program, "runtime", "--format", "vhs", "--grade", "E-180"}, "runtime --format vhs --grade E-180");
}
