#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <string>

namespace guardband::bench {

/// The command line of a bench that plays scenes. Without the `ffmpeg` command, which makes some of them, it says so
/// and does nothing.
/// @param name, about   for --help and for errors
/// @param add_options   adds those of the bench, whose values `run` then finds
/// @returns the exit status: 2, after one line on standard error, if `run` throws
int run_command(int argc, char** argv, const std::string& name, const std::string& about,
                const std::function<void(CLI::App&)>& add_options, const std::function<void()>& run);

}  // namespace guardband::bench
