#pragma once

#include <string>

#include "media/handle.h"
#include "media/sound.h"

namespace guardband::media {

/// Turns packets of sound into blocks of samples.
class SoundDecoder {
public:
    /// @throws InputError if there is no decoder for the stream, or it has no rate or an absurd number of channels
    SoundDecoder(const AVStream& stream, const std::string& path);

    int channels() const { return context_->ch_layout.nb_channels; }
    /// That of the header; 0 if it gives none.
    int sample_rate_hz() const { return context_->sample_rate; }

    /// Gives a packet, or null at the end. What the decoder can't take counts as a failure.
    void send(const AVPacket* packet);
    /// Puts the samples that are ready into a block, with their time stamp in file time. @returns false if it needs
    /// another packet, or at the end
    /// @throws InputError if the sound changes its rate or number of channels, or its samples are of no known kind
    bool receive(SoundBlock& block);
    /// True once all is out that was given before the end.
    bool is_done() const { return done_; }
    std::int64_t failures() const { return failures_; }

private:
    std::string path_;
    const AVStream& stream_;
    Handle<AVCodecContext> context_;
    Handle<AVFrame> frame_;
    int first_channels_, first_rate_hz_;
    bool done_ = false;
    std::int64_t failures_ = 0;
};

}  // namespace guardband::media
