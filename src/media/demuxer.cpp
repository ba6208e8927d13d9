#include "media/demuxer.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <span>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;
using quantity::Rational;

/// Bounds on how far a file is looked into before its streams are known. Uncompressed pictures of 8192 × 8192 need more
/// than the usual 5 MB.
constexpr const char* probe_bytes = "20000000";
constexpr const char* probe_duration_us = "5000000";
constexpr const char* most_streams = "200";
/// Rates above this are no frame rates: headers with a tick of 1/90000 s and no better idea give 90000.
constexpr double highest_rate_hz = 1000;

class Options {
public:
    Options(std::initializer_list<std::pair<const char*, const char*>> options) {
        for (const auto& [name, value] : options) libav().av_dict_set(&entries_, name, value, 0);
    }
    ~Options() { libav().av_dict_free(&entries_); }
    Options(const Options&) = delete;
    Options& operator=(const Options&) = delete;
    AVDictionary** get() { return &entries_; }

private:
    AVDictionary* entries_ = nullptr;
};

/// A file may name others; none of them is opened.
int refuse_to_open(AVFormatContext*, AVIOContext**, const char*, int, AVDictionary**) { return AVERROR(EPERM); }

Handle<AVFormatContext> open_container(const FileInput& input) {
    AVFormatContext* context = own(libav().avformat_alloc_context()).release();
    context->pb = input.context();
    context->io_open = refuse_to_open;
    Options options{{"protocol_whitelist", "none"},
                    {"probesize", probe_bytes},
                    {"analyzeduration", probe_duration_us},
                    {"max_streams", most_streams}};
    // Without a name the content alone decides what a file is, so that neither `clip.txt` nor a text file named
    // `clip.avi` misleads.
    const int result =
        libav().avformat_open_input(&context, "", nullptr, options.get());  // frees the context if it fails
    if (result == AVERROR(EPERM))
        throw InputError(input.path(), "only names other files, which are not opened for it", "name the clip itself");
    if (result < 0)
        throw InputError(input.path(), "is not a clip that can be read (" + av_error_text(result) + ")",
                         "check that it is a video file and whole");
    return Handle<AVFormatContext>(context);
}

bool is_text(AVCodecID codec) {
    constexpr std::array drawn = {AV_CODEC_ID_ANSI, AV_CODEC_ID_BINTEXT, AV_CODEC_ID_XBIN, AV_CODEC_ID_IDF};
    return std::ranges::find(drawn, codec) != drawn.end();
}

bool is_video(const AVStream& stream) {
    return stream.codecpar->codec_type == AVMEDIA_TYPE_VIDEO &&
           (stream.disposition & AV_DISPOSITION_ATTACHED_PIC) == 0 && !is_text(stream.codecpar->codec_id);
}

std::span<AVStream* const> streams(const AVFormatContext& format) { return {format.streams, format.nb_streams}; }

/// The stream marked as the default one, or else the one with the largest picture, or else the first.
const AVStream* find_video(const AVFormatContext& format) {
    const auto rank = [](const AVStream& stream) {
        const bool is_default = (stream.disposition & AV_DISPOSITION_DEFAULT) != 0;
        return std::pair(is_default, std::int64_t{stream.codecpar->width} * stream.codecpar->height);
    };
    const AVStream* best = nullptr;
    for (const AVStream* stream : streams(format))
        if (is_video(*stream) && (best == nullptr || rank(*stream) > rank(*best))) best = stream;
    return best;
}

bool has_sound(const AVFormatContext& format) {
    return std::ranges::any_of(streams(format),
                               [](const AVStream* s) { return s->codecpar->codec_type == AVMEDIA_TYPE_AUDIO; });
}

std::optional<Rational> positive(AVRational r) {
    if (r.num <= 0 || r.den <= 0) return std::nullopt;
    return Rational(r.num, r.den);
}

std::optional<Rational> declared_rate(const AVStream& stream) {
    for (const AVRational candidate : {stream.avg_frame_rate, stream.r_frame_rate})
        if (const auto rate = positive(candidate); rate && rate->value() <= highest_rate_hz) return rate;
    return std::nullopt;
}

std::optional<double> declared_duration_s(const AVFormatContext& format, const AVStream& video) {
    if (video.duration > 0 && video.duration != AV_NOPTS_VALUE)
        return static_cast<double>(video.duration) * av_q2d(video.time_base);
    if (format.duration > 0 && format.duration != AV_NOPTS_VALUE)
        return static_cast<double>(format.duration) / AV_TIME_BASE;
    return std::nullopt;
}

}  // namespace

Demuxer::Demuxer(const std::string& path, const std::atomic<bool>& stop)
    : input_(path, stop), format_(open_container(input_)) {
    libav().avformat_find_stream_info(format_.get(), nullptr);  // what it can't find, the first frame tells or lacks
    video_ = find_video(*format_);
    if (video_ == nullptr)
        throw InputError(path, has_sound(*format_) ? "has sound but no video" : "has no video",
                         "name a clip with pictures");
    for (AVStream* stream : streams(*format_))
        if (stream != video_) stream->discard = AVDISCARD_ALL;
}

ClipInfo Demuxer::info() const {
    ClipInfo info;
    const AVStream& stream = *video_;
    const std::string names = format_->iformat->name;  // `matroska,webm`
    info.path = input_.path();
    info.container = names.substr(0, names.find(','));
    info.codec = libav().avcodec_get_name(stream.codecpar->codec_id);
    info.time_base = positive(stream.time_base).value_or(Rational(1, AV_TIME_BASE));
    info.declared_frame_rate = declared_rate(stream);
    info.sample_aspect =
        positive(libav().av_guess_sample_aspect_ratio(format_.get(), const_cast<AVStream*>(&stream), nullptr));
    info.declared_order = declared_order(stream.codecpar->field_order, info.container);
    info.duration_s = declared_duration_s(*format_, stream);
    info.file_bytes = input_.bytes();
    info.has_sound = has_sound(*format_);
    return info;
}

bool Demuxer::read(AVPacket& packet) {
    while (true) {
        libav().av_packet_unref(&packet);
        const int result = libav().av_read_frame(format_.get(), &packet);
        if (result == AVERROR(EAGAIN)) continue;
        if (result < 0) {
            if (result != AVERROR_EOF && result != AVERROR_EXIT)
                trouble_ = "reading stopped before the end of the file (" + av_error_text(result) + ")";
            else if (last_cut_short_)
                trouble_ = "the file ends in the middle of a frame";
            return false;
        }
        if (packet.stream_index != video_->index) continue;
        last_cut_short_ = (packet.flags & AV_PKT_FLAG_CORRUPT) != 0;
        return true;
    }
}

std::uint64_t Demuxer::position() const {
    // What avio_tell does: where the file stands, less what is buffered and not yet taken.
    const AVIOContext& io = *input_.context();
    return static_cast<std::uint64_t>(std::max<std::int64_t>(0, io.pos - (io.buf_end - io.buf_ptr)));
}

DeclaredOrder declared_order(AVFieldOrder order, const std::string& container) {
    // Two ways to say "fields woven, stored top field first": QuickTime and Matroska use the codes 9 and 14 (TB, BT)
    // for frames whose lines are woven, and mean by 9 that the top field is the earlier one (RFC 9559, element
    // FieldOrder; from memory). MXF means what FFmpeg's names say.
    const bool by_display = container == "mxf" || container == "mxf_opatom";
    switch (order) {
        case AV_FIELD_PROGRESSIVE:
            return DeclaredOrder::Progressive;
        case AV_FIELD_TT:
            return DeclaredOrder::TopFirst;
        case AV_FIELD_BB:
            return DeclaredOrder::BottomFirst;
        case AV_FIELD_TB:
            return by_display ? DeclaredOrder::BottomFirst : DeclaredOrder::TopFirst;
        case AV_FIELD_BT:
            return by_display ? DeclaredOrder::TopFirst : DeclaredOrder::BottomFirst;
        default:
            return DeclaredOrder::Unknown;
    }
}

}  // namespace guardband::media
