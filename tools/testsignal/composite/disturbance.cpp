#include "testsignal/composite/disturbance.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "testsignal/shift_kernel.h"

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr std::uint64_t noise_stream = 12, dropout_stream = 13, loss_stream = 14;
constexpr double echo_band = 0.42, longest_echo_kernel = 16;

std::vector<CompositeDropout> places(const CompositeRecipe& r) {
    std::vector<CompositeDropout> out;
    for (const double at : r.dropouts.at_s) out.push_back({at, r.dropouts.length_us});
    if (r.dropouts.per_minute > 0) {
        Random random(mixed_seed(r.seed, dropout_stream, 0));
        for (double at = 0;;) {
            at -= std::log(1 - random.uniform()) * 60 / r.dropouts.per_minute;
            if (at >= r.duration_s) break;
            out.push_back({at, r.dropouts.length_us});
        }
    }
    std::ranges::sort(out, {}, &CompositeDropout::start_s);
    return out;
}

}  // namespace

Disturbance::Disturbance(const CompositeRecipe& r, double samples_per_us)
    : recipe_(r),
      samples_per_us_(samples_per_us),
      random_(mixed_seed(r.seed, noise_stream, 0)),
      dropout_random_(mixed_seed(r.seed, loss_stream, 0)),
      dropouts_(places(r)) {
    if (r.disturbance.snr_db) noise_mv_ = r.system.white_mv / std::pow(10, *r.disturbance.snr_db / 20);
    if (r.distortion.echo_percent == 0) return;
    // Nothing that comes later can be read: a short delay makes do with fewer taps.
    const double lag = r.distortion.echo_delay_ns / 1e3 * samples_per_us_, back = std::ceil(lag);
    const ShiftKernel kernel(static_cast<int>(std::clamp(2 * std::floor(back), 2.0, longest_echo_kernel)), echo_band);
    echo_back_ = static_cast<std::size_t>(back) + static_cast<std::size_t>(kernel.centre());
    echo_weights_.resize(static_cast<std::size_t>(2 * (kernel.centre() + 1)));
    kernel.weights(back - lag, echo_weights_);
    for (float& weight : echo_weights_) weight *= static_cast<float>(r.distortion.echo_percent / 100);
    history_.assign(echo_back_, 0.0F);
}

void Disturbance::lose(std::span<float> samples) {
    const double rate = true_rate_hz();
    const auto first = static_cast<double>(at_), end = first + static_cast<double>(samples.size());
    while (next_dropout_ < dropouts_.size() &&
           (dropouts_[next_dropout_].start_s + dropouts_[next_dropout_].length_us * 1e-6) * rate < first)
        ++next_dropout_;
    for (std::size_t i = next_dropout_; i < dropouts_.size() && dropouts_[i].start_s * rate < end; ++i) {
        const double from = std::ceil(std::max(dropouts_[i].start_s * rate, first));
        const double to = std::min((dropouts_[i].start_s + dropouts_[i].length_us * 1e-6) * rate, end);
        for (double at = from; at < to; ++at)
            samples[static_cast<std::size_t>(at - first)] =
                static_cast<float>(recipe_.dropouts.level_mv + recipe_.dropouts.noise_mv * dropout_random_.gaussian());
    }
}

void Disturbance::echo(std::span<float> samples) {
    if (recipe_.distortion.echo_percent == 0) return;
    const std::size_t before = history_.size();
    history_.insert(history_.end(), samples.begin(), samples.end());
    for (std::size_t n = 0; n < samples.size(); ++n) {
        float sum = 0;
        for (std::size_t k = 0; k < echo_weights_.size(); ++k) sum += echo_weights_[k] * history_[n + k];
        samples[n] += sum;
    }
    history_.erase(history_.begin(), history_.end() - static_cast<std::ptrdiff_t>(before));
}

/// What is taken off is the signal through a first-order low-pass at the corner.
void Disturbance::couple(std::span<float> samples) {
    if (recipe_.disturbance.coupling_hz <= 0) return;
    const double share = 1 - std::exp(-turn * recipe_.disturbance.coupling_hz / true_rate_hz());
    for (float& sample : samples) {
        coupled_level_ += share * (sample - coupled_level_);
        sample -= static_cast<float>(coupled_level_);
    }
}

void Disturbance::add_hum(std::span<float> samples) const {
    const CompositeDisturbance& d = recipe_.disturbance;
    if (d.hum_mv == 0) return;
    // Hum hardly moves within 16 samples: straight between.
    constexpr std::size_t stretch = 16;
    const auto level = [&](std::size_t n) {
        const double t = (static_cast<double>(at_) + static_cast<double>(n)) / true_rate_hz();
        return d.hum_mv / 2 * std::sin(turn * std::fmod(d.hum_hz * t, 1.0));
    };
    for (std::size_t n = 0; n < samples.size(); n += stretch) {
        const double here = level(n), slope = (level(n + stretch) - here) / stretch;
        for (std::size_t i = 0; i < stretch && n + i < samples.size(); ++i)
            samples[n + i] += static_cast<float>(here + slope * static_cast<double>(i));
    }
}

void Disturbance::add_noise(std::span<float> samples) {
    if (noise_mv_ == 0) return;
    noise_.resize(samples.size());
    random_.fill_gaussian(noise_);
    const auto rms = static_cast<float>(noise_mv_);
    for (std::size_t n = 0; n < samples.size(); ++n) samples[n] += rms * noise_[n];
}

void Disturbance::apply(std::span<float> samples) {
    lose(samples);
    echo(samples);
    couple(samples);
    add_hum(samples);
    add_noise(samples);
    const double sense = recipe_.sampling.inverted ? -1 : 1;
    const auto gain = static_cast<float>(sense * recipe_.sampling.gain_per_volt / 1e3);
    const auto offset = static_cast<float>(sense * recipe_.sampling.offset);
    for (float& sample : samples) sample = offset + gain * sample;
    at_ += static_cast<std::int64_t>(samples.size());
}

}  // namespace guardband::testsignal
