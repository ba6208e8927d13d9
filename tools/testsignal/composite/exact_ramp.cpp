#include "testsignal/composite/exact_ramp.h"

#include <utility>

namespace guardband::testsignal {
namespace {

using Wide = __int128;

Wide common(Wide a, Wide b) {
    while (b != 0) a = std::exchange(b, a % b);
    return a;
}

}  // namespace

ExactRamp::ExactRamp(Wide numerator, Wide denominator) {
    const Wide shared = common(numerator, denominator);
    numerator /= shared, denominator /= shared;
    whole_ = static_cast<std::int64_t>(numerator / denominator);
    // Long division in base 2³²: the remainder times 2³² fits as long as the denominator is below 2⁹⁵.
    Wide rest = numerator % denominator;
    for (int digit = 0; digit < 2; ++digit) {
        rest <<= 32;
        part_ = part_ << 32U | static_cast<std::uint64_t>(rest / denominator);
        rest %= denominator;
    }
    if (2 * rest >= denominator) ++part_;
    if (part_ == 0 && 2 * rest >= denominator) ++whole_;
}

ExactRamp ExactRamp::ratio(const quantity::Rational& a, const quantity::Rational& b, std::int64_t scale_ppb) {
    constexpr std::int64_t billion = 1'000'000'000;
    return {static_cast<Wide>(a.numerator()) * b.denominator() * (billion + scale_ppb),
            static_cast<Wide>(a.denominator()) * b.numerator() * billion};
}

std::int64_t ExactRamp::whole(std::int64_t n) const {
    return n * whole_ + static_cast<std::int64_t>((static_cast<Wide>(n) * static_cast<Wide>(part_)) >> 64);
}

}  // namespace guardband::testsignal
