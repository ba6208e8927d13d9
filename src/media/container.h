#pragma once

#include <atomic>
#include <cstdint>
#include <optional>
#include <span>
#include <string>

#include "media/file_input.h"

namespace guardband::media {

/// How errors speak of a file that is no container.
struct ContainerWords {
    const char* kind;     ///< `a clip`
    const char* content;  ///< `a video file`
    const char* itself;   ///< `the clip itself`
};

/// A media file that has been opened: its streams, and the packets of one of them.
class Container {
public:
    /// @param stop  once it is true, reading ends
    /// @throws InputError if the file can't be opened or no container is found in it
    Container(const std::string& path, const std::atomic<bool>& stop, const ContainerWords& words);

    std::span<AVStream* const> streams() const { return {format_->streams, format_->nb_streams}; }
    bool has_sound() const;
    /// FFmpeg's short name of the container, e.g. `matroska`.
    std::string name() const;
    AVFormatContext& format() const { return *format_; }
    const FileInput& input() const { return input_; }

    /// From here on only this stream is read, and another beside it if there is one.
    void choose(const AVStream& stream, const AVStream* beside = nullptr);
    /// Reads the next packet of the chosen streams. @returns false at the end, however it came
    bool read(AVPacket& packet);
    /// Why the end came before the file's own; empty if it didn't.
    const std::string& trouble() const { return trouble_; }
    /// How far into the file reading has come, bytes.
    std::uint64_t position() const;

private:
    FileInput input_;
    Handle<AVFormatContext> format_;
    int chosen_ = -1, beside_ = -1;
    bool last_cut_short_ = false;
    std::string trouble_;
};

/// The declared length of a stream or, failing that, of the whole file, s; nothing if neither is declared.
std::optional<double> declared_duration_s(const AVFormatContext& format, const AVStream& stream);

}  // namespace guardband::media
