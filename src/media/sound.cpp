#include "media/sound.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>

#include "media/container.h"
#include "media/sound_decoder.h"
#include "media/sound_samples.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

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

class FileSound final : public SoundReader {
public:
    FileSound(const std::string& path, const SoundOptions& options)
        : container_(path, stop_, {"a sound file", "one", "the sound file itself"}),
          stream_(chosen_stream(container_, options.stream)),
          decoder_(stream_, path),
          packet_(own(libav().av_packet_alloc())) {
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
    bool decode();
    bool feed();
    void conclude();

    std::atomic<bool> stop_{false};
    Container container_;
    const AVStream& stream_;
    SoundDecoder decoder_;
    Handle<AVPacket> packet_;
    SoundInfo info_;
    std::optional<SampleStretch> stretch_;
    SoundBlock block_;
    bool flushed_ = false;
    int packets_ = 0;
    std::string trouble_;
};

void FileSound::describe(const SoundOptions& options) {
    const std::string& path = container_.input().path();
    info_.path = path;
    info_.container = container_.name();
    info_.codec = libav().avcodec_get_name(stream_.codecpar->codec_id);
    info_.header_rate_hz = decoder_.sample_rate_hz();
    info_.sample_rate_hz = options.sample_rate_hz.value_or(info_.header_rate_hz);
    info_.channels = decoder_.channels();
    info_.stream = options.stream;
    info_.streams = static_cast<int>(sound_streams(container_).size());
    info_.file_bytes = container_.input().bytes();
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
    decoder_.send(flushed_ ? nullptr : packet_.get());
    return true;
}

/// Fills the block with the next samples; their stamps as the given rate reckons them. @returns false at the end
bool FileSound::decode() {
    while (!decoder_.receive(block_))
        if (decoder_.is_done() || !feed()) return false;
    if (block_.stamp_s) *block_.stamp_s *= info_.header_rate_hz / info_.sample_rate_hz;
    return true;
}

const SoundBlock* FileSound::next() {
    while (!stretch_->is_over()) {
        if (!decode()) {
            conclude();
            return nullptr;
        }
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
    if (decoder_.failures() > 0) append(fmt::format("{} of its packets could not be decoded", decoder_.failures()));
}

}  // namespace

std::unique_ptr<SoundReader> open_sound(const std::string& path, const SoundOptions& options) {
    return std::make_unique<FileSound>(path, options);
}

}  // namespace guardband::media
