#include "media/sound_samples.h"

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

/// Rates beyond these are no rates of samples; the upper one is that of the fastest video digitisers and some.
constexpr double lowest_rate_hz = 1, highest_rate_hz = 1e9;
/// Longest time that is taken, s: a year, so that a count of samples fits its type.
constexpr double longest_s = 3.2e7;

template <typename Sample>
float as_float(Sample sample) {
    if constexpr (std::is_floating_point_v<Sample>) {
        const auto value = static_cast<float>(sample);
        return std::isfinite(value) ? value : 0.0F;
    } else if constexpr (std::is_unsigned_v<Sample>) {
        return (static_cast<float>(sample) - 128.0F) / 128.0F;  // only 8 bits are stored without a sign
    } else {
        constexpr double full_scale = 1.0 + static_cast<double>(std::numeric_limits<Sample>::max());
        return static_cast<float>(static_cast<double>(sample) / full_scale);
    }
}

template <typename Sample>
void copy(const AVFrame& frame, bool planar, std::vector<std::vector<float>>& out) {
    const std::size_t channels = out.size();
    for (std::size_t c = 0; c < channels; ++c) {
        const auto* from = reinterpret_cast<const Sample*>(frame.extended_data[planar ? c : 0]);
        const std::size_t step = planar ? 1 : channels, first = planar ? 0 : c;
        for (std::size_t i = 0; i < out[c].size(); ++i) out[c][i] = as_float(from[first + i * step]);
    }
}

void require(bool holds, const std::string& path, const char* what, const char* remedy) {
    if (!holds) throw InputError(path, what, remedy);
}

}  // namespace

bool to_floats(const AVFrame& frame, std::vector<std::vector<float>>& out) {
    out.resize(static_cast<std::size_t>(std::max(0, frame.ch_layout.nb_channels)));
    for (auto& channel : out) channel.resize(static_cast<std::size_t>(std::max(0, frame.nb_samples)));
    switch (frame.format) {
        case AV_SAMPLE_FMT_U8:
        case AV_SAMPLE_FMT_U8P:
            copy<std::uint8_t>(frame, frame.format == AV_SAMPLE_FMT_U8P, out);
            return true;
        case AV_SAMPLE_FMT_S16:
        case AV_SAMPLE_FMT_S16P:
            copy<std::int16_t>(frame, frame.format == AV_SAMPLE_FMT_S16P, out);
            return true;
        case AV_SAMPLE_FMT_S32:
        case AV_SAMPLE_FMT_S32P:
            copy<std::int32_t>(frame, frame.format == AV_SAMPLE_FMT_S32P, out);
            return true;
        case AV_SAMPLE_FMT_S64:
        case AV_SAMPLE_FMT_S64P:
            copy<std::int64_t>(frame, frame.format == AV_SAMPLE_FMT_S64P, out);
            return true;
        case AV_SAMPLE_FMT_FLT:
        case AV_SAMPLE_FMT_FLTP:
            copy<float>(frame, frame.format == AV_SAMPLE_FMT_FLTP, out);
            return true;
        case AV_SAMPLE_FMT_DBL:
        case AV_SAMPLE_FMT_DBLP:
            copy<double>(frame, frame.format == AV_SAMPLE_FMT_DBLP, out);
            return true;
        default:
            return false;
    }
}

SampleStretch::SampleStretch(const SoundOptions& options, double sample_rate_hz, const std::string& path) {
    require(sample_rate_hz >= lowest_rate_hz && sample_rate_hz <= highest_rate_hz, path,
            "its sampling rate is none that can be worked with", "give the true one with --rate");
    require(options.start_s >= 0 && options.start_s < longest_s, path, "the start asked for is not a time in it",
            "give seconds from the start");
    start_ = std::llround(options.start_s * sample_rate_hz);
    if (!options.duration_s) return;
    require(*options.duration_s > 0 && *options.duration_s < longest_s, path, "the duration asked for is no duration",
            "give more than 0 seconds");
    length_ = std::max<std::int64_t>(1, std::llround(*options.duration_s * sample_rate_hz));
}

bool SampleStretch::cut(std::vector<std::vector<float>>& channels) {
    const auto count = channels.empty() ? 0 : static_cast<std::int64_t>(channels.front().size());
    const std::int64_t first = std::clamp<std::int64_t>(start_ - seen_, 0, count);
    const std::int64_t most = length_ ? *length_ - taken_ : count;
    const std::int64_t kept = std::clamp<std::int64_t>(count - first, 0, most);
    seen_ += count;
    taken_ += kept;
    for (auto& channel : channels) {
        channel.resize(static_cast<std::size_t>(first + kept));
        channel.erase(channel.begin(), channel.begin() + first);
    }
    return kept > 0;
}

}  // namespace guardband::media
