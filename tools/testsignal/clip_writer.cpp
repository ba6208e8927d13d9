#include "testsignal/clip_writer.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <future>
#include <numbers>
#include <utility>

#include "quantity/errors.h"
#include "testsignal/libav.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

constexpr double full_scale = 32767;
constexpr double tone_db = -18.0618;  // an eighth of full scale
constexpr int encoder_threads = 2;
constexpr int ffv1_slices = 4;  // of the counts that FFV1 allows, one that small rasters can still be cut into

AVRational to_libav(const quantity::Rational& r) {
    return {static_cast<int>(r.numerator()), static_cast<int>(r.denominator())};
}

AVPixelFormat pixel_format(const Recipe& r) {
    const bool deep = r.bit_depth > 8;
    switch (r.chroma) {
        case ChromaSampling::C420:
            return deep ? AV_PIX_FMT_YUV420P10 : AV_PIX_FMT_YUV420P;
        case ChromaSampling::C411:
            return deep ? AV_PIX_FMT_NONE : AV_PIX_FMT_YUV411P;
        case ChromaSampling::C422:
            break;
    }
    return deep ? AV_PIX_FMT_YUV422P10 : AV_PIX_FMT_YUV422P;
}

AVCodecID codec_id(Codec codec) {
    return codec == Codec::Ffv1 ? AV_CODEC_ID_FFV1 : codec == Codec::V210 ? AV_CODEC_ID_V210 : AV_CODEC_ID_DVVIDEO;
}

AVFieldOrder libav_order(DeclaredOrder order) {
    switch (order) {
        case DeclaredOrder::TopFirst:
            return AV_FIELD_TT;
        case DeclaredOrder::BottomFirst:
            return AV_FIELD_BB;
        case DeclaredOrder::Progressive:
            return AV_FIELD_PROGRESSIVE;
        case DeclaredOrder::Unknown:
            break;
    }
    return AV_FIELD_UNKNOWN;
}

bool has_exact_stamps(const Recipe& r) { return r.stamps.rounding_ms == 0 && r.stamps.jitter_rms_ms == 0; }

/// Exact stamps count frame periods; stamps that were tampered with are given in microseconds.
AVRational stamp_base(const Recipe& r) {
    return has_exact_stamps(r) ? av_inv_q(to_libav(r.raster.frame_rate)) : AVRational{1, 1000000};
}

const char* muxer_name(const std::string& container) { return container == "mkv" ? "matroska" : container.c_str(); }

}  // namespace

struct ClipWriter::State {
    Recipe recipe;
    std::string path, part;
    Libav<AVFormatContext> file;
    Libav<AVCodecContext> encoder;
    Libav<AVFrame> picture{av_frame_alloc()};
    Libav<AVPacket> packet{av_packet_alloc()};
    AVStream *video = nullptr, *sound = nullptr;
    SoundTrackSettings track_settings;
    std::unique_ptr<SoundTrack> track;
    std::int64_t sound_samples = 0;
    double picture_s = 0;  ///< length of what was written
    bool finished = false;

    void must(int result, const char* doing) const {
        if (result >= 0) return;
        char reason[AV_ERROR_MAX_STRING_SIZE] = {};
        av_strerror(result, reason, sizeof reason);
        throw InputError(path, fmt::format("{}: {}", doing, reason),
                         "check the recipe's raster and codec, the folder and the space in it");
    }
    void open_file();
    void add_video();
    void set_coding();
    void add_sound();
    void allocate_picture();
    void fill_plane(const SamplePlane& plane, int index);
    void send(const AVFrame* frame);
    int sound_hz() const { return static_cast<int>(track_settings.sample_rate_hz); }
    void write_sound_until(double time_s);
};

void ClipWriter::State::open_file() {
    AVFormatContext* raw = nullptr;
    must(avformat_alloc_output_context2(&raw, nullptr, muxer_name(recipe.container), nullptr), "no such container");
    file.reset(raw);
    file->flags |= AVFMT_FLAG_BITEXACT;  // no dates, no random numbers: the same recipe gives the same file
    must(avio_open(&file->pb, part.c_str(), AVIO_FLAG_WRITE), "can't be written");
}

void ClipWriter::State::set_coding() {
    auto& e = *encoder;
    e.width = recipe.raster.width, e.height = recipe.raster.height;
    e.pix_fmt = pixel_format(recipe);
    e.time_base = recipe.codec == Codec::Dv ? av_inv_q(to_libav(recipe.raster.frame_rate)) : stamp_base(recipe);
    e.framerate = to_libav(recipe.raster.frame_rate);
    e.sample_aspect_ratio = to_libav(recipe.raster.sample_aspect);
    e.color_range = AVCOL_RANGE_MPEG;
    e.field_order = libav_order(order_to_declare(recipe));
    e.flags |= AV_CODEC_FLAG_BITEXACT;
    if (e.field_order == AV_FIELD_TT || e.field_order == AV_FIELD_BB) e.flags |= AV_CODEC_FLAG_INTERLACED_DCT;
    if (file->oformat->flags & AVFMT_GLOBALHEADER) e.flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    e.thread_count = encoder_threads;
    if (recipe.codec != Codec::Ffv1) return;
    e.level = 3;  // FFV1 version 3
    e.slices = ffv1_slices;
    e.gop_size = 1;
    av_opt_set_int(e.priv_data, "slicecrc", 1, 0);
    av_opt_set_int(e.priv_data, "coder", 1, 0);  // range coder, the only one for more than 8 bits
}

void ClipWriter::State::add_video() {
    const AVCodec* codec = avcodec_find_encoder(codec_id(recipe.codec));
    if (!codec) throw InputError(path, "this FFmpeg has no encoder for the codec", "choose another codec");
    encoder.reset(avcodec_alloc_context3(codec));
    set_coding();
    must(avcodec_open2(encoder.get(), codec, nullptr), "the codec refuses these pictures");
    video = avformat_new_stream(file.get(), nullptr);
    must(avcodec_parameters_from_context(video->codecpar, encoder.get()), "the codec can't be described");
    video->time_base = encoder->time_base;
    video->avg_frame_rate = encoder->framerate;
    video->sample_aspect_ratio = encoder->sample_aspect_ratio;
}

void ClipWriter::State::add_sound() {
    if (recipe.sound_track)
        track_settings = *recipe.sound_track;
    else
        track_settings.tone_hz = tone_hz, track_settings.tone_db = tone_db;
    track = std::make_unique<SoundTrack>(track_settings, recipe.seed);
    const int channels = track_settings.channels;
    sound = avformat_new_stream(file.get(), nullptr);
    auto& p = *sound->codecpar;
    p.codec_type = AVMEDIA_TYPE_AUDIO;
    p.codec_id = AV_CODEC_ID_PCM_S16LE;
    p.format = AV_SAMPLE_FMT_S16;
    p.sample_rate = sound_hz();
    av_channel_layout_default(&p.ch_layout, channels);
    p.bits_per_coded_sample = 16;
    p.block_align = 2 * channels;
    p.bit_rate = static_cast<std::int64_t>(sound_hz()) * 16 * channels;
    sound->time_base = {1, sound_hz()};
}

void ClipWriter::State::allocate_picture() {
    picture->width = encoder->width, picture->height = encoder->height, picture->format = encoder->pix_fmt;
    must(av_frame_get_buffer(picture.get(), 0), "no memory for a picture");
    const DeclaredOrder order = order_to_declare(recipe);
    picture->interlaced_frame = order == DeclaredOrder::TopFirst || order == DeclaredOrder::BottomFirst;
    picture->top_field_first = order == DeclaredOrder::TopFirst;
    picture->sample_aspect_ratio = encoder->sample_aspect_ratio;
}

void ClipWriter::State::fill_plane(const SamplePlane& plane, int index) {
    for (int y = 0; y < plane.height; ++y) {
        std::uint8_t* to = picture->data[index] + static_cast<std::ptrdiff_t>(y) * picture->linesize[index];
        const std::uint16_t* from = plane.row(y);
        if (recipe.bit_depth > 8)
            std::copy_n(from, plane.width, reinterpret_cast<std::uint16_t*>(to));
        else
            std::transform(from, from + plane.width, to, [](std::uint16_t v) { return static_cast<std::uint8_t>(v); });
    }
}

void ClipWriter::State::send(const AVFrame* frame) {
    must(avcodec_send_frame(encoder.get(), frame), "a picture can't be encoded");
    for (;;) {
        const int result = avcodec_receive_packet(encoder.get(), packet.get());
        if (result == AVERROR(EAGAIN) || result == AVERROR_EOF) return;
        must(result, "a picture can't be encoded");
        packet->stream_index = video->index;
        packet->duration = has_exact_stamps(recipe) ? 1 : 0;
        av_packet_rescale_ts(packet.get(), encoder->time_base, video->time_base);
        must(av_interleaved_write_frame(file.get(), packet.get()), "can't be written");
    }
}

void ClipWriter::State::write_sound_until(double time_s) {
    const auto end = static_cast<std::int64_t>(std::llround(time_s * sound_hz())), count = end - sound_samples;
    if (count <= 0) return;
    std::vector<std::vector<float>> channels;
    track->next(count, channels);
    must(av_new_packet(packet.get(), static_cast<int>(count) * 2 * track_settings.channels), "no memory for sound");
    auto* out = reinterpret_cast<std::int16_t*>(packet->data);
    for (std::size_t i = 0; i < static_cast<std::size_t>(count); ++i)
        for (const auto& channel : channels)
            *out++ = static_cast<std::int16_t>(std::lround(std::clamp(channel[i], -1.0F, 1.0F) * full_scale));
    packet->stream_index = sound->index;
    packet->pts = packet->dts = sound_samples;
    packet->duration = count;
    packet->flags |= AV_PKT_FLAG_KEY;
    av_packet_rescale_ts(packet.get(), {1, sound_hz()}, sound->time_base);
    must(av_interleaved_write_frame(file.get(), packet.get()), "can't be written");
    sound_samples = end;
}

double stamp_step_s(const Recipe& recipe) {
    const double container_s =
        recipe.container == "mkv" ? 1e-3 : 0;  // libavformat always writes Matroska in milliseconds
    return std::max(container_s, recipe.stamps.rounding_ms / 1e3);
}

void silence_libav() { av_log_set_level(AV_LOG_QUIET); }

ClipWriter::ClipWriter(const Recipe& recipe, const std::string& path) : state_(std::make_unique<State>()) {
    auto& s = *state_;
    s.recipe = recipe, s.path = path, s.part = path + ".part";
    check_file(recipe);
    try {
        s.open_file();
        s.add_video();
        if (recipe.sound || recipe.sound_track) s.add_sound();
        s.allocate_picture();
        s.must(avformat_write_header(s.file.get(), nullptr), "the container refuses the clip");
    } catch (...) {
        std::error_code ignored;
        std::filesystem::remove(s.part, ignored);
        throw;
    }
}

ClipWriter::~ClipWriter() {
    if (state_->finished) return;
    state_->file.reset();
    std::error_code ignored;
    std::filesystem::remove(state_->part, ignored);
}

void ClipWriter::write(const ClipFrame& frame) {
    auto& s = *state_;
    s.must(av_frame_make_writable(s.picture.get()), "no memory for a picture");
    for (int i = 0; i < 3; ++i) s.fill_plane(frame.planes[static_cast<std::size_t>(i)], i);
    s.picture->pts = std::llround(frame.time_s / av_q2d(s.encoder->time_base));
    s.send(s.picture.get());
    s.picture_s = static_cast<double>(frame.index + 1) / s.recipe.raster.frame_rate.value();
    if (s.sound) s.write_sound_until(s.picture_s + std::min(0.0, s.track_settings.longer_ms / 1e3));
}

void ClipWriter::finish() {
    auto& s = *state_;
    s.send(nullptr);
    if (s.sound) s.write_sound_until(s.picture_s + s.track_settings.longer_ms / 1e3);
    s.must(av_write_trailer(s.file.get()), "can't be written");
    s.must(avio_closep(&s.file->pb), "can't be written");
    std::filesystem::rename(s.part, s.path);
    s.finished = true;
}

Truth write_clip(const Recipe& recipe, const std::string& path,
                 const std::function<void(std::int64_t, std::int64_t)>& progress) {
    ClipMaker maker(recipe);
    ClipWriter writer(recipe, path);
    ClipFrame making, writing;
    bool more = maker.next(making);
    while (more) {
        std::swap(making, writing);
        auto next =
            std::async(std::launch::async, [&] { return maker.next(making); });  // drawn while this one is encoded
        writer.write(writing);
        more = next.get();
        if (progress) progress(writing.index + 1, maker.frame_count());
    }
    writer.finish();
    return maker.truth();
}

}  // namespace guardband::testsignal
