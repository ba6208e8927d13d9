// This file is compiled once for each kind of processor: Highway includes it again and again with other settings. Kinds
// that gain these kernels nothing over their neighbours are left out.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include <algorithm>

#include "rows/kernels.h"
#include "rows/processor.h"

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || \
    HWY_HAVE_SCALABLE  // one lane: nothing to gain; lanes unknown when compiling: not written for

template <typename Sample>
const Kernels<Sample>* table_for_target() {
    return &plain_kernels<Sample>();
}

#else

namespace hn = hwy::HWY_NAMESPACE;

// A vector never holds more than one segment, so that a segment is a whole number of vectors on every processor.
using Codes = hn::CappedTag<std::int16_t, segment_samples>;
using Sums = hn::Repartition<std::int32_t, Codes>;
using Block = hn::CappedTag<std::int32_t, 4>;  ///< 128 bits
constexpr Codes codes_tag;
constexpr Sums sums_tag;
constexpr Block block_tag;
using CodesVector = hn::Vec<Codes>;
using SumsVector = hn::Vec<Sums>;
using BlockVector = hn::Vec<Block>;

template <typename Tag>
HWY_INLINE hn::Vec<Tag> load_as(Tag tag, const std::uint16_t* samples) {
    return hn::BitCast(tag, hn::LoadU(hn::RebindToUnsigned<Tag>(), samples));
}

template <typename Tag>
HWY_INLINE hn::Vec<Tag> load_as(Tag tag, const std::uint8_t* samples) {
    return hn::PromoteTo(tag, hn::LoadU(hn::Rebind<std::uint8_t, Tag>(), samples));
}

template <typename Sample>
HWY_INLINE CodesVector load(const Sample* samples) {
    return load_as(codes_tag, samples);
}

/// Sums of products of 16-bit numbers, in 32-bit lanes of no particular order.
class Accumulator {
public:
    // Written out: a constructor of the compiler's own would not be compiled for the target.
    HWY_INLINE Accumulator() : low_(hn::Zero(sums_tag)), high_(hn::Zero(sums_tag)) {}
    HWY_INLINE void add_products(CodesVector a, CodesVector b) {
        low_ = hn::ReorderWidenMulAccumulate(sums_tag, a, b, low_, high_);
    }
    HWY_INLINE SumsVector lanes() const { return hn::Add(low_, high_); }

private:
    SumsVector low_, high_;
};

/// Adds the halves of a vector until 128 bits are left.
HWY_INLINE BlockVector fold(SumsVector v) {
#if HWY_MAX_BYTES > 16
    return hn::Add(hn::LowerHalf(block_tag, v), hn::UpperHalf(block_tag, v));
#else
    return v;
#endif
}

/// The sums of the lanes of four vectors, in one vector.
HWY_INLINE BlockVector sums_of_lanes(BlockVector a, BlockVector b, BlockVector c, BlockVector d) {
    const BlockVector ab = hn::Add(hn::InterleaveLower(block_tag, a, b), hn::InterleaveUpper(block_tag, a, b));
    const BlockVector cd = hn::Add(hn::InterleaveLower(block_tag, c, d), hn::InterleaveUpper(block_tag, c, d));
    const hn::Repartition<std::int64_t, Block> pairs;  // ab holds a0+a2, b0+b2, a1+a3, b1+b3
    const auto lower = hn::InterleaveLower(pairs, hn::BitCast(pairs, ab), hn::BitCast(pairs, cd));
    const auto upper = hn::InterleaveUpper(pairs, hn::BitCast(pairs, ab), hn::BitCast(pairs, cd));
    return hn::Add(hn::BitCast(block_tag, lower), hn::BitCast(block_tag, upper));
}

template <typename Sample>
HWY_INLINE BlockVector segment_sum(const Sample* samples) {
    Accumulator sum;
    const CodesVector one = hn::Set(codes_tag, 1);
    for (int x = 0; x < segment_samples; x += static_cast<int>(hn::Lanes(codes_tag)))
        sum.add_products(load(samples + x), one);
    return fold(sum.lanes());
}

template <typename Sample>
void add_segment_sums(const Sample* row, int width, std::uint32_t* sums) {
    const hn::RebindToUnsigned<Block> unsigned_block;
    const int segments = width / segment_samples;
    int segment = 0;
    for (; segment + 4 <= segments; segment += 4) {
        const Sample* s = row + segment * segment_samples;
        const BlockVector sum =
            sums_of_lanes(segment_sum(s), segment_sum(s + segment_samples), segment_sum(s + 2 * segment_samples),
                          segment_sum(s + 3 * segment_samples));
        hn::StoreU(hn::Add(hn::LoadU(unsigned_block, sums + segment), hn::BitCast(unsigned_block, sum)), unsigned_block,
                   sums + segment);
    }
    for (; segment < segments; ++segment)
        sums[segment] += static_cast<std::uint32_t>(
            hn::GetLane(hn::SumOfLanes(block_tag, segment_sum(row + segment * segment_samples))));
}

template <typename Sample>
HWY_INLINE BlockVector segment_squared_difference(const Sample* row, const Sample* other) {
    Accumulator sum;
    for (int x = 0; x < segment_samples; x += static_cast<int>(hn::Lanes(codes_tag))) {
        const CodesVector difference = hn::Sub(load(row + x), load(other + x));
        sum.add_products(difference, difference);
    }
    return fold(sum.lanes());
}

template <typename Sample>
bool add_segment_squared_differences(const Sample* row, const Sample* other, int width, std::uint32_t* sums) {
    const hn::RebindToUnsigned<Block> unsigned_block;
    const int segments = width / segment_samples;
    BlockVector any = hn::Zero(block_tag);
    int segment = 0;
    for (; segment + 4 <= segments; segment += 4) {
        const Sample *r = row + segment * segment_samples, *o = other + segment * segment_samples;
        constexpr int step = segment_samples;
        const BlockVector sum =
            sums_of_lanes(segment_squared_difference(r, o), segment_squared_difference(r + step, o + step),
                          segment_squared_difference(r + 2 * step, o + 2 * step),
                          segment_squared_difference(r + 3 * step, o + 3 * step));
        any = hn::Or(any, sum);
        hn::StoreU(hn::Add(hn::LoadU(unsigned_block, sums + segment), hn::BitCast(unsigned_block, sum)), unsigned_block,
                   sums + segment);
    }
    bool equal = hn::AllTrue(block_tag, hn::Eq(any, hn::Zero(block_tag)));
    for (; segment < segments; ++segment) {
        const BlockVector lanes =
            segment_squared_difference(row + segment * segment_samples, other + segment * segment_samples);
        const auto sum = static_cast<std::uint32_t>(hn::GetLane(hn::SumOfLanes(block_tag, lanes)));
        equal = equal && sum == 0;
        sums[segment] += sum;
    }
    const int rest = segments * segment_samples;
    return equal && std::equal(row + rest, row + width, other + rest);
}

constexpr int segments_per_cell = comb_cell_samples / segment_samples;

template <typename Sample>
void row_moments(const Sample* row, int width, std::uint32_t* sums, std::uint32_t* squares) {
    const CodesVector one = hn::Set(codes_tag, 1);
    const auto sum_of = [](const Accumulator& sum) HWY_ATTR {
        return static_cast<std::uint32_t>(hn::GetLane(hn::SumOfLanes(block_tag, fold(sum.lanes()))));
    };
    int segment = 0;
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) {
        Accumulator square, sum[segments_per_cell];
        for (auto& of_segment : sum)
            for (int i = 0; i < segment_samples;
                 i += static_cast<int>(hn::Lanes(codes_tag)), row += hn::Lanes(codes_tag)) {
                const CodesVector codes = load(row);
                of_segment.add_products(codes, one);
                square.add_products(codes, codes);
            }
        const auto four =
            sums_of_lanes(fold(sum[0].lanes()), fold(sum[1].lanes()), fold(sum[2].lanes()), fold(sum[3].lanes()));
        const hn::RebindToUnsigned<Block> unsigned_block;
        hn::StoreU(hn::BitCast(unsigned_block, four), unsigned_block, sums + segment);
        sums[segment + 4] = sum_of(sum[4]), squares[cell] = sum_of(square);
        segment += segments_per_cell;
    }
    std::fill(sums + segment, sums + width / segment_samples, 0U);
    add_segment_sums(row, width - segment * segment_samples, sums + segment);
}

template <typename Sample>
void comb_products(const Sample* above, const Sample* middle, const Sample* below, int width, std::uint32_t* products) {
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) {
        Accumulator sum;
        for (int i = 0; i < comb_cell_samples; i += static_cast<int>(hn::Lanes(codes_tag))) {
            const int x = cell * comb_cell_samples + i;
            sum.add_products(load(middle + x), hn::Add(load(above + x), load(below + x)));
        }
        products[cell] = static_cast<std::uint32_t>(hn::GetLane(hn::SumOfLanes(block_tag, fold(sum.lanes()))));
    }
}

template <typename Sample>
HWY_INLINE CombMoments comb_cell(const Sample* above, const Sample* middle, const Sample* below, int shift) {
    const CodesVector one = hn::Set(codes_tag, 1);
    Accumulator comb_sum, mean_sum, comb_squares, products, mean_squares;
    for (int x = 0; x < comb_cell_samples; x += static_cast<int>(hn::Lanes(codes_tag))) {
        const CodesVector around =
            hn::Add(hn::ShiftRightSame(load(above + x), shift), hn::ShiftRightSame(load(below + x), shift));
        const CodesVector half = hn::ShiftRightSame(load(middle + x), shift), twice = hn::Add(half, half);
        const CodesVector comb = hn::Sub(twice, around), mean = hn::Add(twice, around);
        comb_sum.add_products(comb, one);
        mean_sum.add_products(mean, one);
        comb_squares.add_products(comb, comb);
        products.add_products(comb, mean);
        mean_squares.add_products(mean, mean);
    }
    alignas(16) std::int32_t four[4];
    hn::Store(sums_of_lanes(fold(comb_sum.lanes()), fold(mean_sum.lanes()), fold(comb_squares.lanes()),
                            fold(products.lanes())),
              block_tag, four);
    return {four[0], four[1], four[2], four[3], hn::GetLane(hn::SumOfLanes(block_tag, fold(mean_squares.lanes())))};
}

template <typename Sample>
void comb_moments(const Sample* above, const Sample* middle, const Sample* below, int width, int shift,
                  CombMoments* cells) {
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) {
        const int x = cell * comb_cell_samples;
        cells[cell] = comb_cell(above + x, middle + x, below + x, shift);
    }
}

template <typename Sample>
void add_to_columns(const Sample* row, int width, std::uint16_t* sums) {
    const hn::RebindToUnsigned<Codes> tag;
    const int lanes = static_cast<int>(hn::Lanes(tag));
    int x = 0;
    for (; x + lanes <= width; x += lanes)
        hn::StoreU(hn::Add(hn::LoadU(tag, sums + x), hn::BitCast(tag, load(row + x))), tag, sums + x);
    for (; x < width; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + row[x]);
}

/// Whether all samples of a segment are below `codes`.
template <typename Sample>
HWY_INLINE bool all_below(const Sample* row, int codes) {
    const hn::RebindToUnsigned<Codes> tag;
    const auto highest = hn::Set(tag, static_cast<std::uint16_t>(codes - 1));
    bool all = true;
    for (int x = 0; x < segment_samples; x += static_cast<int>(hn::Lanes(tag))) {
        const auto here = hn::BitCast(tag, load(row + x));
        all = all && hn::AllTrue(tag, hn::Eq(hn::Min(here, highest), here));
    }
    return all;
}

template <typename Sample>
void count_codes(const Sample* row, int width, int codes, std::uint32_t* counts) {
    std::uint32_t* const tables[] = {counts, counts + codes, counts + 2 * codes, counts + 3 * codes};
    int x = 0;
    for (; x + segment_samples <= width; x += segment_samples) {
        if (all_below(row + x, codes))
            for (int i = 0; i < segment_samples; ++i) ++tables[i % 4][row[x + i]];
        else
            plain_kernels<Sample>().count_codes(row + x, segment_samples, codes, counts);
    }
    plain_kernels<Sample>().count_codes(row + x, width - x, codes, counts);
}

/// `deep`: of more than 10 bits.
template <bool deep, typename Sample>
HWY_INLINE void smooth_and_slope_of(const Sample* row, int width, int bits, std::int16_t* smooth, std::int16_t* slope) {
    // No segments here: as wide as the processor has it.
    using Wide = hn::CappedTag<std::int16_t, 32>;
    constexpr Wide tag;
    constexpr int lanes = static_cast<int>(hn::MaxLanes(tag)), ends = 2;
    const int before = deep ? bits - 10 : 0, after = deep ? 3 : bits - 7;
    if (width < lanes + 2 * ends) return plain_kernels<Sample>().smooth_and_slope(row, width, bits, smooth, slope);
    const auto take = [&](int x) HWY_ATTR {
        const auto codes = load_as(Wide(), row + x);
        return deep ? hn::ShiftRightSame(codes, before) : codes;
    };
    const auto middle = hn::Set(tag, 14), near = hn::Set(tag, 18), far = hn::Set(tag, 7);
    const auto put = [&](int x) HWY_ATTR {
        const auto a = take(x - 2), b = take(x - 1), c = take(x), d = take(x + 1), e = take(x + 2);
        const auto sum = hn::Add(hn::Add(hn::Add(a, e), hn::ShiftLeft<3>(hn::Add(b, d))), hn::Mul(middle, c));
        const auto rise = hn::Add(hn::Mul(near, hn::Sub(d, b)), hn::Mul(far, hn::Sub(e, a)));
        hn::StoreU(hn::ShiftRightSame(sum, after), tag, smooth + x);
        hn::StoreU(hn::ShiftRightSame(rise, after), tag, slope + x);
    };
    for (int x = ends; x + lanes + ends < width; x += lanes) put(x);
    put(width - ends - lanes);
    for (const int x : {0, 1, width - 2, width - 1}) {
        smooth[x] = static_cast<std::int16_t>(32 * (row[x] >> before) >> after);
        slope[x] = 0;
    }
}

template <typename Sample>
void smooth_and_slope(const Sample* row, int width, int bits, std::int16_t* smooth, std::int16_t* slope) {
    if (bits > 10)
        smooth_and_slope_of<true>(row, width, bits, smooth, slope);
    else
        smooth_and_slope_of<false>(row, width, bits, smooth, slope);
}

template <typename Sample>
const Kernels<Sample>* table_for_target() {
    static constexpr Kernels<Sample> table{add_segment_sums<Sample>, add_segment_squared_differences<Sample>,
                                           row_moments<Sample>,      comb_products<Sample>,
                                           comb_moments<Sample>,     add_to_columns<Sample>,
                                           count_codes<Sample>,      smooth_and_slope<Sample>};
    return &table;
}

#endif

const Kernels<std::uint8_t>* table_8() { return table_for_target<std::uint8_t>(); }
const Kernels<std::uint16_t>* table_16() { return table_for_target<std::uint16_t>(); }

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {
namespace {

/// This file as compiled for one kind of processor.
struct Compilation {
    const char* processor;
    bool runs_here;
    const Kernels<std::uint8_t>* (*table_8)();
    const Kernels<std::uint16_t>* (*table_16)();
};

/// Best first.
std::vector<Compilation> compilations() {
    std::vector<Compilation> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    all.push_back({#processor, has.runs_here, N_##processor::table_8, N_##processor::table_16});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    // What the compiler was told that every processor has.
    all.push_back({"baseline", true, HWY_STATIC_DISPATCH(table_8), HWY_STATIC_DISPATCH(table_16)});
    return all;
}

template <typename Sample>
const Kernels<Sample>* table_of(const Compilation& compilation) {
    if constexpr (sizeof(Sample) == 1)
        return compilation.table_8();
    else
        return compilation.table_16();
}

}  // namespace

template <typename Sample>
const Kernels<Sample>& fast_kernels() {
    static const Kernels<Sample>& best = []() -> const Kernels<Sample>& {
        const auto all = compilations();
        return *table_of<Sample>(*std::ranges::find_if(all, &Compilation::runs_here));
    }();
    return best;
}

template <typename Sample>
std::vector<NamedKernels<Sample>> fast_kernels_of_each_target() {
    std::vector<NamedKernels<Sample>> all;
    for (const Compilation& compilation : compilations())
        if (compilation.runs_here) all.push_back({compilation.processor, table_of<Sample>(compilation)});
    return all;
}

template const Kernels<std::uint8_t>& fast_kernels();
template const Kernels<std::uint16_t>& fast_kernels();
template std::vector<NamedKernels<std::uint8_t>> fast_kernels_of_each_target();
template std::vector<NamedKernels<std::uint16_t>> fast_kernels_of_each_target();

}  // namespace guardband::rows
#endif
