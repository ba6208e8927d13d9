// This file is compiled once for each kind of processor, as fast.cpp is.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/spectra_fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "rows/processor.h"
#include "rows/spectra.h"

#ifndef GUARDBAND_ROWS_WAVES
#define GUARDBAND_ROWS_WAVES
#include <array>
#include <cmath>
#include <numbers>

namespace guardband::rows {

/// Cosine and sine of each frequency but the highest, sample by sample up to the middle.
struct Waves {
    static constexpr std::size_t half = spectrum_samples / 2;
    alignas(64) std::array<std::array<float, half>, half + 1> cosine{}, sine{};

    Waves() {
        constexpr double turn = 2 * std::numbers::pi / spectrum_samples;
        for (std::size_t n = 0; n <= half; ++n)
            for (std::size_t k = 0; k < half; ++k) {
                const double angle = turn * static_cast<double>(k * n % spectrum_samples);
                cosine[n][k] = static_cast<float>(std::cos(angle)), sine[n][k] = static_cast<float>(std::sin(angle));
            }
    }
};

inline const Waves& waves() {
    static const Waves all;
    return all;
}

}  // namespace guardband::rows
#endif

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || HWY_HAVE_SCALABLE  // as in fast.cpp

WindowedSpectrum spectrum_for_target() { return plain_spectrum(); }

#else

namespace hn = hwy::HWY_NAMESPACE;
using Floats = hn::CappedTag<float, 8>;
constexpr Floats floats;
constexpr std::size_t half = Waves::half;

constexpr std::size_t lanes = hn::MaxLanes(floats), vectors = half / lanes;

/// Σ amplitudes[n] waves[n][k] over first ≤ n ≤ last, for all k.
HWY_INLINE void add_up(const float* amplitudes, std::size_t first, std::size_t last,
                       const std::array<std::array<float, half>, half + 1>& waves, hn::Vec<Floats> (&sums)[vectors]) {
    for (auto& sum : sums) sum = hn::Zero(floats);
    for (std::size_t n = first; n <= last; ++n) {
        const auto amplitude = hn::Set(floats, amplitudes[n]);
        for (std::size_t v = 0; v < vectors; ++v)
            sums[v] = hn::MulAdd(amplitude, hn::LoadU(floats, waves[n].data() + v * lanes), sums[v]);
    }
}

/// Samples as far from the start as others are from the end have the same cosine and the opposite sine: half of the
/// products is left. For 64 samples that takes fewer instructions than a fast transform's moving about.
void windowed_spectrum(const float* in, const float* window, std::complex<float>* out) {
    float samples[spectrum_samples + 1], even[half + 1], odd[half + 1];
    const auto signs = hn::BitCast(floats, hn::ShiftLeft<31>(hn::Iota(hn::RebindToUnsigned<Floats>(), 0)));
    auto highest = hn::Zero(floats);
    for (std::size_t n = 0; n < spectrum_samples; n += lanes) {
        const auto here = hn::Mul(hn::LoadU(floats, in + n), hn::LoadU(floats, window + n));
        hn::StoreU(here, floats, samples + n);
        highest = hn::Add(highest, hn::Xor(here, signs));
    }
    samples[spectrum_samples] = 0;  // opposite the first, which stands alone
    for (std::size_t n = 0; n < half; n += lanes) {
        const auto here = hn::LoadU(floats, samples + n);
        const auto opposite = hn::Reverse(floats, hn::LoadU(floats, samples + spectrum_samples + 1 - n - lanes));
        hn::StoreU(hn::Add(here, opposite), floats, even + n);
        hn::StoreU(hn::Sub(opposite, here), floats, odd + n);
    }
    even[half] = samples[half];
    const Waves& table = waves();
    hn::Vec<Floats> real[vectors], imaginary[vectors];
    add_up(even, 0, half, table.cosine, real);
    add_up(odd, 1, half - 1, table.sine, imaginary);
    auto* const to = reinterpret_cast<float*>(out);  // a complex number is two of these in a row
    for (std::size_t v = 0; v < vectors; ++v) hn::StoreInterleaved2(real[v], imaginary[v], floats, to + 2 * v * lanes);
    out[half] = {hn::GetLane(hn::SumOfLanes(floats, highest)), 0};
}

WindowedSpectrum spectrum_for_target() { return windowed_spectrum; }

#endif

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {

std::vector<NamedSpectrum> fast_spectra_of_each_target() {
    std::vector<NamedSpectrum> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    if (has.runs_here) all.push_back({#processor, N_##processor::spectrum_for_target()});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    all.push_back({"baseline", HWY_STATIC_DISPATCH(spectrum_for_target)()});
    return all;
}

WindowedSpectrum fast_spectrum() {
    static const WindowedSpectrum best = fast_spectra_of_each_target().front().spectrum;
    return best;
}

}  // namespace guardband::rows
#endif
