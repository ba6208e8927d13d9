#include "measure/clip_sound/loudness.h"

#include <ebur128.h>

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Steps of the histogram that libebur128 keeps in place of every block.
constexpr double loudness_step_lu = 0.1;
/// Fourfold interpolation reads a sine of a third of the sampling rate this much low at most.
constexpr double peak_shortfall_db = 0.3;
constexpr double quietest_peak = 1e-7;

}  // namespace

struct Loudness::State {
    ebur128_state* meter = nullptr;
    std::vector<float> interleaved;
    bool failed = false;

    ~State() {
        if (meter != nullptr) ebur128_destroy(&meter);
    }
};

Loudness::Loudness(const ClipContext& context) : SoundMeasurement(context), state_(std::make_unique<State>()) {
    if (sample_rate_hz() <= 0) return;
    const auto channels = static_cast<unsigned>(context.info.sound->channels);
    const auto rate = static_cast<unsigned long>(std::lround(context.info.sound->sample_rate_hz));
    state_->meter = ebur128_init(channels, rate, EBUR128_MODE_I | EBUR128_MODE_TRUE_PEAK | EBUR128_MODE_HISTOGRAM);
}

Loudness::~Loudness() = default;

void Loudness::hear(const media::SoundBlock& block) {
    if (state_->meter == nullptr) return;
    const std::size_t channels = block.channels.size(), count = block.channels.front().size();
    state_->interleaved.resize(channels * count);
    for (std::size_t c = 0; c < channels; ++c)
        for (std::size_t n = 0; n < count; ++n) state_->interleaved[n * channels + c] = block.channels[c][n];
    if (ebur128_add_frames_float(state_->meter, state_->interleaved.data(), count) != EBUR128_SUCCESS)
        state_->failed = true;
}

void Loudness::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    std::string reason = without_sound();
    if (reason.empty() && (state_->meter == nullptr || state_->failed))
        reason = "its channels or sampling rate are none that loudness is defined for";
    double lufs = -HUGE_VAL, peak = 0;
    if (reason.empty()) {
        ebur128_loudness_global(state_->meter, &lufs);
        for (int c = 0; c < context_.info.sound->channels; ++c) {
            double one = 0;
            ebur128_true_peak(state_->meter, static_cast<unsigned>(c), &one);
            peak = std::max(peak, one);
        }
    }
    if (!reason.empty())
        figures.add("loudness", Figure::unknown(reason));
    else if (!std::isfinite(lufs))
        figures.add("loudness", Figure::unknown("nothing of it is louder than -70 LUFS for 0.4 s"));
    else
        figures.add("loudness", Figure::measured(lufs, loudness_step_lu / std::sqrt(12.0), "LUFS"));
    if (!reason.empty())
        figures.add("true_peak", Figure::unknown(reason));
    else if (peak < quietest_peak)
        figures.add("true_peak", Figure::unknown("it is silent"));
    else
        figures.add("true_peak", Figure::measured(20 * std::log10(peak), peak_shortfall_db / std::sqrt(3.0), "dBTP"));
}

}  // namespace guardband::measure
