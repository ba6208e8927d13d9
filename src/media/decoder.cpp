#include "media/decoder.h"

#include <fmt/format.h>

#include <algorithm>
#include <thread>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

/// Largest picture that is read. With the bound on allocations this bounds memory.
constexpr std::int64_t largest_side = 8192;
/// Each thread of the decoder holds a frame or two; more threads than this gain little on standard definition.
constexpr int most_threads = 16;
/// Pictures larger than this are decoded with fewer frames in flight, so that memory stays within some gigabytes
/// whatever a header says.
constexpr std::int64_t large_picture = std::int64_t{4096} * 4096;

int thread_count(int asked, std::int64_t picture) {
    const int processors = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
    const int most = picture > large_picture ? 2 : most_threads;
    return std::clamp(asked > 0 ? asked : processors, 1, most);
}

[[noreturn]] void no_decoder(const std::string& path, AVCodecID codec) {
    if (codec == AV_CODEC_ID_NONE) throw InputError(path, "its codec is not known", "check that the file is whole");
    throw InputError(path, std::string("its codec, ") + libav().avcodec_get_name(codec) + ", can't be decoded here",
                     "convert it to a codec that this FFmpeg reads, without loss, e.g. FFV1");
}

void require_bearable_size(const AVCodecParameters& video, const std::string& path) {
    if (video.width <= largest_side && video.height <= largest_side) return;
    throw InputError(path,
                     fmt::format("its pictures of {}×{} are larger than {}×{}", video.width, video.height, largest_side,
                                 largest_side),
                     "scale it down");
}

}  // namespace

Handle<AVCodecContext> Decoder::make_context(const AVStream& stream, const std::string& path, int threads) {
    const AVCodec* codec = libav().avcodec_find_decoder(stream.codecpar->codec_id);
    if (codec == nullptr) no_decoder(path, stream.codecpar->codec_id);
    require_bearable_size(*stream.codecpar, path);
    auto context = own(libav().avcodec_alloc_context3(codec));
    if (libav().avcodec_parameters_to_context(context.get(), stream.codecpar) < 0) throw std::bad_alloc();
    context->pkt_timebase = stream.time_base;
    context->thread_count = thread_count(threads, std::int64_t{stream.codecpar->width} * stream.codecpar->height);
    context->thread_type = FF_THREAD_FRAME | FF_THREAD_SLICE;
    context->max_pixels = largest_side * largest_side;
    marks_ = std::make_unique<DamageMarks>(*context);
    if (const int result = libav().avcodec_open2(context.get(), codec, nullptr); result < 0)
        throw InputError(path, "its decoder does not take it (" + av_error_text(result) + ")",
                         "check that the file is whole");
    return context;
}

Decoder::Decoder(const AVStream& stream, const std::string& path, int threads)
    : frame_(own(libav().av_frame_alloc())), context_(make_context(stream, path, threads)) {}

bool Decoder::send(const AVPacket* packet) {
    const int result = libav().avcodec_send_packet(context_.get(), packet);
    return result >= 0 || result == AVERROR_EOF;
}

AVFrame* Decoder::receive(int& failures) {
    // A decoder with frame threads reports a failure in place of the frame that failed; those behind it are still to be
    // had.
    for (int attempt = 0; attempt < 2 * most_threads; ++attempt) {
        const int result = libav().avcodec_receive_frame(context_.get(), frame_.get());
        if (result >= 0) return frame_.get();
        if (result == AVERROR(EAGAIN) || result == AVERROR_EOF) return nullptr;
        ++failures;
    }
    return nullptr;
}

}  // namespace guardband::media
