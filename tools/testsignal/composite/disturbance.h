#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "testsignal/composite/recipe.h"
#include "testsignal/composite/timeline.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {

/// A loss of signal.
struct CompositeDropout {
    double start_s = 0, length_us = 0;
};

/// What happens to the finished signal on its way to the samples: dropouts, echo, AC coupling, hum, noise, level. Runs
/// over the samples once, in order.
class Disturbance {
public:
    explicit Disturbance(const CompositeRecipe& recipe, double samples_per_us);

    /// @param samples  mV; share of full scale when done
    void apply(std::span<float> samples);
    const std::vector<CompositeDropout>& dropouts() const { return dropouts_; }
    double noise_mv() const { return noise_mv_; }

private:
    void lose(std::span<float> samples);
    void echo(std::span<float> samples);
    void couple(std::span<float> samples);
    void add_hum(std::span<float> samples) const;
    void add_noise(std::span<float> samples);
    double true_rate_hz() const { return samples_per_us_ * 1e6; }

    CompositeRecipe recipe_;
    double samples_per_us_;
    double noise_mv_ = 0;
    Random random_, dropout_random_;
    std::vector<CompositeDropout> dropouts_;
    std::size_t next_dropout_ = 0;
    std::int64_t at_ = 0;        ///< samples that went before
    std::size_t echo_back_ = 0;  ///< samples before the first that the echo's kernel reads
    std::vector<float> echo_weights_, history_, noise_;
    double coupled_level_ = 0;
};

}  // namespace guardband::testsignal
