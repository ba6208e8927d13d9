// This file is compiled once for each kind of processor, as fast.cpp is.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/shift_fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include <algorithm>

#include "rows/kernels.h"
#include "rows/processor.h"
#include "rows/shift_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || HWY_HAVE_SCALABLE  // as in fast.cpp

const ShiftKernels* shift_table() { return &plain_shift_kernels(); }

#else

namespace hn = hwy::HWY_NAMESPACE;

constexpr int cell = shift_cell_samples;
using Samples = hn::CappedTag<std::int16_t, 16>;  ///< a cell is a whole number of vectors
using Sums = hn::Repartition<std::int32_t, Samples>;
using Four = hn::CappedTag<std::int32_t, shift_cell_group>;
using FourFloats = hn::RebindToFloat<Four>;
using Floats = hn::CappedTag<float, 16>;
constexpr Samples samples_tag;
constexpr Sums sums_tag;
constexpr Four four_tag;
constexpr FourFloats four_floats;
constexpr Floats floats_tag;
using SamplesVector = hn::Vec<Samples>;
using SumsVector = hn::Vec<Sums>;
using FourVector = hn::Vec<Four>;
using FloatsVector = hn::Vec<Floats>;
constexpr int sample_lanes = static_cast<int>(hn::MaxLanes(samples_tag));
constexpr std::size_t float_lanes = hn::MaxLanes(floats_tag);

/// Adds the halves of a vector until 128 bits are left.
HWY_INLINE FourVector fold(SumsVector v) {
#if HWY_MAX_BYTES > 16
    return hn::Add(hn::LowerHalf(four_tag, v), hn::UpperHalf(four_tag, v));
#else
    return v;
#endif
}

/// Sums of products of 16-bit numbers.
class Products {
public:
    HWY_INLINE Products() : low_(hn::Zero(sums_tag)), high_(hn::Zero(sums_tag)) {}
    HWY_INLINE void add(SamplesVector a, SamplesVector b) {
        low_ = hn::ReorderWidenMulAccumulate(sums_tag, a, b, low_, high_);
    }
    HWY_INLINE FourVector folded() const { return fold(hn::Add(low_, high_)); }

private:
    SumsVector low_, high_;
};

/// Sums of numbers within ±6553 over a cell. With 16 lanes and more the five of a lane fit 16 bits.
class Values {
public:
    HWY_INLINE Values() : narrow_(hn::Zero(samples_tag)) {}
    HWY_INLINE void add(SamplesVector v) {
        if (sample_lanes >= 16)
            narrow_ = hn::Add(narrow_, v);
        else
            wide_.add(v, hn::Set(samples_tag, 1));
    }
    HWY_INLINE FourVector folded() const {
        Products all = wide_;
        all.add(narrow_, hn::Set(samples_tag, 1));
        return all.folded();
    }

private:
    SamplesVector narrow_;
    Products wide_;
};

/// The sums of the lanes of four vectors that lie one behind the other, as floats.
HWY_INLINE hn::Vec<FourFloats> sums_of_lanes(const std::int32_t* from) {
    const auto a = hn::Load(four_tag, from), b = hn::Load(four_tag, from + 4);
    const auto c = hn::Load(four_tag, from + 8), d = hn::Load(four_tag, from + 12);
    const auto ab = hn::Add(hn::InterleaveLower(four_tag, a, b), hn::InterleaveUpper(four_tag, a, b));
    const auto cd = hn::Add(hn::InterleaveLower(four_tag, c, d), hn::InterleaveUpper(four_tag, c, d));
    const hn::Repartition<std::int64_t, Four> pairs;  // ab holds a0+a2, b0+b2, a1+a3, b1+b3
    const auto lower = hn::InterleaveLower(pairs, hn::BitCast(pairs, ab), hn::BitCast(pairs, cd));
    const auto upper = hn::InterleaveUpper(pairs, hn::BitCast(pairs, ab), hn::BitCast(pairs, cd));
    return hn::ConvertTo(four_floats, hn::Add(hn::BitCast(four_tag, lower), hn::BitCast(four_tag, upper)));
}

/// Sums over a group of cells, four lanes of each as they come from folding: Σ d, Σ g, Σ d², Σ d g, Σ g² of the plain
/// version. Cells that are not taken have no slope, so that they say nothing.
class GroupSums {
public:
    HWY_INLINE GroupSums() {
        for (auto& kind : lanes_)
            for (auto& one : kind) hn::Store(hn::Zero(four_tag), four_tag, one);
    }
    template <bool of_changes>
    HWY_INLINE void take(const RowPair& rows, int first, int cell_of_group) {
        const std::int16_t *a = rows.smooth + first, *b = rows.other_smooth + first;
        const std::int16_t *p = rows.slope + first, *q = rows.other_slope + first;
        const auto difference = [a, b](int x) HWY_ATTR {
            return hn::Sub(hn::LoadU(samples_tag, a + x), hn::LoadU(samples_tag, b + x));
        };
        const auto slopes = [p, q](int x) HWY_ATTR {
            return hn::Add(hn::LoadU(samples_tag, p + x), hn::LoadU(samples_tag, q + x));
        };
        Values d_sum, g_sum;
        Products dd, dg, gg;
        for (int x = 0; x < cell; x += sample_lanes) {
            auto d = difference(x), g = slopes(x);
            if constexpr (of_changes) d = hn::Sub(difference(x + 1), d), g = hn::Sub(slopes(x + 1), g);
            g = hn::ShiftRight<1>(g);
            d_sum.add(d), g_sum.add(g);
            dd.add(d, d), dg.add(d, g), gg.add(g, g);
        }
        hn::Store(d_sum.folded(), four_tag, lanes_[0][cell_of_group]);
        hn::Store(g_sum.folded(), four_tag, lanes_[1][cell_of_group]);
        hn::Store(dd.folded(), four_tag, lanes_[2][cell_of_group]);
        hn::Store(dg.folded(), four_tag, lanes_[3][cell_of_group]);
        hn::Store(gg.folded(), four_tag, lanes_[4][cell_of_group]);
    }
    HWY_INLINE hn::Vec<FourFloats> all(int kind) const { return sums_of_lanes(lanes_[kind][0]); }

private:
    HWY_ALIGN std::int32_t lanes_[5][shift_cell_group][4];
};

template <bool of_changes>
ShiftSums fit(const RowPair& rows, int cells, float whole, const ShiftRules& rules, float* shifts, float* weights) {
    constexpr float scale = slope_scale / smooth_scale;
    const auto per_cell = hn::Set(four_floats, 1.0F / cell), zero = hn::Zero(four_floats);
    const auto least = hn::Set(four_floats, rules.least_slopes), rounding = hn::Set(four_floats, rules.rounding);
    const auto of_weight = hn::Set(four_floats, cell / (scale * scale * rules.alike));
    auto all_left = zero, all_slopes = zero, all_products = zero;
    for (int c = 0; c < cells; c += shift_cell_group) {
        GroupSums sums;
        for (int i = 0; i < std::min(shift_cell_group, cells - c); ++i) sums.take<of_changes>(rows, (c + i) * cell, i);
        const auto d = sums.all(0), g = sums.all(1);
        const auto d_mean = hn::Mul(d, per_cell), g_mean = hn::Mul(g, per_cell);
        const auto squares = hn::NegMulAdd(d, d_mean, sums.all(2));
        const auto products = hn::NegMulAdd(d, g_mean, sums.all(3));
        const auto slopes = hn::NegMulAdd(g, g_mean, sums.all(4));
        const auto says = hn::Ge(slopes, least);
        const auto rest = hn::Div(products, hn::Max(slopes, least));
        const auto left = hn::Add(hn::Max(hn::NegMulAdd(products, rest, squares), zero), rounding);
        const auto weight = hn::Div(hn::Mul(slopes, of_weight), left);
        const auto shift = hn::NegMulAdd(hn::Set(four_floats, scale), rest, hn::Set(four_floats, whole));
        hn::StoreU(shift, four_floats, shifts + c);
        hn::StoreU(hn::IfThenElseZero(says, weight), four_floats, weights + c);
        all_left = hn::Add(all_left, hn::IfThenElseZero(says, left));
        all_slopes = hn::Add(all_slopes, hn::IfThenElseZero(says, slopes));
        all_products = hn::Add(all_products, hn::IfThenElseZero(says, products));
    }
    const auto all = [](auto v) HWY_ATTR { return hn::GetLane(hn::SumOfLanes(four_floats, v)); };
    return {all(all_left), all(all_slopes), all(all_products)};
}

/// The mean of as many lines as a vector has lanes.
class MeanOfLines {
public:
    HWY_INLINE MeanOfLines(const LinesOfCells& in, std::size_t line, FloatsVector spread) : in_(in), line_(line) {
        const auto one = hn::Set(floats_tag, 1.0F);
        auto sum = hn::Zero(floats_tag), all = sum;
        for (int c = 0; c < in.cells; ++c) {
            const auto own = hn::LoadU(floats_tag, in.weights + place(c));
            const auto sure = hn::Div(own, hn::MulAdd(spread, own, one)), root = hn::Sqrt(sure);
            hn::Store(sure, floats_tag, sure_[c]);
            sum = hn::MulAdd(root, value(c), sum), all = hn::Add(all, root);
        }
        mean = of(sum, all), weight = all;
    }
    /// Takes the mean again, near what it was.
    HWY_INLINE void improve() {
        const auto one = hn::Set(floats_tag, 1.0F), quarter = hn::Set(floats_tag, 0.25F);
        auto sum = hn::Zero(floats_tag), all = sum;
        for (int c = 0; c < in_.cells; ++c) {
            const auto sure = hn::Load(floats_tag, sure_[c]), here = value(c), off = hn::Sub(here, mean);
            const auto off_square = hn::Mul(hn::Mul(off, off), quarter);
            const auto fit = hn::Div(one, hn::MulAdd(off_square, sure, one));
            const auto own = hn::Mul(hn::Mul(fit, fit), sure);
            sum = hn::MulAdd(own, here, sum), all = hn::Add(all, own);
        }
        mean = of(sum, all), weight = all;
    }

    FloatsVector mean, weight;

private:
    HWY_INLINE std::size_t place(int c) const { return static_cast<std::size_t>(c) * in_.stride + line_; }
    HWY_INLINE FloatsVector value(int c) const { return hn::LoadU(floats_tag, in_.values + place(c)); }
    static HWY_INLINE FloatsVector of(FloatsVector sum, FloatsVector all) {
        const auto has = hn::Gt(all, hn::Zero(floats_tag));
        return hn::IfThenElseZero(has, hn::Div(sum, hn::IfThenElse(has, all, hn::Set(floats_tag, 1.0F))));
    }

    const LinesOfCells& in_;
    std::size_t line_;
    HWY_ALIGN float sure_[most_shift_cells][float_lanes];
};

void means_of_lines(const LinesOfCells& in, float spread, float* means, float* weights) {
    constexpr int most_rounds = 3;
    const auto at_rest = hn::Set(floats_tag, 0.01F), own_spread = hn::Set(floats_tag, spread);
    const std::size_t padded = (in.lines + shift_line_group - 1) / shift_line_group * shift_line_group;
    for (std::size_t line = 0; line < padded; line += float_lanes) {
        MeanOfLines lines(in, line, own_spread);
        auto moving = hn::Gt(lines.weight, hn::Zero(floats_tag));
        for (int round = 0; round < most_rounds && !hn::AllFalse(floats_tag, moving); ++round) {
            const auto before = lines.mean, weight_before = lines.weight;
            lines.improve();
            lines.mean = hn::IfThenElse(moving, lines.mean, before);
            lines.weight = hn::IfThenElse(moving, lines.weight, weight_before);
            moving = hn::And(moving, hn::Ge(hn::Abs(hn::Sub(lines.mean, before)), at_rest));
        }
        hn::StoreU(lines.mean, floats_tag, means + line);
        hn::StoreU(lines.weight, floats_tag, weights + line);
    }
}

void quarter(const std::int16_t* in, int count, std::int16_t* out) {
    constexpr int step = sample_lanes / 2;
    const hn::Half<Samples> narrow;
    int i = 0;
    // Pairs that lie beside each other become one of 32 bits, and those again; every other one is wanted.
    for (; i + step <= count; i += step) {
        const auto pair_sums = [&](int x) HWY_ATTR {
            const auto v = hn::LoadU(samples_tag, in + x);
            const auto even = hn::ShiftRight<16>(hn::ShiftLeft<16>(hn::BitCast(sums_tag, v)));
            return hn::Add(even, hn::ShiftRight<16>(hn::BitCast(sums_tag, v)));
        };
        const auto low = pair_sums(4 * i), high = pair_sums(4 * i + sample_lanes);
        const auto sums = hn::Add(hn::ConcatEven(sums_tag, high, low), hn::ConcatOdd(sums_tag, high, low));
        hn::StoreU(hn::DemoteTo(narrow, hn::ShiftRight<2>(sums)), narrow, out + i);
    }
    plain_shift_kernels().quarter(in + 4 * i, count - i, out + i);
}

void misfits(const std::int16_t* row, const std::int16_t* other, int places, float* out) {
    HWY_ALIGN std::int32_t sums[shift_cell_group][4], squares[shift_cell_group][4];
    constexpr float per_cell = 1.0F / cell;
    for (int j = 0; j < places; j += shift_cell_group) {
        const int group = std::min(shift_cell_group, places - j);
        for (int i = 0; i < shift_cell_group; ++i) {
            const std::int16_t* there = other + j + std::min(i, group - 1);
            Values sum;
            Products square;
            for (int k = 0; k < cell; k += sample_lanes) {
                const auto d = hn::Sub(hn::LoadU(samples_tag, row + k), hn::LoadU(samples_tag, there + k));
                sum.add(d), square.add(d, d);
            }
            hn::Store(sum.folded(), four_tag, sums[i]), hn::Store(square.folded(), four_tag, squares[i]);
        }
        const auto sum = sums_of_lanes(sums[0]);
        const auto misfit = hn::NegMulAdd(hn::Mul(sum, hn::Set(four_floats, per_cell)), sum, sums_of_lanes(squares[0]));
        HWY_ALIGN float all[shift_cell_group];
        hn::Store(misfit, four_floats, all);
        std::copy(all, all + group, out + j);
    }
}

void movement_sums(const FieldPair& in, int rows, int columns, const MovementSums& out) {
    const auto half = hn::Set(floats_tag, 0.5F), quarter_of = hn::Set(floats_tag, 0.25F);
    for (std::size_t x = 0; x < static_cast<std::size_t>(columns); x += float_lanes) {
        auto dd = hn::Zero(floats_tag), da = dd, aa = dd, dc = dd, ac = dd;
        for (std::size_t y = 0; y < static_cast<std::size_t>(rows); ++y) {
            const std::size_t at = y * in.stride + x;
            const auto sum = [at](const float* a, const float* b) HWY_ATTR {
                return hn::Add(hn::LoadU(floats_tag, a + at), hn::LoadU(floats_tag, b + at));
            };
            const auto down = hn::Mul(half, sum(in.slope, in.other_slope));
            const auto along =
                hn::Mul(quarter_of, hn::Sub(sum(in.field + 1, in.other + 1), sum(in.field - 1, in.other - 1)));
            const auto change = hn::Sub(hn::LoadU(floats_tag, in.field + at), hn::LoadU(floats_tag, in.other + at));
            dd = hn::MulAdd(down, down, dd), da = hn::MulAdd(down, along, da), aa = hn::MulAdd(along, along, aa);
            dc = hn::MulAdd(down, change, dc), ac = hn::MulAdd(along, change, ac);
        }
        hn::StoreU(dd, floats_tag, out.down_squares + x), hn::StoreU(da, floats_tag, out.products + x);
        hn::StoreU(aa, floats_tag, out.along_squares + x);
        hn::StoreU(dc, floats_tag, out.down_change + x), hn::StoreU(ac, floats_tag, out.along_change + x);
    }
}

const ShiftKernels* shift_table() {
    static const ShiftKernels kernels{fit<false>, fit<true>, means_of_lines, quarter, misfits, movement_sums};
    return &kernels;
}

#endif

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {

std::vector<NamedShiftKernels> fast_shift_kernels_of_each_target() {
    std::vector<NamedShiftKernels> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    if (has.runs_here) all.push_back({#processor, N_##processor::shift_table()});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    all.push_back({"baseline", HWY_STATIC_DISPATCH(shift_table)()});
    return all;
}

const ShiftKernels& fast_shift_kernels() {
    static const ShiftKernels& best = *fast_shift_kernels_of_each_target().front().kernels;
    return best;
}

}  // namespace guardband::rows
#endif
