#pragma once

#include <atomic>
#include <cstdint>
#include <string>

#include "media/clip.h"
#include "media/container.h"

namespace guardband::media {

/// The container: finds the video in a file and hands out its packets.
class Demuxer {
public:
    /// @param stop  once it is true, reading ends
    /// @throws InputError if the file can't be opened, is not a clip or has no video
    /// @param with_sound  hands out the packets of the first sound stream, too
    Demuxer(const std::string& path, const std::atomic<bool>& stop, bool with_sound = false);

    /// The video stream: attached pictures, such as a cover, don't count, nor does text drawn as pictures.
    const AVStream& video() const { return *video_; }

    /// The first sound stream, if it was asked for and there is one; else null.
    const AVStream* sound() const { return sound_; }
    const Container& container() const { return container_; }

    /// What the headers say. The picture's format is left to the first decoded frame.
    ClipInfo info() const;

    /// Reads the next packet of the video or the sound. @returns false at the end, however it came
    bool read(AVPacket& packet) { return container_.read(packet); }

    /// Why the end came before the file's own; empty if it didn't.
    const std::string& trouble() const { return container_.trouble(); }

    /// How far into the file reading has come, bytes.
    std::uint64_t position() const { return container_.position(); }

private:
    Container container_;
    const AVStream *video_ = nullptr, *sound_ = nullptr;
};

/// Which field a file says comes first.
/// @param order      as FFmpeg's libraries give it
/// @param container  their short name of the container
DeclaredOrder declared_order(AVFieldOrder order, const std::string& container);

}  // namespace guardband::media
