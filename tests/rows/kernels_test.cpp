// The fast kernels against the plain ones: both are exact, so every comparison is to the bit. The plain ones against
// sums that are known.
#include "rows/kernels.h"

#include <gtest/gtest.h>

#include <cstdint>
#include <random>
#include <set>
#include <vector>

namespace guardband::rows {
namespace {

enum class Content { Random, Low, High, Alternating };

/// A row at an odd place in memory, with `width` samples and nothing behind them, so that the address sanitizer sees a
/// read too far.
template <typename Sample>
struct Row {
    Row(int width, int offset) : store(static_cast<std::size_t>(width + offset)), start(offset) {}
    const Sample* data() const { return store.data() + start; }
    std::vector<Sample> store;
    int start;
};

template <typename Sample>
Row<Sample> make_row(int width, int offset, int bits, Content content, std::mt19937& random) {
    Row<Sample> row(width, offset);
    const int highest = (1 << bits) - 1;
    std::uniform_int_distribution<int> code(0, highest);
    bool up = random() % 2 == 0;
    for (auto& sample : row.store) {
        up = !up;
        const int value = content == Content::Random ? code(random)
                          : content == Content::Low  ? 0
                          : content == Content::High ? highest
                                                     : (up ? highest : 0);
        sample = static_cast<Sample>(value);
    }
    return row;
}

template <typename Sample>
void expect_same_results(const Kernels<Sample>& fast, const Row<Sample>& a, const Row<Sample>& b, const Row<Sample>& c,
                         int width, int bits) {
    const Kernels<Sample>& plain = plain_kernels<Sample>();
    const auto segments = static_cast<std::size_t>(width / segment_samples);

    std::vector<std::uint32_t> sums(segments, 7), fast_sums(segments, 7);
    plain.add_segment_sums(a.data(), width, sums.data());
    fast.add_segment_sums(a.data(), width, fast_sums.data());
    EXPECT_EQ(sums, fast_sums);

    std::vector<std::uint32_t> squares(segments, 2'000'000'000), fast_squares = squares;
    const bool equal = plain.add_segment_squared_differences(a.data(), b.data(), width, squares.data());
    EXPECT_EQ(equal, fast.add_segment_squared_differences(a.data(), b.data(), width, fast_squares.data()));
    EXPECT_EQ(squares, fast_squares);

    std::vector<CombMoments> cells(static_cast<std::size_t>(width / comb_cell_samples)), fast_cells = cells;
    const int shift = bits > 10 ? bits - 10 : 0;
    plain.comb_moments(a.data(), b.data(), c.data(), width, shift, cells.data());
    fast.comb_moments(a.data(), b.data(), c.data(), width, shift, fast_cells.data());
    EXPECT_EQ(cells, fast_cells);

    std::vector<std::uint32_t> row_sums(segments, 7), fast_row_sums(segments, 8), row_squares(cells.size(), 7),
        fast_row_squares(cells.size(), 8);
    plain.row_moments(a.data(), width, row_sums.data(), row_squares.data());
    fast.row_moments(a.data(), width, fast_row_sums.data(), fast_row_squares.data());
    EXPECT_EQ(row_sums, fast_row_sums);
    EXPECT_EQ(row_squares, fast_row_squares);

    std::vector<std::uint32_t> products(cells.size(), 7), fast_products(cells.size(), 8);
    plain.comb_products(a.data(), b.data(), c.data(), width, products.data());
    fast.comb_products(a.data(), b.data(), c.data(), width, fast_products.data());
    EXPECT_EQ(products, fast_products);

    std::vector<std::uint16_t> columns(static_cast<std::size_t>(width), 9), fast_columns = columns;
    plain.add_to_columns(a.data(), width, columns.data());
    fast.add_to_columns(a.data(), width, fast_columns.data());
    EXPECT_EQ(columns, fast_columns);

    const int codes = (1 << bits) - 1;  // one code too few: it must not be counted
    const auto table = static_cast<std::size_t>(codes);
    std::vector<std::uint32_t> counts(4 * table), fast_counts(4 * table);
    plain.count_codes(a.data(), width, codes, counts.data());
    fast.count_codes(a.data(), width, codes, fast_counts.data());
    for (std::size_t code = 0; code < table; ++code)
        ASSERT_EQ(counts[code], fast_counts[code] + fast_counts[table + code] + fast_counts[2 * table + code] +
                                    fast_counts[3 * table + code]);
}

template <typename Sample>
void expect_same_slopes(const Kernels<Sample>& fast, const Row<Sample>& a, int width, int bits) {
    const Kernels<Sample>& plain = plain_kernels<Sample>();
    using Filtered = std::vector<std::int16_t>;
    const auto size = static_cast<std::size_t>(width);
    Filtered smooth(size), slope(size), fast_smooth(size), fast_slope(size);
    plain.smooth_and_slope(a.data(), width, bits, smooth.data(), slope.data());
    fast.smooth_and_slope(a.data(), width, bits, fast_smooth.data(), fast_slope.data());
    EXPECT_EQ(smooth, fast_smooth);
    EXPECT_EQ(slope, fast_slope);
}

template <typename Sample>
void compare(const Kernels<Sample>& fast, int bits) {
    std::mt19937 random(20240229);
    constexpr Content contents[] = {Content::Random, Content::Low, Content::High, Content::Alternating};
    std::vector<int> widths{704, 720, 768, 1440, 1920};
    for (int width = 0; width <= 2 * comb_cell_samples; ++width)
        widths.push_back(width);  // every remainder of every loop
    for (const int width : widths)
        for (const Content content : contents) {
            SCOPED_TRACE(testing::Message()
                         << "width " << width << ", content " << static_cast<int>(content) << ", bits " << bits);
            const auto a = make_row<Sample>(width, static_cast<int>(random() % 8), bits, content, random);
            const auto b = make_row<Sample>(width, static_cast<int>(random() % 8), bits, content, random);
            const auto c = make_row<Sample>(width, static_cast<int>(random() % 8), bits, content, random);
            expect_same_results(fast, a, b, c, width, bits);
            expect_same_slopes(fast, a, width, bits);
            expect_same_results(fast, a, a, b, width, bits);
            const auto low = make_row<Sample>(width, 1, bits, Content::Low, random);
            const auto high = make_row<Sample>(width, 3, bits, Content::High, random);
            expect_same_results(fast, high, low, high, width, bits);
            expect_same_slopes(fast, high, width, bits);
            expect_same_results(fast, low, high, low, width, bits);
        }
}

template <typename Sample>
void compare_all(int bits) {
    for (const auto& [target, kernels] : fast_kernels_of_each_target<Sample>()) {
        SCOPED_TRACE(target);
        compare(*kernels, bits);
    }
    compare(fast_kernels<Sample>(), bits);
}

TEST(Kernels, FastEqualsPlainAt8Bits) { compare_all<std::uint8_t>(8); }
TEST(Kernels, FastEqualsPlainAt10Bits) { compare_all<std::uint16_t>(10); }
TEST(Kernels, FastEqualsPlainAt12Bits) { compare_all<std::uint16_t>(12); }

TEST(Kernels, EachTargetHasKernelsOfItsOwn) {
    std::set<const Kernels<std::uint16_t>*> tables;
    for (const auto& [target, kernels] : fast_kernels_of_each_target<std::uint16_t>()) {
        EXPECT_FALSE(target.empty());
        EXPECT_TRUE(tables.insert(kernels).second) << target;
    }
    EXPECT_FALSE(tables.empty());
}

TEST(Kernels, DifferenceInTheLastSampleIsSeenAtEveryWidth) {
    for (int width = 1; width <= 80; ++width) {
        std::vector<std::uint16_t> a(static_cast<std::size_t>(width), 500), b = a;
        b.back() = 501;
        std::vector<std::uint32_t> sums(static_cast<std::size_t>(width / segment_samples));
        for (const auto* kernels : {&plain_kernels<std::uint16_t>(), &fast_kernels<std::uint16_t>()}) {
            EXPECT_TRUE(kernels->add_segment_squared_differences(a.data(), a.data(), width, sums.data()));
            EXPECT_FALSE(kernels->add_segment_squared_differences(a.data(), b.data(), width, sums.data()));
        }
    }
}

TEST(Kernels, PlainOnesGiveKnownSums) {
    std::vector<std::uint16_t> ramp(comb_cell_samples), flat(comb_cell_samples, 100);
    for (int x = 0; x < comb_cell_samples; ++x) ramp[static_cast<std::size_t>(x)] = static_cast<std::uint16_t>(x);
    const auto& plain = plain_kernels<std::uint16_t>();
    constexpr int n = comb_cell_samples;
    constexpr int sum = n * (n - 1) / 2, squares = n * (n - 1) * (2 * n - 1) / 6;  // of 0 … n−1

    std::vector<std::uint32_t> sums(n / segment_samples);
    plain.add_segment_sums(ramp.data(), n, sums.data());
    EXPECT_EQ(sums.front(), 120u);        // 0 + … + 15
    EXPECT_EQ(sums.back(), 120u + 1024);  // 64 + … + 79

    CombMoments cell;
    plain.comb_moments(flat.data(), ramp.data(), flat.data(), n, 0, &cell);  // d = 2x − 200, m = 2x + 200
    EXPECT_EQ(cell.comb, 2 * sum - 200 * n);
    EXPECT_EQ(cell.mean, 2 * sum + 200 * n);
    EXPECT_EQ(cell.comb_squares, 4 * squares - 800 * sum + 40000 * n);
    EXPECT_EQ(cell.mean_squares, 4 * squares + 800 * sum + 40000 * n);
    EXPECT_EQ(cell.products, 4 * squares - 40000 * n);  // d m = 4x² − 200²
}

}  // namespace
}  // namespace guardband::rows
