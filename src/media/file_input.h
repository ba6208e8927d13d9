#pragma once

#include <atomic>
#include <cstdint>
#include <string>

#include "media/handle.h"

namespace guardband::media {

/// A regular file as FFmpeg's libraries read it. We open it ourselves, so that nothing else can be opened in its name:
/// no network address, no device, no pipe that never answers, no second file that a playlist names.
class FileInput {
public:
    /// @param stop  once it is true, reading fails; for ending from another thread
    /// @throws InputError if it is missing, may not be read, is not a regular file or is empty
    FileInput(std::string path, const std::atomic<bool>& stop);
    ~FileInput();
    FileInput(const FileInput&) = delete;
    FileInput& operator=(const FileInput&) = delete;

    AVIOContext* context() const { return context_.get(); }
    const std::string& path() const { return path_; }
    std::uint64_t bytes() const { return bytes_; }

private:
    static int read(void* self, std::uint8_t* to, int bytes);
    static std::int64_t seek(void* self, std::int64_t offset, int whence);

    std::string path_;
    const std::atomic<bool>& stop_;
    int descriptor_ = -1;
    std::uint64_t bytes_ = 0;
    Handle<AVIOContext> context_;
};

}  // namespace guardband::media
