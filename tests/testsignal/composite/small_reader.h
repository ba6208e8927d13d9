#pragma once

#include <complex>
#include <vector>

#include "testsignal/composite/maker.h"

namespace guardband::testsignal {

/// A moment at which the signal falls or rises through half of the sync, in samples with their fraction.
struct Crossing {
    double at = 0;
    bool falls = false;
};

/// A pulse below half of the sync.
struct LowPulse {
    double at = 0, width = 0;  ///< samples
};

/// What a test needs to read from composite video by itself. Shares nothing with the maker: it looks at the samples,
/// in mV, and at the figures it is told to look for.
class SmallReader {
public:
    /// @param half_sync_mv  level of the slicer     @param grain  shortest pulse that counts, samples
    SmallReader(const std::vector<float>& mv, double half_sync_mv, double grain);

    const std::vector<LowPulse>& pulses() const { return pulses_; }
    /// Those of about this width.
    std::vector<LowPulse> pulses_of(double width, double off) const;
    /// Period of evenly spaced pulses by least squares, those between missing. @param scatter  RMS about the line
    static double period(const std::vector<LowPulse>& pulses, double nominal, double& scatter);
    /// Mean of a stretch, mV.
    double level(double from, double to) const;
    /// The sine that fits a stretch best beside a level: its amplitude, and its phase against the sine that starts at
    /// `origin`.
    struct Sine {
        std::complex<double> z;
        double level = 0;
    };
    Sine sine(double from, double to, double turns_per_sample, double origin) const;
    const std::vector<float>& mv() const { return mv_; }

private:
    std::vector<float> mv_;
    std::vector<LowPulse> pulses_;
};

/// Samples of a recipe in mV.
std::vector<float> composite_mv(CompositeRecipe recipe);

/// A recipe of a system, flat grey without colour, made to sample mV.
CompositeRecipe plain_recipe(const char* system, double duration_s, std::int64_t rate_hz = 16'000'000);

}  // namespace guardband::testsignal
