#pragma once

#include <memory>
#include <optional>
#include <string>

#include "media/demuxer.h"
#include "media/frame_queue.h"
#include "media/sound_decoder.h"

namespace guardband::media {

/// The sound of a clip on its way from the demuxer to the queue of frames.
class ClipSound {
public:
    /// Fills in what `info` says of the sound: what it is, or why it can't be had.
    ClipSound(const Demuxer& demuxer, const ReadOptions& options, ClipInfo& info);

    /// True for a packet of this sound.
    bool owns(const AVPacket& packet) const { return decoder_ && packet.stream_index == stream_->index; }
    /// Decodes a packet, or the end (null), and puts what belongs to the stretch asked for into the queue.
    /// @param may_wait  false while nobody takes from the queue yet: sound that outgrows it is given up
    void take(const AVPacket* packet, FrameQueue& queue, bool may_wait);
    /// What went wrong, one line; empty if nothing did.
    std::string trouble() const;

private:
    bool cut(SoundBlock& block);

    const AVStream* stream_;
    std::unique_ptr<SoundDecoder> decoder_;
    double rate_hz_ = 0, from_s_ = 0;
    std::optional<double> to_s_;
    bool whole_ = true;
    std::int64_t handed_over_ = 0;
    std::string trouble_;
};

}  // namespace guardband::media
