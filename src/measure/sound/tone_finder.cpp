#include "measure/sound/tone_finder.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "dsp/fft.h"
#include "dsp/window.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr double slice_s = 0.25;
constexpr int slices_needed = 4;
constexpr double least_share = 0.5;  ///< a tone 0 dB above all else; noise and chords stay below 0.2
constexpr double line_reach = 0.04;  ///< what a wow of 3 % spreads a line over
constexpr double steadiness = 0.06;  ///< two readings of a tone with a wow of 3 % may differ so much
constexpr double lowest_counted_hz = 200;
constexpr double silence_rms = 1e-5;  ///< −100 dB of full scale: below the last bit of 16
constexpr int most_channels = 8;
constexpr double least_rate_hz = 4000, greatest_rate_hz = 1e6;

struct SliceTone {
    double frequency_hz = 0, share = 0, rms = 0;
};

/// Gathers slices of one channel and follows a run of those that hold one tone.
class ChannelSearch {
public:
    ChannelSearch(double rate_hz, int channel)
        : channel_(channel),
          rate_hz_(rate_hz),
          fft_(dsp::fast_length(static_cast<std::size_t>(rate_hz * slice_s))),
          window_(dsp::hann(fft_.length())),
          spectrum_(fft_.bins()) {
        slice_.reserve(fft_.length());
    }

    void see(std::span<const float> samples) {
        for (const float sample : samples) {
            slice_.push_back(sample);
            if (slice_.size() == fft_.length()) end_slice();
        }
    }

    bool found() const { return run_ >= slices_needed; }
    double share() const { return shares_ / std::max(1, run_); }
    double strongest_share() const { return strongest_.share; }
    const SliceTone& strongest() const { return strongest_; }
    double loudest_rms() const { return loudest_rms_; }

    FoundTone tone() const {
        return {channel_, frequencies_ / run_, static_cast<double>(first_slice_ * fft_.length()) / rate_hz_, share()};
    }

private:
    void end_slice();
    SliceTone strongest_line();

    int channel_;
    double rate_hz_;
    dsp::RealFft fft_;
    std::vector<float> window_, slice_;
    std::vector<std::complex<float>> spectrum_;
    std::size_t slices_ = 0, first_slice_ = 0;
    int run_ = 0;
    double frequencies_ = 0, shares_ = 0, loudest_rms_ = 0;
    SliceTone strongest_;
};

SliceTone ChannelSearch::strongest_line() {
    SliceTone tone;
    const double mean = std::accumulate(slice_.begin(), slice_.end(), 0.0) / static_cast<double>(slice_.size());
    double power = 0;
    for (std::size_t i = 0; i < slice_.size(); ++i) {
        const double sample = slice_[i] - mean;
        power += sample * sample;
        slice_[i] = static_cast<float>(sample) * window_[i];
    }
    tone.rms = std::sqrt(power / static_cast<double>(slice_.size()));
    fft_.forward(slice_, spectrum_);
    const double bin_hz = rate_hz_ / static_cast<double>(fft_.length());
    double all = 0, highest = 0;
    std::size_t peak = 0;
    for (std::size_t k = 1; k < spectrum_.size(); ++k) {
        const double hz = static_cast<double>(k) * bin_hz, line = std::norm(spectrum_[k]);
        if (hz < lowest_counted_hz || hz > highest_tone_hz) continue;
        all += line;
        if (hz >= lowest_tone_hz && line > highest) highest = line, peak = k;
    }
    if (!(highest > 0)) return tone;
    double near = 0, moment = 0;
    const auto reach = static_cast<std::size_t>(std::ceil(line_reach * static_cast<double>(peak)));
    for (std::size_t k = peak - std::min(peak, reach); k <= std::min(peak + reach, spectrum_.size() - 1); ++k) {
        near += std::norm(spectrum_[k]);
        moment += std::norm(spectrum_[k]) * static_cast<double>(k) * bin_hz;
    }
    tone.frequency_hz = moment / near;
    tone.share = near / all;
    return tone;
}

void ChannelSearch::end_slice() {
    const SliceTone tone = strongest_line();
    loudest_rms_ = std::max(loudest_rms_, tone.rms);
    if (tone.rms > silence_rms && tone.share > strongest_.share) strongest_ = tone;
    const bool holds = tone.rms > silence_rms && tone.share >= least_share;
    const bool goes_on = run_ > 0 && std::abs(tone.frequency_hz / (frequencies_ / run_) - 1) <= steadiness;
    if (!holds || !goes_on) {
        run_ = 0;
        frequencies_ = shares_ = 0;
        first_slice_ = slices_;
    }
    if (holds) {
        ++run_;
        frequencies_ += tone.frequency_hz;
        shares_ += tone.share;
    }
    ++slices_;
    slice_.clear();
}

std::string what_instead(const std::vector<ChannelSearch>& channels, double seconds) {
    const auto loudest = std::ranges::max_element(channels, {}, &ChannelSearch::loudest_rms);
    if (loudest->loudest_rms() == 0) return "every sample is the same: digital silence";
    const double level_db = 20 * std::log10(loudest->loudest_rms());
    if (loudest->loudest_rms() <= silence_rms) return fmt::format("silence: it never rises above {:.0f} dB", level_db);
    const auto clearest = std::ranges::max_element(channels, {}, &ChannelSearch::strongest_share);
    const SliceTone& line = clearest->strongest();
    if (seconds < (slices_needed + 1) * slice_s)  // the slices need not begin where the tone does
        return fmt::format("only {:.2f} s of sound, which is too short to tell a tone from other sound", seconds);
    if (line.share < least_share)
        return fmt::format(
            "noise or music: the strongest line at any time, {:.0f} Hz, holds {:.0f} % of the power above {:.0f} Hz",
            line.frequency_hz, 100 * line.share, lowest_counted_hz);
    return "tones that do not last for a second at one frequency, as in music or speech";
}

}  // namespace

ToneSearch find_tone(media::SoundReader& sound, std::optional<int> channel) {
    const media::SoundInfo& info = sound.info();
    if (info.sample_rate_hz < least_rate_hz || info.sample_rate_hz > greatest_rate_hz)
        throw quantity::InputError(
            info.path, fmt::format("{:g} samples a second can't be searched for a tone", info.sample_rate_hz),
            "give sound of 4 kHz to 1 MHz; --rate corrects a false header");
    const int first = channel.value_or(0);
    const int last = channel.value_or(std::min(info.channels, most_channels) - 1);
    std::vector<ChannelSearch> channels;
    for (int c = first; c <= last; ++c) channels.emplace_back(info.sample_rate_hz, c);
    double seconds = 0;
    while (const media::SoundBlock* block = sound.next()) {
        for (std::size_t c = 0; c < channels.size(); ++c)
            channels[c].see(block->channels[static_cast<std::size_t>(first) + c]);
        seconds = block->time_s + static_cast<double>(block->channels[0].size()) / info.sample_rate_hz;
        if (std::ranges::none_of(channels, &ChannelSearch::found)) continue;
        const auto clearest =
            std::ranges::max_element(channels, {}, [](const ChannelSearch& c) { return c.found() ? c.share() : 0.0; });
        return {clearest->tone(), ""};
    }
    return {std::nullopt, what_instead(channels, seconds)};
}

}  // namespace guardband::measure
