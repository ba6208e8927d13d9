#pragma once

#include <string>

extern "C" {
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/opt.h>
#include <libavutil/pixdesc.h>
#include <libswscale/swscale.h>
}

namespace guardband::media {

// Every function of FFmpeg's libraries that we call, by library. A new call needs its name here.
// clang-format off
#define GUARDBAND_LIBAVUTIL(F)                                                                                          \
    F(av_buffer_allocz) F(av_buffer_ref) F(av_buffer_unref) F(av_dict_free) F(av_dict_set) F(av_frame_alloc)            \
    F(av_frame_free) F(av_frame_get_buffer) F(av_frame_move_ref) F(av_freep) F(av_get_pix_fmt_name)                     \
    F(av_log_set_callback) F(av_malloc) F(av_max_alloc) F(av_pix_fmt_desc_get) F(av_pix_fmt_desc_get_id)                \
    F(av_pix_fmt_desc_next) F(av_strerror)
#define GUARDBAND_LIBAVCODEC(F)                                                                                         \
    F(av_packet_alloc) F(av_packet_free) F(av_packet_unref) F(avcodec_alloc_context3) F(avcodec_default_get_buffer2)    \
    F(avcodec_descriptor_get) F(avcodec_find_decoder) F(avcodec_free_context) F(avcodec_get_class) F(avcodec_get_name) F(avcodec_open2)           \
    F(avcodec_parameters_to_context) F(avcodec_receive_frame) F(avcodec_send_packet)
#define GUARDBAND_LIBAVFORMAT(F)                                                                                        \
    F(av_guess_sample_aspect_ratio) F(av_read_frame) F(avformat_alloc_context) F(avformat_close_input)                  \
    F(avformat_find_stream_info) F(avformat_open_input) F(avio_alloc_context) F(avio_context_free)
#define GUARDBAND_LIBSWSCALE(F)                                                                                         \
    F(sws_freeContext) F(sws_getCoefficients) F(sws_getContext) F(sws_isSupportedInput) F(sws_isSupportedOutput)        \
    F(sws_scale) F(sws_setColorspaceDetails)
// clang-format on

/// FFmpeg's libraries, loaded at run time: they take some 70 ms to load, which only commands that read media should
/// pay, and a program without them still calculates. Members carry the functions' own names and types.
struct Libav {
#define GUARDBAND_MEMBER(name) \
    decltype(&::name) name = nullptr;  // NOLINT(bugprone-macro-parentheses): it names a member
    GUARDBAND_LIBAVUTIL(GUARDBAND_MEMBER)
    GUARDBAND_LIBAVCODEC(GUARDBAND_MEMBER)
    GUARDBAND_LIBAVFORMAT(GUARDBAND_MEMBER)
    GUARDBAND_LIBSWSCALE(GUARDBAND_MEMBER)
#undef GUARDBAND_MEMBER
};

/// The libraries; loads and silences them at the first call, from any thread.
/// @throws InputError naming what to install if they are not there
const Libav& libav();

/// FFmpeg's words for one of its error codes.
std::string av_error_text(int code);

}  // namespace guardband::media
