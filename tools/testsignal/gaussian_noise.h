#pragma once

#include <array>
#include <cstdint>
#include <span>

namespace guardband::testsignal {

/// Mixes numbers into a seed, so that neighbouring field numbers give unrelated streams.
std::uint64_t mixed_seed(std::uint64_t seed, std::uint64_t a, std::uint64_t b = 0);

/// Uniform random numbers: xoshiro256+ (Blackman and Vigna), whose upper 53 bits are used.
class Random {
public:
    explicit Random(std::uint64_t seed);
    std::uint64_t bits() {
        const std::uint64_t result = state_[0] + state_[3];
        const std::uint64_t shifted = state_[1] << 17U;
        state_[2] ^= state_[0];
        state_[3] ^= state_[1];
        state_[1] ^= state_[2];
        state_[0] ^= state_[3];
        state_[2] ^= shifted;
        state_[3] = (state_[3] << 45U) | (state_[3] >> 19U);
        return result;
    }
    /// Evenly in [0, 1).
    double uniform() { return static_cast<double>(bits() >> 11U) * 0x1p-53; }
    double uniform(double low, double high) { return low + (high - low) * uniform(); }
    /// One of standard normal distribution, by the ziggurat method (Marsaglia and Tsang, 2000) with 256 layers.
    double gaussian();
    /// Many of standard normal distribution.
    void fill_gaussian(std::span<float> out);

private:
    std::array<std::uint64_t, 4> state_;
};

}  // namespace guardband::testsignal
