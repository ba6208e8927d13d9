#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

namespace guardband::support {

/// A folder of its own, gone at the end.
class TemporaryFolder {
public:
    TemporaryFolder();
    ~TemporaryFolder();
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;

    std::string file(const std::string& name) const { return (path_ / name).string(); }

private:
    std::filesystem::path path_;
};

/// Is the `ffmpeg` command there? Tests that make clips with it skip themselves, and say so, where it isn't.
bool has_ffmpeg();

/// Runs `ffmpeg` with these arguments, as a shell reads them. @throws std::runtime_error with its output if it fails
void ffmpeg(const std::string& arguments);

std::vector<std::byte> read_file(const std::string& path);
void write_file(const std::string& path, const std::vector<std::byte>& bytes);
void write_text(const std::string& path, const std::string& text);

}  // namespace guardband::support

/// First line of a test that needs the `ffmpeg` command.
#define GUARDBAND_NEEDS_FFMPEG()           \
    if (!guardband::support::has_ffmpeg()) \
    GTEST_SKIP() << "the ffmpeg command is not installed, which makes this test's clips"
