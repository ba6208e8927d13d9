// This file is compiled once for each kind of processor, as fast.cpp is.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/signal_fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include <algorithm>

#include "rows/processor.h"
#include "rows/signal_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || HWY_HAVE_SCALABLE  // as in fast.cpp

const SignalKernels* signal_table() { return &plain_signal_kernels(); }

#else

namespace hn = hwy::HWY_NAMESPACE;

using Floats = hn::CappedTag<float, 8>;  ///< rows are short: wider vectors would leave more over
constexpr Floats floats_tag;
constexpr int lanes = static_cast<int>(hn::MaxLanes(floats_tag));

void odd_filter(const float* in, int width, const float* weights, int radius, float* out) {
    const int end = width - radius;
    std::fill(out, out + std::min(radius, width), 0.0F);
    std::fill(out + std::max(end, 0), out + width, 0.0F);
    const auto slope = [in](int x, int k) {
        return hn::Sub(hn::LoadU(floats_tag, in + x + k), hn::LoadU(floats_tag, in + x - k));
    };
    int x = radius;
    for (; x + 2 * lanes <= end; x += 2 * lanes) {  // two at once, so that each weight is fetched once for them
        auto sum = hn::Zero(floats_tag), next = sum;
        for (int k = 1; k <= radius; ++k) {
            const auto weight = hn::Set(floats_tag, weights[k - 1]);
            sum = hn::MulAdd(weight, slope(x, k), sum);
            next = hn::MulAdd(weight, slope(x + lanes, k), next);
        }
        hn::StoreU(sum, floats_tag, out + x);
        hn::StoreU(next, floats_tag, out + x + lanes);
    }
    for (; x + lanes <= end; x += lanes) {
        auto sum = hn::Zero(floats_tag);
        for (int k = 1; k <= radius; ++k) sum = hn::MulAdd(hn::Set(floats_tag, weights[k - 1]), slope(x, k), sum);
        hn::StoreU(sum, floats_tag, out + x);
    }
    for (; x < end; ++x) {
        out[x] = 0;
        for (int k = 1; k <= radius; ++k) out[x] += weights[k - 1] * (in[x + k] - in[x - k]);
    }
}

/// Four lags at a time, so that each sample of `a` is loaded once for them.
template <int together>
HWY_INLINE void correlate_some(const float* a, const float* b, int count, float* out) {
    auto sum_0 = hn::Zero(floats_tag), sum_1 = sum_0, sum_2 = sum_0, sum_3 = sum_0;
    int k = 0;
    for (; k + lanes <= count; k += lanes) {
        const auto here = hn::LoadU(floats_tag, a + k);
        sum_0 = hn::MulAdd(here, hn::LoadU(floats_tag, b + k), sum_0);
        if (together > 1) sum_1 = hn::MulAdd(here, hn::LoadU(floats_tag, b + k + 1), sum_1);
        if (together > 2) sum_2 = hn::MulAdd(here, hn::LoadU(floats_tag, b + k + 2), sum_2);
        if (together > 3) sum_3 = hn::MulAdd(here, hn::LoadU(floats_tag, b + k + 3), sum_3);
    }
    out[0] = hn::GetLane(hn::SumOfLanes(floats_tag, sum_0));
    if (together > 1) out[1] = hn::GetLane(hn::SumOfLanes(floats_tag, sum_1));
    if (together > 2) out[2] = hn::GetLane(hn::SumOfLanes(floats_tag, sum_2));
    if (together > 3) out[3] = hn::GetLane(hn::SumOfLanes(floats_tag, sum_3));
    for (; k < count; ++k)
        for (int j = 0; j < together; ++j) out[j] += a[k] * b[k + j];
}

void correlate(const float* a, const float* b, int count, int lags, float* out) {
    int j = 0;
    for (; j + 4 <= lags; j += 4) correlate_some<4>(a, b + j, count, out + j);
    for (; j < lags; ++j) correlate_some<1>(a, b + j, count, out + j);
}

void cells(const float* in, int cells, int length, float* mean, float* rough) {
    const float share = 1 / static_cast<float>(length);
    for (int c = 0; c < cells; ++c, in += length) {
        auto sums = hn::Zero(floats_tag), squares = sums;
        int i = 0;
        for (; i + lanes <= length; i += lanes) {
            const auto here = hn::LoadU(floats_tag, in + i);
            const auto step = hn::Sub(hn::LoadU(floats_tag, in + i + 1), here);
            sums = hn::Add(sums, here);
            squares = hn::MulAdd(step, step, squares);
        }
        float sum = hn::GetLane(hn::SumOfLanes(floats_tag, sums));
        float square = hn::GetLane(hn::SumOfLanes(floats_tag, squares));
        for (; i < length; ++i) {
            sum += in[i];
            square += (in[i + 1] - in[i]) * (in[i + 1] - in[i]);
        }
        mean[c] = share * sum;
        rough[c] = share * square;
    }
}

void interpolate(const float* in, int count, const float* weights, float* out) {
    const auto a = hn::Set(floats_tag, weights[0]), b = hn::Set(floats_tag, weights[1]);
    const auto c = hn::Set(floats_tag, weights[2]), d = hn::Set(floats_tag, weights[3]);
    int i = 0;
    for (; i + lanes <= count; i += lanes) {
        auto sum = hn::Mul(a, hn::LoadU(floats_tag, in + i - 1));
        sum = hn::MulAdd(b, hn::LoadU(floats_tag, in + i), sum);
        sum = hn::MulAdd(c, hn::LoadU(floats_tag, in + i + 1), sum);
        hn::StoreU(hn::MulAdd(d, hn::LoadU(floats_tag, in + i + 2), sum), floats_tag, out + i);
    }
    for (; i < count; ++i)
        out[i] = weights[0] * in[i - 1] + weights[1] * in[i] + weights[2] * in[i + 1] + weights[3] * in[i + 2];
}

template <bool has_change>
HWY_INLINE void piece_moments_of(const float* piece, const float* expected, const float* change, int count,
                                 PieceMoments* out) {
    const auto zero = hn::Zero(floats_tag), half = hn::Set(floats_tag, 0.5F);
    auto gg = zero, gc = zero, cc = zero, go = zero, co = zero, oo = zero, o = zero, s = zero, ss = zero;
    int i = 0;
    for (; i + lanes <= count; i += lanes) {
        const auto now = hn::LoadU(floats_tag, piece + i);
        const auto off = hn::Sub(now, hn::LoadU(floats_tag, expected + i));
        const auto slope =
            hn::Mul(half, hn::Sub(hn::LoadU(floats_tag, expected + i - 1), hn::LoadU(floats_tag, expected + i + 1)));
        gg = hn::MulAdd(slope, slope, gg), go = hn::MulAdd(slope, off, go);
        o = hn::Add(o, off), oo = hn::MulAdd(off, off, oo);
        s = hn::Add(s, now), ss = hn::MulAdd(now, now, ss);
        if (has_change) {
            const auto other = hn::LoadU(floats_tag, change + i);
            gc = hn::MulAdd(slope, other, gc), cc = hn::MulAdd(other, other, cc), co = hn::MulAdd(other, off, co);
        }
    }
    const auto all = [](auto sums) HWY_ATTR { return hn::GetLane(hn::SumOfLanes(floats_tag, sums)); };
    PieceMoments rest;
    if (i < count)
        plain_signal_kernels().piece_moments(piece + i, expected + i, change + (has_change ? i : 0), count - i, &rest);
    out->g_squares = rest.g_squares + all(gg), out->g_o = rest.g_o + all(go);
    out->o = rest.o + all(o), out->o_squares = rest.o_squares + all(oo);
    out->signal = rest.signal + all(s), out->signal_squares = rest.signal_squares + all(ss);
    out->g_c = out->c_squares = out->c_o = 0;
    if (!has_change) return;
    out->g_c = rest.g_c + all(gc), out->c_squares = rest.c_squares + all(cc), out->c_o = rest.c_o + all(co);
}

void piece_moments(const float* piece, const float* expected, const float* change, int count, PieceMoments* out) {
    if (change != nullptr)
        piece_moments_of<true>(piece, expected, change, count, out);
    else
        piece_moments_of<false>(piece, expected, nullptr, count, out);
}

const SignalKernels* signal_table() {
    static const SignalKernels kernels{odd_filter, correlate, cells, interpolate, piece_moments};
    return &kernels;
}

#endif

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {

std::vector<NamedSignalKernels> fast_signal_kernels_of_each_target() {
    std::vector<NamedSignalKernels> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    if (has.runs_here) all.push_back({#processor, N_##processor::signal_table()});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    all.push_back({"baseline", HWY_STATIC_DISPATCH(signal_table)()});
    return all;
}

const SignalKernels& fast_signal_kernels() {
    static const SignalKernels& best = *fast_signal_kernels_of_each_target().front().kernels;
    return best;
}

}  // namespace guardband::rows
#endif
