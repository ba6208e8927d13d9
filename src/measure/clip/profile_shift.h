#pragma once

#include <optional>
#include <span>
#include <vector>

namespace guardband::measure {

/// How far a profile (sums of columns or rows of a picture) has moved.
struct ProfileShift {
    double samples = 0;  ///< towards higher indices
    double error = 0;    ///< standard error from what is left over
};

/// Finds how far a profile has moved since another one was taken.
///
/// Method: both are smoothed over four samples and differentiated over eight, so that brightness drops out; the best
/// whole shift by normalised correlation, coarse to fine; the rest by least squares on the mean gradient of both, at
/// one contrast where that accounts for most of what is left, so that light that changes drops out as well. Bias below
/// 0.02 samples on band-limited pictures. Gives nothing if the profiles have little in common (a cut), hold no detail,
/// or match almost as well elsewhere (repeating patterns).
class ProfileMatcher {
public:
    /// @param reach  largest shift to look for, samples
    explicit ProfileMatcher(int reach) : reach_(reach) {}

    /// Readies a profile for `shift`; keeps `ready`'s memory.
    static void prepare(std::span<const float> profile, std::vector<float>& ready);

    /// @param before, now  of equal length, as `prepare` left them
    std::optional<ProfileShift> shift(std::span<const float> before, std::span<const float> now);

private:
    std::optional<int> coarse_shift(std::span<const float> before, std::span<const float> now);
    float gain_at(int shift) const;
    void correlate(std::span<const float> before, std::span<const float> now, int first, int last);

    int reach_;
    std::vector<float> coarse_before_, coarse_now_;
    std::vector<float> padded_now_, products_;
    std::vector<double> squares_before_, squares_now_;
    std::vector<double> match_;  ///< correlation by shift
};

}  // namespace guardband::measure
