#pragma once

#include <string>
#include <vector>

namespace guardband::rows {

/// Sums over a piece of a row against what it was thought to be, for least squares on two movements at once. o is the
/// difference of both, g half of what the expected sample before each is above that after, c the change by the other
/// movement.
struct PieceMoments {
    float g_squares = 0, g_c = 0, c_squares = 0, g_o = 0, c_o = 0, o = 0, o_squares = 0;
    float signal = 0, signal_squares = 0;  ///< of the piece itself
};

/// What is done to a row of samples as signals of single precision. Rows need no alignment; nothing beyond what is said
/// is read. Sums are taken in another order by the fast version, so that the two agree to rounding only.
struct SignalKernels {
    /// Filters a row by odd weights, such as a slope's: out[x] = Σ_{k=1…radius} weights[k−1] (in[x+k] − in[x−k]) for
    /// radius ≤ x < width − radius; the rest of `out`, `width` long, becomes 0.
    void (*odd_filter)(const float* in, int width, const float* weights, int radius, float* out);

    /// out[j] = Σ_{k<count} a[k] b[k+j] for 0 ≤ j < lags. `b` holds count + lags − 1 samples.
    void (*correlate)(const float* a, const float* b, int count, int lags, float* out);

    /// Cuts a row into cells of `length` ≥ 1 samples: `mean` of each, and mean square of the step from each of its
    /// samples to the next, `rough`. `in` holds cells · length + 1 samples.
    void (*cells)(const float* in, int cells, int length, float* mean, float* rough);

    /// out[i] = Σ_{k<4} weights[k] in[i + k − 1] for 0 ≤ i < count. Reads one sample before `in` and two behind it.
    void (*interpolate)(const float* in, int count, const float* weights, float* out);

    /// Moments of `count` samples of `piece` against `expected`, of which one more is read on either side.
    /// @param change  nothing if there is no other movement
    void (*piece_moments)(const float* piece, const float* expected, const float* change, int count, PieceMoments* out);
};

/// Written for the reader; the truth that the fast version is tested against.
const SignalKernels& plain_signal_kernels();

/// Chosen at the first call for the processor that runs it.
const SignalKernels& fast_signal_kernels();

struct NamedSignalKernels {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    const SignalKernels* kernels;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen.
std::vector<NamedSignalKernels> fast_signal_kernels_of_each_target();

}  // namespace guardband::rows
