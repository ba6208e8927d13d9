#include "media/demuxer.h"

#include <algorithm>
#include <array>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;
using quantity::Rational;

/// Rates above this are no frame rates: headers with a tick of 1/90000 s and no better idea give 90000.
constexpr double highest_rate_hz = 1000;

bool is_text(AVCodecID codec) {
    constexpr std::array drawn = {AV_CODEC_ID_ANSI, AV_CODEC_ID_BINTEXT, AV_CODEC_ID_XBIN, AV_CODEC_ID_IDF};
    return std::ranges::find(drawn, codec) != drawn.end();
}

bool is_video(const AVStream& stream) {
    return stream.codecpar->codec_type == AVMEDIA_TYPE_VIDEO &&
           (stream.disposition & AV_DISPOSITION_ATTACHED_PIC) == 0 && !is_text(stream.codecpar->codec_id);
}

/// The stream marked as the default one, or else the one with the largest picture, or else the first.
const AVStream* find_video(const Container& container) {
    const auto rank = [](const AVStream& stream) {
        const bool is_default = (stream.disposition & AV_DISPOSITION_DEFAULT) != 0;
        return std::pair(is_default, std::int64_t{stream.codecpar->width} * stream.codecpar->height);
    };
    const AVStream* best = nullptr;
    for (const AVStream* stream : container.streams())
        if (is_video(*stream) && (best == nullptr || rank(*stream) > rank(*best))) best = stream;
    return best;
}

const AVStream* find_sound(const Container& container) {
    for (const AVStream* stream : container.streams())
        if (stream->codecpar->codec_type == AVMEDIA_TYPE_AUDIO) return stream;
    return nullptr;
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

}  // namespace

Demuxer::Demuxer(const std::string& path, const std::atomic<bool>& stop, bool with_sound)
    : container_(path, stop, {"a clip", "a video file", "the clip itself"}), video_(find_video(container_)) {
    if (video_ == nullptr)
        throw InputError(path, container_.has_sound() ? "has sound but no video" : "has no video",
                         "name a clip with pictures");
    if (with_sound) sound_ = find_sound(container_);
    container_.choose(*video_, sound_);
}

ClipInfo Demuxer::info() const {
    ClipInfo info;
    const AVStream& stream = *video_;
    info.path = container_.input().path();
    info.container = container_.name();
    info.codec = libav().avcodec_get_name(stream.codecpar->codec_id);
    const AVCodecDescriptor* descriptor = libav().avcodec_descriptor_get(stream.codecpar->codec_id);
    // Some can do both.
    info.is_lossy = descriptor != nullptr && (descriptor->props & AV_CODEC_PROP_LOSSY) != 0 &&
                    (descriptor->props & AV_CODEC_PROP_LOSSLESS) == 0;
    info.time_base = positive(stream.time_base).value_or(Rational(1, AV_TIME_BASE));
    info.declared_frame_rate = declared_rate(stream);
    info.sample_aspect =
        positive(libav().av_guess_sample_aspect_ratio(&container_.format(), const_cast<AVStream*>(&stream), nullptr));
    info.declared_order = declared_order(stream.codecpar->field_order, info.container);
    info.duration_s = declared_duration_s(container_.format(), stream);
    info.file_bytes = container_.input().bytes();
    info.has_sound = container_.has_sound();
    return info;
}

bool has_video(const std::string& path) {
    const std::atomic<bool> never_stopped = false;
    const Container container(path, never_stopped, {"a recording", "a video or sound file", "the recording itself"});
    return find_video(container) != nullptr;
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
