// The fast transform of a windowed piece against the plain one, to rounding; the plain one against tones that are
// known.
#include "rows/spectra.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <random>

namespace guardband::rows {
namespace {

using Piece = std::array<float, spectrum_samples>;
using Spectrum = std::array<std::complex<float>, spectrum_bins>;

Spectrum spectrum_of(WindowedSpectrum transform, const Piece& in, const Piece& window) {
    Spectrum out;
    out.fill({9, 9});
    transform(in.data(), window.data(), out.data());
    return out;
}

Piece level() {
    Piece window;
    window.fill(1);
    return window;
}

// Rounding: each of 64 products and sums errs by 6e-8 of what it holds.
TEST(Spectra, FastOnesAgreeWithThePlainOne) {
    std::mt19937 random(3);
    std::normal_distribution<float> normal(0, 50);
    std::uniform_real_distribution<float> share(0, 1);
    for (const auto& [target, transform] : fast_spectra_of_each_target())
        for (int round = 0; round < 20; ++round) {
            Piece in, window;
            for (float& one : in) one = normal(random);
            for (float& one : window) one = share(random);
            const Spectrum plain = spectrum_of(plain_spectrum(), in, window), fast = spectrum_of(transform, in, window);
            for (std::size_t k = 0; k < spectrum_bins; ++k) EXPECT_LT(std::abs(plain[k] - fast[k]), 1e-3) << target;
        }
}

TEST(Spectra, PlainOneFindsATone) {
    for (const std::size_t bin : {0U, 1U, 5U, 31U, 32U}) {
        Piece in;
        for (std::size_t n = 0; n < in.size(); ++n)
            in[n] = static_cast<float>(
                std::cos(2 * std::numbers::pi * static_cast<double>(bin * n) / spectrum_samples + 0.5));
        const Spectrum found = spectrum_of(plain_spectrum(), in, level());
        for (std::size_t k = 0; k < spectrum_bins; ++k) {
            const bool real_alone = bin == 0 || bin == spectrum_samples / 2;
            const std::complex<double> tone =
                real_alone ? std::complex<double>(64 * std::cos(0.5)) : std::polar(32.0, 0.5);
            EXPECT_LT(std::abs(std::complex<double>(found[k]) - (k == bin ? tone : 0.0)), 1e-4) << bin << " " << k;
        }
    }
}

TEST(Spectra, PlainOneWeighsByTheWindow) {
    Piece in, window{};
    in.fill(3);
    window[2] = 0.5F;
    const Spectrum found = spectrum_of(plain_spectrum(), in, window);
    EXPECT_NEAR(found[0].real(), 1.5, 1e-6);
    EXPECT_NEAR(found[16].real(), -1.5, 1e-6);  // a quarter of the rate: half a turn later
    EXPECT_NEAR(found[8].imag(), -1.5, 1e-6);
}

}  // namespace
}  // namespace guardband::rows
