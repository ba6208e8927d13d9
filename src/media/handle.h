#pragma once

#include <memory>

#include "media/libav.h"

namespace guardband::media {

/// Owners of what FFmpeg's libraries hand out, each freed the way its type asks for.
struct Free {
    void operator()(AVFrame* p) const { libav().av_frame_free(&p); }
    void operator()(AVPacket* p) const { libav().av_packet_free(&p); }
    void operator()(AVCodecContext* p) const { libav().avcodec_free_context(&p); }
    void operator()(AVFormatContext* p) const { libav().avformat_close_input(&p); }
    void operator()(SwsContext* p) const { libav().sws_freeContext(p); }
    void operator()(AVIOContext* p) const {
        libav().av_freep(static_cast<void*>(&p->buffer));
        libav().avio_context_free(&p);
    }
};

template <typename T>
using Handle = std::unique_ptr<T, Free>;

/// @throws std::bad_alloc if `made` is null
template <typename T>
Handle<T> own(T* made) {
    if (made == nullptr) throw std::bad_alloc();
    return Handle<T>(made);
}

}  // namespace guardband::media
