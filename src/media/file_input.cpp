#include "media/file_input.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

/// Small reads go through a buffer of this size, larger ones straight to their place. Packets of a picture are mostly
/// larger.
constexpr int buffer_bytes = 64 * 1024;

[[noreturn]] void cannot_open(const std::string& path, int error) {
    if (error == ENOENT || error == ENOTDIR) throw InputError(path, "no such file", "check the path");
    if (error == EACCES) throw InputError(path, "may not be read", "check its permissions");
    throw InputError(path, std::string("can't be opened: ") + std::strerror(error), "check the path");
}

void require_regular(const std::string& path, const struct stat& status) {
    if (S_ISDIR(status.st_mode)) throw InputError(path, "is a folder", "name one clip in it");
    if (!S_ISREG(status.st_mode)) throw InputError(path, "is not a regular file", "copy the clip to a file first");
    if (status.st_size == 0) throw InputError(path, "is empty", "check that it was copied whole");
}

}  // namespace

FileInput::FileInput(std::string path, const std::atomic<bool>& stop) : path_(std::move(path)), stop_(stop) {
    descriptor_ =
        open(path_.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);  // a pipe without a writer must not hold us up
    if (descriptor_ < 0) cannot_open(path_, errno);
    try {
        struct stat status {};
        if (fstat(descriptor_, &status) != 0) cannot_open(path_, errno);
        require_regular(path_, status);
        bytes_ = static_cast<std::uint64_t>(status.st_size);
        auto* buffer = static_cast<std::uint8_t*>(libav().av_malloc(buffer_bytes));
        context_ =
            own(libav().avio_alloc_context(buffer, buffer_bytes, 0, this, &FileInput::read, nullptr, &FileInput::seek));
    } catch (...) {
        close(descriptor_);
        throw;
    }
}

FileInput::~FileInput() { close(descriptor_); }

int FileInput::read(void* self, std::uint8_t* to, int bytes) {
    const auto& input = *static_cast<FileInput*>(self);
    while (!input.stop_) {
        const ssize_t got = ::read(input.descriptor_, to, static_cast<std::size_t>(bytes));
        if (got > 0) return static_cast<int>(got);
        if (got == 0) return AVERROR_EOF;
        if (errno != EINTR) return AVERROR(errno);
    }
    return AVERROR_EXIT;
}

std::int64_t FileInput::seek(void* self, std::int64_t offset, int whence) {
    const auto& input = *static_cast<FileInput*>(self);
    if ((whence & AVSEEK_SIZE) != 0) return static_cast<std::int64_t>(input.bytes_);
    const off_t at = lseek(input.descriptor_, offset, whence & ~AVSEEK_FORCE);
    return at < 0 ? AVERROR(errno) : at;
}

}  // namespace guardband::media
