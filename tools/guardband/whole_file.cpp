#include "guardband/whole_file.h"

#include <cerrno>
#include <filesystem>
#include <fstream>
#include <system_error>

#include "quantity/errors.h"

namespace guardband::command_line {
namespace {

namespace fs = std::filesystem;

std::string reason() { return std::generic_category().message(errno); }

/// Takes the unfinished file away again, whatever happens.
class Unfinished {
public:
    explicit Unfinished(fs::path path) : path_(std::move(path)) {}
    ~Unfinished() {
        std::error_code ignored;
        fs::remove(path_, ignored);
    }
    Unfinished(const Unfinished&) = delete;
    Unfinished& operator=(const Unfinished&) = delete;

    const fs::path& path() const { return path_; }

private:
    fs::path path_;
};

}  // namespace

void write_whole_file(const std::string& path, const std::string& content, const std::string& input) {
    if (fs::is_directory(path)) throw quantity::InputError(input, "is a folder", "name a file in it");
    const Unfinished unfinished(path + ".unfinished");
    errno = 0;
    std::ofstream stream(unfinished.path(), std::ios::binary | std::ios::trunc);
    if (!stream)
        throw quantity::InputError(input, "can't be written: " + reason(),
                                   "name a file in a folder that exists and may be written to");
    stream << content;
    stream.close();
    if (!stream)
        throw quantity::InputError(input, "could not be written to its end: " + reason(),
                                   "make room or name another place");
    std::error_code fault;
    fs::rename(unfinished.path(), path, fault);
    if (fault) throw quantity::InputError(input, "can't be put in place: " + fault.message(), "name another file");
}

}  // namespace guardband::command_line
