#include "support/made_sound.h"

#include <algorithm>

namespace guardband::support {
namespace {

constexpr std::size_t block_samples = 5000;  // not a power of two, so that blocks and windows never fall together

class MadeSound final : public media::SoundReader {
public:
    MadeSound(std::shared_ptr<const std::vector<std::vector<float>>> channels, double rate_hz)
        : channels_(std::move(channels)) {
        info_.path = "made.wav";
        info_.container = "wav";
        info_.codec = "pcm_f32le";
        info_.sample_rate_hz = info_.header_rate_hz = rate_hz;
        info_.channels = static_cast<int>(channels_->size());
    }

    const media::SoundInfo& info() const override { return info_; }
    std::string trouble() const override { return ""; }
    std::uint64_t bytes_read() const override { return at_; }

    const media::SoundBlock* next() override {
        const std::size_t count = channels_->front().size();
        if (at_ >= count) return nullptr;
        const std::size_t to = std::min(count, at_ + block_samples);
        block_.first_sample = static_cast<std::int64_t>(at_);
        block_.time_s = static_cast<double>(at_) / info_.sample_rate_hz;
        block_.channels.clear();
        for (const auto& channel : *channels_)
            block_.channels.emplace_back(channel.begin() + static_cast<std::ptrdiff_t>(at_),
                                         channel.begin() + static_cast<std::ptrdiff_t>(to));
        at_ = to;
        return &block_;
    }

private:
    std::shared_ptr<const std::vector<std::vector<float>>> channels_;
    media::SoundInfo info_;
    media::SoundBlock block_;
    std::size_t at_ = 0;
};

}  // namespace

std::function<std::unique_ptr<media::SoundReader>()> sound_of(std::vector<std::vector<float>> channels,
                                                              double sample_rate_hz) {
    const auto shared = std::make_shared<const std::vector<std::vector<float>>>(std::move(channels));
    return [shared, sample_rate_hz] { return std::make_unique<MadeSound>(shared, sample_rate_hz); };
}

std::function<std::unique_ptr<media::SoundReader>()> sound_of(std::vector<float> samples, double sample_rate_hz) {
    return sound_of(std::vector<std::vector<float>>{std::move(samples)}, sample_rate_hz);
}

}  // namespace guardband::support
