#include "measure/clip_sound/channel_pair.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/maximum.h"
#include "dsp/window.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double turn = 2 * std::numbers::pi;
constexpr std::size_t piece_samples = 4096;
constexpr double longest_delay_s = 2e-3;
/// Lowest frequency that counts: hum comes into both channels by itself.
constexpr double lowest_hz = 300;
/// Channels that share less than this of their power at their best frequencies have nothing in common.
constexpr double least_coherence = 0.3;
constexpr double highest_coherence = 0.9999;
constexpr std::size_t least_coherent_bins = 20;
constexpr std::int64_t least_pieces = 16;
/// Quietest sound that is listened to, RMS.
constexpr double quietest = 1e-5;

/// What one frequency tells.
struct Told {
    double cycles_per_sample, weight;
    std::complex<double> direction;
};

double agreement(const std::vector<Told>& told, double delay) {
    double sum = 0;
    for (const Told& one : told)
        sum += one.weight * std::real(one.direction * std::polar(1.0, turn * one.cycles_per_sample * delay));
    return sum;
}

}  // namespace

ChannelPair::ChannelPair(const ClipContext& context)
    : SoundMeasurement(context), fft_(piece_samples), window_(dsp::hann(piece_samples)) {
    for (auto& spectrum : spectrum_) spectrum.resize(fft_.bins());
    for (auto& power : power_) power.resize(fft_.bins());
    cross_.resize(fft_.bins());
}

void ChannelPair::hear(const media::SoundBlock& block) {
    if (block.channels.size() < 2) return;
    const auto &a = block.channels[0], &b = block.channels[1];
    first_.insert(first_.end(), a.begin(), a.end());
    second_.insert(second_.end(), b.begin(), b.end());
    for (std::size_t n = 0; n < a.size(); ++n) {
        const double x = a[n], y = b[n];
        sum_[0] += x, sum_[1] += y;
        squares_[0] += x * x, squares_[1] += y * y, product_ += x * y;
    }
    samples_ += static_cast<std::int64_t>(a.size());
    while (first_.size() >= piece_samples) take_piece();
}

void ChannelPair::take_piece() {
    std::vector<float> piece(piece_samples);
    std::vector<float>* sides[] = {&first_, &second_};
    for (std::size_t side = 0; side < 2; ++side) {
        for (std::size_t n = 0; n < piece_samples; ++n) piece[n] = window_[n] * (*sides[side])[n];
        fft_.forward(piece, spectrum_[side]);
        sides[side]->erase(sides[side]->begin(), sides[side]->begin() + piece_samples / 2);
    }
    for (std::size_t k = 0; k < cross_.size(); ++k) {
        const std::complex<double> x(spectrum_[0][k]), y(spectrum_[1][k]);
        power_[0][k] += std::norm(x), power_[1][k] += std::norm(y);
        cross_[k] += std::conj(x) * y;
    }
    ++pieces_;
}

std::string ChannelPair::reason() const {
    if (std::string none = without_sound(); !none.empty()) return none;
    if (context_.info.sound->channels < 2) return "its sound has one channel";
    if (pieces_ < least_pieces) return "its sound is shorter than a second";
    for (const double squares : squares_)
        if (std::sqrt(squares / static_cast<double>(samples_)) < quietest) return "a channel is silent";
    return {};
}

Figure ChannelPair::correlation() const {
    if (std::string none = reason(); !none.empty()) return Figure::unknown(std::move(none));
    const auto n = static_cast<double>(samples_);
    const double shared = product_ - sum_[0] * sum_[1] / n;
    const double a = squares_[0] - sum_[0] * sum_[0] / n, b = squares_[1] - sum_[1] * sum_[1] / n;
    const double r = std::clamp(shared / std::sqrt(std::max(1e-30, a * b)), -1.0, 1.0);
    // Of so many pieces that are independent of one another.
    return Figure::measured(r, (1 - r * r) / std::sqrt(static_cast<double>(pieces_)), "");
}

Figure ChannelPair::delay() const {
    if (std::string none = reason(); !none.empty()) return Figure::unknown(std::move(none));
    const double rate = sample_rate_hz();
    std::vector<Told> told;
    std::size_t coherent = 0;
    double information = 0;
    for (std::size_t k = 1; k + 1 < cross_.size(); ++k) {
        const double f = static_cast<double>(k) / piece_samples;
        const double size = std::abs(cross_[k]);
        if (f * rate < lowest_hz || size <= 0) continue;
        // Of pure noise the coherence reads as one over the number of pieces: that is taken off.
        const double raw = size * size / (power_[0][k] * power_[1][k]), noise = 1.5 / static_cast<double>(pieces_);
        const double coherence = std::clamp((raw - noise) / (1 - noise), 0.0, highest_coherence);
        if (coherence > least_coherence) ++coherent;
        const double weight = coherence / (1 - coherence);
        if (weight <= 0) continue;
        told.push_back({f, weight, cross_[k] / size});
        information += weight * std::pow(turn * f, 2);
    }
    if (coherent < least_coherent_bins) return Figure::unknown("its channels have too little in common");
    // On a grid finer than the shortest wave, then between.
    const double longest = longest_delay_s * rate;
    constexpr double step = 0.25;
    double best = 0, height = -HUGE_VAL;
    for (double at = -longest; at <= longest; at += step)
        if (const double here = agreement(told, at); here > height) height = here, best = at;
    const double delay =
        dsp::maximum_place([&](double at) { return agreement(told, at); }, best - step, best + step, 1e-5);
    // Pieces overlap by half: each tells about as much as three quarters of one by itself. Two readings of noise.
    const double scatter = 1 / std::sqrt(1.5 * static_cast<double>(pieces_) * information / 1.5);
    const double us = 1e6 / rate;
    Figure figure = Figure::measured(delay * us, std::max(scatter, 1e-5) * us, "µs");
    if (height < 0) figure.with_note("one channel is turned over");
    return figure;
}

void ChannelPair::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("channel_delay", delay());
    figures.add("channel_correlation", correlation());
}

}  // namespace guardband::measure
