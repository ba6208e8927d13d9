#include "support/ffmpeg.h"

#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <stdexcept>

namespace guardband::support {
namespace {

struct Outcome {
    int status = 0;
    std::string output;
};

Outcome run(const std::string& command) {
    FILE* pipe = popen((command + " 2>&1 </dev/null").c_str(), "r");
    if (pipe == nullptr) throw std::runtime_error("no shell");
    Outcome outcome;
    std::array<char, 4096> part{};
    while (const std::size_t got = std::fread(part.data(), 1, part.size(), pipe))
        outcome.output.append(part.data(), got);
    outcome.status = pclose(pipe);
    return outcome;
}

}  // namespace

TemporaryFolder::TemporaryFolder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "guardband-test-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = pattern;
}

TemporaryFolder::~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
}

bool has_ffmpeg() {
    static const bool found = run("ffmpeg -version").status == 0;
    return found;
}

void ffmpeg(const std::string& arguments) {
    const std::string command = "ffmpeg -v error -y " + arguments;
    if (const Outcome outcome = run(command); outcome.status != 0)
        throw std::runtime_error(command + "\n" + outcome.output);
}

std::vector<std::byte> read_file(const std::string& path) {
    std::ifstream stream(path, std::ios::binary);
    const std::vector<char> characters{std::istreambuf_iterator<char>(stream), {}};
    std::vector<std::byte> bytes(characters.size());
    std::ranges::transform(characters, bytes.begin(), [](char c) { return static_cast<std::byte>(c); });
    return bytes;
}

void write_file(const std::string& path, const std::vector<std::byte>& bytes) {
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

void write_text(const std::string& path, const std::string& text) { std::ofstream(path) << text; }

}  // namespace guardband::support
