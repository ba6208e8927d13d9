#include "stage/command.h"

#include <fmt/format.h>

#include <cstdio>
#include <exception>

#include "support/ffmpeg.h"

namespace guardband::bench {

int run_command(int argc, char** argv, const std::string& name, const std::string& about,
                const std::function<void(CLI::App&)>& add_options, const std::function<void()>& run) try {
    if (!support::has_ffmpeg())
        return fmt::print("skipped: the ffmpeg command is not installed, which makes some of the scenes\n"), 0;
    CLI::App app(about, name);
    add_options(app);
    CLI11_PARSE(app, argc, argv);
    run();
    return 0;
} catch (const std::exception& e) {
    return fmt::print(stderr, "{}: {}\n", name, e.what()), 2;
}

}  // namespace guardband::bench
