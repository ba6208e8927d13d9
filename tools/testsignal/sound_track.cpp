#include "testsignal/sound_track.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr std::uint64_t programme_stream = 21, envelope_stream = 22, noise_stream = 23;

double amplitude(double db) { return std::pow(10, db / 20); }

/// A sinc under a cosine-squared window, read at whole samples less a delay: band-limited at any delay.
std::vector<double> low_pass(double cutoff, double delay_samples, int half_taps) {
    std::vector<double> taps;
    for (int k = -half_taps; k <= half_taps; ++k) {
        const double x = k - delay_samples;
        const double sinc = x == 0 ? 2 * cutoff : std::sin(turn * cutoff * x) / (std::numbers::pi * x);
        const double inside = std::clamp(std::abs(x) / (half_taps + 1), 0.0, 1.0);
        taps.push_back(sinc * std::pow(std::cos(std::numbers::pi / 2 * inside), 2));
    }
    return taps;
}

/// Integral of the relative speed from 0 to t.
double played_s(const SoundTrackSettings& s, double t) {
    double time = t * (1 + s.speed_error_percent / 100);
    for (const SpeedComponent& c : s.flutter) {
        const double phase = turn * c.phase_turns, rate = turn * c.hz;
        time += c.depth_percent / 100 / rate * (std::cos(phase) - std::cos(rate * t + phase));
    }
    return time;
}

double sine(double turns) { return std::sin(turn * std::fmod(turns, 1.0)); }

}  // namespace

SoundTrack::SoundTrack(const SoundTrackSettings& settings, std::uint64_t seed)
    : settings_(settings),
      programme_(mixed_seed(seed, programme_stream)),
      envelope_(mixed_seed(seed, envelope_stream)),
      noise_(mixed_seed(seed, noise_stream)) {
    if (!settings_.programme_db) return;
    const double cutoff = std::min(0.499, 1e3 * settings_.bandwidth_khz / settings_.sample_rate_hz);
    for (int c = 0; c < settings_.channels; ++c)
        kernels_.push_back(
            low_pass(cutoff, c == 1 ? settings_.delay_us * 1e-6 * settings_.sample_rate_hz : 0, settings_.half_taps));
    double squares = 0;
    for (const double tap : kernels_.front()) squares += tap * tap;
    kernel_gain_ = 1 / std::sqrt(squares);
    source_.assign(2 * static_cast<std::size_t>(settings_.half_taps), 0.0);
}

/// Syllables and pauses: each lasts 0.1 to 0.4 s, rises and falls within some milliseconds.
double SoundTrack::envelope() {
    if (settings_.steady_programme) return 1;
    if (syllable_left_ == 0) {
        syllable_left_ = static_cast<std::int64_t>(envelope_.uniform(0.1, 0.4) * settings_.sample_rate_hz);
        constexpr double pause_share = 0.35, quietest_db = -15;
        syllable_gain_ = envelope_.uniform() < pause_share ? 0 : amplitude(envelope_.uniform(quietest_db, 0));
    }
    --syllable_left_;
    constexpr double ramp_s = 0.004;
    gain_ += (syllable_gain_ - gain_) / (ramp_s * settings_.sample_rate_hz);
    return gain_;
}

void SoundTrack::add_programme(std::int64_t count, std::vector<std::vector<float>>& channels) {
    if (kernels_.empty()) return;
    const double level = amplitude(*settings_.programme_db) * kernel_gain_;
    for (std::int64_t n = 0; n < count; ++n) source_.push_back(level * envelope() * programme_.gaussian());
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const auto& kernel = kernels_[c];
        const std::size_t last = kernel.size() - 1;
        for (std::size_t n = 0; n < static_cast<std::size_t>(count); ++n) {
            double sum = 0;
            for (std::size_t k = 0; k <= last; ++k) sum += kernel[k] * source_[n + last - k];
            channels[c][n] += static_cast<float>(sum);
        }
    }
    source_.erase(source_.begin(), source_.begin() + static_cast<std::ptrdiff_t>(count));
}

/// Tone, hum and whistle: the same in all channels.
double SoundTrack::steady_sound(std::int64_t n) const {
    const SoundTrackSettings& s = settings_;
    const double t = static_cast<double>(n) / s.sample_rate_hz;
    double sum = s.tone_hz ? amplitude(s.tone_db) * sine(*s.tone_hz * t) : 0;
    if (!s.hum_db && !s.whistle_db) return sum;
    const double played = played_s(s, t);
    if (s.hum_db) {
        constexpr double second = 0.501, third = 0.316;  // −6 and −10 dB
        const double turns = s.hum_hz * played;
        sum += amplitude(*s.hum_db) * (sine(turns) + second * sine(2 * turns + 0.1) + third * sine(3 * turns + 0.3));
    }
    if (s.whistle_db) sum += amplitude(*s.whistle_db) * sine(s.whistle_hz * played);
    return sum;
}

void SoundTrack::next(std::int64_t count, std::vector<std::vector<float>>& channels) {
    channels.assign(static_cast<std::size_t>(settings_.channels), std::vector<float>(static_cast<std::size_t>(count)));
    add_programme(count, channels);
    const double noise = settings_.noise_db ? amplitude(*settings_.noise_db) : 0;
    for (std::int64_t n = 0; n < count; ++n) {
        const auto common = static_cast<float>(steady_sound(at_ + n));
        const double t = static_cast<double>(at_ + n) / settings_.sample_rate_hz;
        const bool away = std::ranges::any_of(
            settings_.gaps, [&](const Interval& gap) { return t >= gap.start_s && t < gap.start_s + gap.length_s; });
        for (auto& channel : channels) {
            float& sample = channel[static_cast<std::size_t>(n)];
            sample += common + (noise > 0 ? static_cast<float>(noise * noise_.gaussian()) : 0.0F);
            if (away) sample = 0;
        }
    }
    at_ += count;
}

}  // namespace guardband::testsignal
