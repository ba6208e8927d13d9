#include "media/sound_decoder.h"

#include <fmt/format.h>

#include "media/sound_samples.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

constexpr int most_channels = 64;

Handle<AVCodecContext> open_decoder(const AVStream& stream, const std::string& path) {
    const AVCodec* codec = libav().avcodec_find_decoder(stream.codecpar->codec_id);
    if (codec == nullptr)
        throw InputError(path,
                         fmt::format("the codec of its sound, {}, can't be decoded here",
                                     libav().avcodec_get_name(stream.codecpar->codec_id)),
                         "convert it to WAV or FLAC");
    auto context = own(libav().avcodec_alloc_context3(codec));
    if (libav().avcodec_parameters_to_context(context.get(), stream.codecpar) < 0) throw std::bad_alloc();
    context->pkt_timebase = stream.time_base;
    context->thread_count = 1;
    if (const int result = libav().avcodec_open2(context.get(), codec, nullptr); result < 0)
        throw InputError(path, "its sound's decoder does not take it (" + av_error_text(result) + ")",
                         "check that the file is whole");
    return context;
}

}  // namespace

SoundDecoder::SoundDecoder(const AVStream& stream, const std::string& path)
    : path_(path),
      stream_(stream),
      context_(open_decoder(stream, path)),
      frame_(own(libav().av_frame_alloc())),
      first_channels_(context_->ch_layout.nb_channels),
      first_rate_hz_(context_->sample_rate) {
    if (first_channels_ < 1 || first_channels_ > most_channels)
        throw InputError(path, fmt::format("its header claims {} channels", first_channels_),
                         "give a file of 1 to 64 channels");
}

void SoundDecoder::send(const AVPacket* packet) {
    const int result = libav().avcodec_send_packet(context_.get(), packet);
    if (result < 0 && result != AVERROR_EOF) ++failures_;
}

bool SoundDecoder::receive(SoundBlock& block) {
    constexpr int most_failures_in_a_row = 64;
    for (int attempt = 0; attempt < most_failures_in_a_row; ++attempt) {
        const int result = libav().avcodec_receive_frame(context_.get(), frame_.get());
        if (result == AVERROR_EOF) done_ = true;
        if (result == AVERROR_EOF || result == AVERROR(EAGAIN)) return false;
        if (result < 0) {
            ++failures_;
            continue;
        }
        const AVFrame& frame = *frame_;
        if (frame.ch_layout.nb_channels != first_channels_ ||
            (frame.sample_rate != 0 && frame.sample_rate != first_rate_hz_))
            throw InputError(path_, "its sound changes its rate or number of channels on the way", "cut it there");
        if (!to_floats(frame, block.channels))
            throw InputError(path_, "its samples are of a kind that is not known", "convert it to WAV or FLAC");
        block.stamp_s.reset();
        if (frame.pts != AV_NOPTS_VALUE) block.stamp_s = static_cast<double>(frame.pts) * av_q2d(stream_.time_base);
        return true;
    }
    return false;
}

}  // namespace guardband::media
