#pragma once

#include <cstdint>

#include "quantity/rational.h"

namespace guardband::testsignal {

/// Multiples of an exact ratio, whole part and remainder apart, so that the remainder is as exact after days as at
/// once: its error is 2⁻⁶⁴ per step.
class ExactRamp {
public:
    ExactRamp() = default;
    /// The step numerator/denominator, both positive.
    ExactRamp(__int128 numerator, __int128 denominator);
    /// `a/b · scale_ppb`: b not 0, all positive; `scale` is 1 and so many parts in 10⁹.
    static ExactRamp ratio(const quantity::Rational& a, const quantity::Rational& b, std::int64_t scale_ppb);

    double value() const { return static_cast<double>(whole_) + fraction_of(part_); }
    /// The whole part of n steps, rounded down. @param n  may be negative
    std::int64_t whole(std::int64_t n) const;
    /// The rest, 0 to 1.
    double rest(std::int64_t n) const { return fraction_of(static_cast<std::uint64_t>(n) * part_); }

private:
    static double fraction_of(std::uint64_t part) { return static_cast<double>(part >> 11U) * 0x1p-53; }

    std::int64_t whole_ = 0;
    std::uint64_t part_ = 0;  ///< in 2⁻⁶⁴
};

}  // namespace guardband::testsignal
