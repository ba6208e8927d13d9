#include "media/clip_sound.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

/// Sound that lies before a clip's first picture is kept up to here.
constexpr std::size_t most_bytes_before_pictures = std::size_t{48} << 20;
/// Floating-point samples beyond this, 40 dB above full scale, are damage: cut, so that no sum of them overflows.
constexpr float wildest_sample = 100;

void tame(SoundBlock& block) {
    for (auto& channel : block.channels)
        for (float& sample : channel) sample = std::clamp(sample, -wildest_sample, wildest_sample);
}

SoundInfo describe(const Demuxer& demuxer, const SoundDecoder& decoder) {
    const AVStream& stream = *demuxer.sound();
    SoundInfo info;
    info.path = demuxer.container().input().path();
    info.container = demuxer.container().name();
    info.codec = libav().avcodec_get_name(stream.codecpar->codec_id);
    info.sample_rate_hz = info.header_rate_hz = decoder.sample_rate_hz();
    info.channels = decoder.channels();
    info.streams = static_cast<int>(std::ranges::count_if(demuxer.container().streams(), [](const AVStream* one) {
        return one->codecpar->codec_type == AVMEDIA_TYPE_AUDIO;
    }));
    info.length_s = declared_duration_s(demuxer.container().format(), stream);
    info.file_bytes = demuxer.container().input().bytes();
    return info;
}

}  // namespace

ClipSound::ClipSound(const Demuxer& demuxer, const ReadOptions& options, ClipInfo& info) : stream_(demuxer.sound()) {
    whole_ = options.start_s == 0 && !options.duration_s;
    info.read_whole = whole_;
    if (stream_ == nullptr) return;
    try {
        decoder_ = std::make_unique<SoundDecoder>(*stream_, info.path);
        rate_hz_ = decoder_->sample_rate_hz();
        if (rate_hz_ <= 0) throw quantity::InputError(info.path, "the header of its sound gives no sampling rate");
        info.sound = describe(demuxer, *decoder_);
    } catch (const quantity::InputError& error) {
        decoder_.reset();
        info.sound_trouble = error.what();
        return;
    }
    // The stretch counts from the first picture, whose time the header tells.
    const AVStream& video = demuxer.video();
    const double zero_s =
        video.start_time == AV_NOPTS_VALUE ? 0 : static_cast<double>(video.start_time) * av_q2d(video.time_base);
    from_s_ = zero_s + options.start_s;
    if (options.duration_s) to_s_ = from_s_ + *options.duration_s;
}

/// Leaves what lies in the stretch asked for. @returns false if nothing does
bool ClipSound::cut(SoundBlock& block) {
    if (whole_) return true;
    if (!block.stamp_s) return false;
    const auto count = static_cast<double>(block.channels.front().size());
    const double first = std::clamp(std::ceil((from_s_ - *block.stamp_s) * rate_hz_), 0.0, count);
    const double end = to_s_ ? std::clamp(std::ceil((*to_s_ - *block.stamp_s) * rate_hz_), first, count) : count;
    for (auto& channel : block.channels) {
        channel.resize(static_cast<std::size_t>(end));
        channel.erase(channel.begin(), channel.begin() + static_cast<std::ptrdiff_t>(first));
    }
    *block.stamp_s += first / rate_hz_;
    return end > first;
}

void ClipSound::take(const AVPacket* packet, FrameQueue& queue, bool may_wait) {
    if (!decoder_) return;
    try {
        decoder_->send(packet);
        for (SoundBlock block; decoder_->receive(block); block = {}) {
            if (block.channels.empty() || block.channels.front().empty() || !cut(block)) continue;
            tame(block);
            block.first_sample = handed_over_;
            block.time_s = static_cast<double>(handed_over_) / rate_hz_;
            handed_over_ += static_cast<std::int64_t>(block.channels.front().size());
            if (!may_wait && queue.sound_bytes() > most_bytes_before_pictures)
                throw quantity::InputError("", "its sound lies too far before its pictures");
            queue.push(std::move(block));
        }
    } catch (const quantity::InputError& error) {
        trouble_ = fmt::format("its sound was read only so far: {}", error.what());
        decoder_.reset();
    }
}

std::string ClipSound::trouble() const {
    if (!trouble_.empty() || !decoder_ || decoder_->failures() == 0) return trouble_;
    return fmt::format("{} packets of its sound could not be decoded", decoder_->failures());
}

}  // namespace guardband::media
