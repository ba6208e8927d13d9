#pragma once

#include "media/damage.h"
#include "media/handle.h"

namespace guardband::media {

/// Turns packets into frames, on several threads.
class Decoder {
public:
    /// @param path     for errors   @param threads  0 chooses by the number of processors
    /// @throws InputError if there is no decoder for the stream
    Decoder(const AVStream& stream, const std::string& path, int threads);

    /// Gives a packet, or null at the end. @returns false if the decoder can make nothing of it
    bool send(const AVPacket* packet);

    /// The next frame that is ready, in presentation order; null if it needs another packet, or at the end.
    /// @param failures  grows by the number of frames that the decoder gave up on the way
    AVFrame* receive(int& failures);

private:
    Handle<AVCodecContext> make_context(const AVStream& stream, const std::string& path, int threads);

    Handle<AVFrame> frame_;
    std::unique_ptr<DamageMarks> marks_;  // before the context: it outlives its threads
    Handle<AVCodecContext> context_;
};

}  // namespace guardband::media
