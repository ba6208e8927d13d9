#pragma once

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>

namespace guardband::testsignal {

/// What a shell command prints on standard output.
inline std::string output_of(const std::string& command) {
    struct Closer {
        void operator()(FILE* f) const { pclose(f); }
    };
    const std::unique_ptr<FILE, Closer> pipe(popen(command.c_str(), "r"));
    if (!pipe) throw std::runtime_error("no shell");
    std::string text;
    std::array<char, 65536> block{};
    for (std::size_t got = 0; (got = std::fread(block.data(), 1, block.size(), pipe.get())) > 0;)
        text.append(block.data(), got);
    return text;
}

inline bool has_ffmpeg() {
    return std::system("ffmpeg -version >/dev/null 2>&1 && ffprobe -version >/dev/null 2>&1") == 0;
}

/// A folder that goes when the test does.
class TemporaryFolder {
public:
    TemporaryFolder() {
        std::string name = (std::filesystem::temp_directory_path() / "testsignal-XXXXXX").string();
        if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
        path_ = name;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    std::string operator/(const std::string& name) const { return (path_ / name).string(); }
    std::size_t file_count() const {
        return static_cast<std::size_t>(std::distance(std::filesystem::directory_iterator(path_), {}));
    }
    std::string path() const { return path_.string(); }

private:
    std::filesystem::path path_;
};

}  // namespace guardband::testsignal
