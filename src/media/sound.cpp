#include "media/sound.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>

#include "media/container.h"
#include "media/sound_samples.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

constexpr int most_channels = 64;
/// A file whose first packets give no sound is given up after this many.
constexpr int most_packets_before_first_frame = 1000;
/// Sound that ends this much before its header's length is cut short.
constexpr double tolerated_shortfall_s = 0.1;

std::vector<const AVStream*> sound_streams(const Container& container) {
    std::vector<const AVStream*> found;
    for (const AVStream* stream : container.streams())
        if (stream->codecpar->codec_type == AVMEDIA_TYPE_AUDIO) found.push_back(stream);
    return found;
}

const AVStream& chosen_stream(const Container& container, int number) {
    const auto found = sound_streams(container);
    const std::string& path = container.input().path();
    if (found.empty()) throw InputError(path, "has no sound", "name a file with sound, such as WAV or FLAC");
    if (number < 0 || number >= static_cast<int>(found.size()))
        throw InputError(path, fmt::format("has {} sound stream{}", found.size(), found.size() == 1 ? "" : "s"),
                         "name one of them, the first is 1");
    return *found[static_cast<std::size_t>(number)];
}

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

class FileSound final : public SoundReader {
public:
    FileSound(const std::string& path, const SoundOptions& options)
        : container_(path, stop_, {"a sound file", "one", "the sound file itself"}),
          stream_(chosen_stream(container_, options.stream)),
          decoder_(open_decoder(stream_, path)),
          packet_(own(libav().av_packet_alloc())),
          frame_(own(libav().av_frame_alloc())) {
        container_.choose(stream_);
        describe(options);
        stretch_.emplace(options, info_.sample_rate_hz, path);
    }

    const SoundInfo& info() const override { return info_; }
    const SoundBlock* next() override;
    std::string trouble() const override { return trouble_; }
    std::uint64_t bytes_read() const override { return container_.position(); }

private:
    void describe(const SoundOptions& options);
    bool decode_frame();
    bool feed();
    void take(const AVFrame& frame);
    void conclude();

    std::atomic<bool> stop_{false};
    Container container_;
    const AVStream& stream_;
    Handle<AVCodecContext> decoder_;
    Handle<AVPacket> packet_;
    Handle<AVFrame> frame_;
    SoundInfo info_;
    std::optional<SampleStretch> stretch_;
    SoundBlock block_;
    bool flushed_ = false;
    int packets_ = 0;
    std::int64_t failures_ = 0;
    std::string trouble_;
};

void FileSound::describe(const SoundOptions& options) {
    const std::string& path = container_.input().path();
    info_.path = path;
    info_.container = container_.name();
    info_.codec = libav().avcodec_get_name(stream_.codecpar->codec_id);
    info_.header_rate_hz = decoder_->sample_rate;
    info_.sample_rate_hz = options.sample_rate_hz.value_or(info_.header_rate_hz);
    info_.channels = decoder_->ch_layout.nb_channels;
    info_.stream = options.stream;
    info_.streams = static_cast<int>(sound_streams(container_).size());
    info_.file_bytes = container_.input().bytes();
    if (info_.channels < 1 || info_.channels > most_channels)
        throw InputError(path, fmt::format("its header claims {} channels", info_.channels),
                         "give a file of 1 to 64 channels");
    if (info_.header_rate_hz <= 0 && !options.sample_rate_hz)
        throw InputError(path, "its header gives no sampling rate", "give it with --rate");
    if (const auto declared = declared_duration_s(container_.format(), stream_);
        declared && std::isfinite(*declared) && info_.header_rate_hz > 0)
        info_.length_s = *declared * info_.header_rate_hz / info_.sample_rate_hz;
}

/// Gives the decoder its next packet, or the end. @returns false if it has had the end before
bool FileSound::feed() {
    if (flushed_) return false;
    const bool got = container_.read(*packet_);
    if (got && stretch_->seen() == 0 && ++packets_ > most_packets_before_first_frame) flushed_ = true;
    if (!got) flushed_ = true;
    const int result = libav().avcodec_send_packet(decoder_.get(), flushed_ ? nullptr : packet_.get());
    if (result < 0 && result != AVERROR_EOF) ++failures_;
    return true;
}

bool FileSound::decode_frame() {
    while (true) {
        const int result = libav().avcodec_receive_frame(decoder_.get(), frame_.get());
        if (result >= 0) return true;
        if (result == AVERROR_EOF) return false;
        if (result != AVERROR(EAGAIN)) ++failures_;
        if (!feed()) return false;
    }
}

void FileSound::take(const AVFrame& frame) {
    const std::string& path = info_.path;
    if (frame.ch_layout.nb_channels != info_.channels ||
        (frame.sample_rate != 0 && frame.sample_rate != decoder_->sample_rate))
        throw InputError(path, "its sound changes its rate or number of channels on the way", "cut it there");
    if (!to_floats(frame, block_.channels))
        throw InputError(path, "its samples are of a kind that is not known", "convert it to WAV or FLAC");
    block_.stamp_s.reset();
    if (frame.pts != AV_NOPTS_VALUE)
        block_.stamp_s =
            static_cast<double>(frame.pts) * av_q2d(stream_.time_base) * info_.header_rate_hz / info_.sample_rate_hz;
}

const SoundBlock* FileSound::next() {
    while (!stretch_->is_over()) {
        if (!decode_frame()) {
            conclude();
            return nullptr;
        }
        take(*frame_);
        const std::int64_t seen = stretch_->seen(), taken = stretch_->taken();
        if (!stretch_->cut(block_.channels)) continue;
        const std::int64_t left_out = stretch_->seen() - seen - static_cast<std::int64_t>(block_.channels[0].size());
        if (block_.stamp_s && taken == 0) *block_.stamp_s += static_cast<double>(left_out) / info_.sample_rate_hz;
        block_.first_sample = taken;
        block_.time_s = static_cast<double>(taken) / info_.sample_rate_hz;
        return &block_;
    }
    return nullptr;
}

void FileSound::conclude() {
    const double read_s = static_cast<double>(stretch_->seen()) / info_.sample_rate_hz;
    if (stretch_->seen() == 0)
        throw InputError(info_.path, "none of its sound could be decoded", "check that it was copied whole");
    if (stretch_->taken() == 0)
        throw InputError(info_.path, fmt::format("it ends after {:.2f} s, before the start asked for", read_s),
                         "start earlier");
    if (!stretch_->is_everything()) return;
    trouble_ = container_.trouble();
    const auto append = [&](const std::string& text) { trouble_ += (trouble_.empty() ? "" : "; ") + text; };
    if (info_.length_s && read_s + tolerated_shortfall_s < *info_.length_s)
        append(fmt::format("it ends after {:.2f} s, though its header says {:.2f} s", read_s, *info_.length_s));
    if (failures_ > 0) append(fmt::format("{} of its packets could not be decoded", failures_));
}

}  // namespace

std::unique_ptr<SoundReader> open_sound(const std::string& path, const SoundOptions& options) {
    return std::make_unique<FileSound>(path, options);
}

}  // namespace guardband::media
