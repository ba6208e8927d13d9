#pragma once

#include <memory>
#include <vector>

#include "measure/clip_measurement.h"
#include "support/made_context.h"
#include "testsignal/sound_track.h"

namespace guardband::measure {

/// What a measurement of sound makes of a made sound track.
struct Heard {
    quantity::Figures figures;
    std::vector<quantity::Event> events;

    const quantity::Figure& at(std::string_view id) const { return *figures.find(id); }
    double value(std::string_view id) const { return at(id).number().value_or(-1e9); }
    double uncertainty(std::string_view id) const { return at(id).uncertainty().value_or(-1); }
};

/// A context of a clip of 625/50 with such sound.
inline void prepare(support::MadeContext& context, double sample_rate_hz, int channels) {
    static const table::Table table = table::load_table();
    context.table = table;
    context.info.has_sound = true;
    context.info.sound.emplace();
    context.info.sound->sample_rate_hz = sample_rate_hz;
    context.info.sound->channels = channels;
    context.info.picture.width = 720, context.info.picture.height = 576;
    context.evidence.rate_value.emplace();
    context.evidence.rate_value->hz = 25;
}

/// Lets a measurement hear samples in blocks of a length that fits no window.
template <typename Measurement>
Heard hear(const std::vector<std::vector<float>>& channels, double sample_rate_hz, std::size_t block = 1537) {
    support::MadeContext context;
    prepare(context, sample_rate_hz, static_cast<int>(channels.size()));
    Measurement measurement(context.context);
    for (std::size_t at = 0; at < channels[0].size(); at += block) {
        media::SoundBlock part;
        part.first_sample = static_cast<std::int64_t>(at);
        part.time_s = static_cast<double>(at) / sample_rate_hz;
        part.stamp_s = part.time_s;
        for (const auto& channel : channels)
            part.channels.emplace_back(
                channel.begin() + static_cast<std::ptrdiff_t>(at),
                channel.begin() + static_cast<std::ptrdiff_t>(std::min(channel.size(), at + block)));
        measurement.hear(part);
    }
    Heard heard;
    measurement.finish(heard.figures, heard.events);
    return heard;
}

/// The same for a made sound track.
template <typename Measurement>
Heard hear(const testsignal::SoundTrackSettings& settings, double seconds, std::uint64_t seed = 1) {
    testsignal::SoundTrack track(settings, seed);
    std::vector<std::vector<float>> channels;
    track.next(static_cast<std::int64_t>(seconds * settings.sample_rate_hz), channels);
    return hear<Measurement>(channels, settings.sample_rate_hz);
}

}  // namespace guardband::measure
