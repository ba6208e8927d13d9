// The fast kernels of movements against the plain ones, to rounding; the plain ones against what is known.
#include "rows/shift_kernels.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <random>
#include <vector>

#include "rows/kernels.h"

namespace guardband::rows {
namespace {

constexpr ShiftRules rules{2560, 40, 3};

/// Not a sample more than is asked for, so that the address sanitizer sees a read too far.
std::vector<std::int16_t> samples(std::size_t count, int lowest, int highest, std::mt19937& random) {
    std::uniform_int_distribution<int> value(lowest, highest);
    std::vector<std::int16_t> out(count);
    for (auto& one : out) one = static_cast<std::int16_t>(value(random));
    return out;
}

std::vector<float> numbers(std::size_t count, float lowest, float highest, std::mt19937& random) {
    std::uniform_real_distribution<float> value(lowest, highest);
    std::vector<float> out(count);
    for (float& one : out) one = value(random);
    return out;
}

void expect_near(const std::vector<float>& plain, const std::vector<float>& fast, float share, float least) {
    ASSERT_EQ(plain.size(), fast.size());
    for (std::size_t i = 0; i < plain.size(); ++i)
        EXPECT_NEAR(plain[i], fast[i], least + share * std::abs(plain[i])) << i;
}

using Fit = decltype(ShiftKernels::fit_cells);

/// Fits by all fast kernels as by the plain one. @param extra  samples behind the last cell
/// @param most_sample, strengths  of the rows and of their slopes
void expect_fits_as_plain(Fit ShiftKernels::*fit, std::size_t extra, int most_sample,
                          std::initializer_list<int> strengths, std::mt19937 random) {
    for (const auto& [target, kernels] : fast_shift_kernels_of_each_target())
        for (const int cells : {1, 2, 3, 4, 5, 9, 24})
            for (const int strength : strengths) {
                SCOPED_TRACE(testing::Message() << target << " " << cells << " " << strength);
                const auto size = static_cast<std::size_t>(cells) * shift_cell_samples + extra;
                const auto a = samples(size, 0, most_sample, random), b = samples(size, 0, most_sample, random);
                const auto g = samples(size, -strength, strength, random),
                           h = samples(size, -strength, strength, random);
                const RowPair rows{a.data(), g.data(), b.data(), h.data()};
                std::vector<float> shifts(most_shift_cells + shift_cell_group, 7), weights = shifts;
                auto fast_shifts = shifts, fast_weights = shifts;
                const auto sums = (plain_shift_kernels().*fit)(rows, cells, -3, rules, shifts.data(), weights.data());
                const auto fast = (kernels->*fit)(rows, cells, -3, rules, fast_shifts.data(), fast_weights.data());
                expect_near(weights, fast_weights, 1e-4F, 0);
                for (std::size_t c = 0; c < shifts.size(); ++c)
                    EXPECT_NEAR(shifts[c], fast_shifts[c], weights[c] > 0 ? 1e-3F : 100) << c;
                EXPECT_NEAR(sums.slopes, fast.slopes, 1e-4F * sums.slopes);
                EXPECT_NEAR(sums.left, fast.left, 1e-4F * sums.left);
                EXPECT_NEAR(sums.products, fast.products, 1e-4F * std::sqrt(sums.slopes * sums.left));
            }
}

// No slopes, some, as strong as rows, or their changes, can have.
TEST(ShiftKernels, FastCellsFitAsPlainOnes) {
    expect_fits_as_plain(&ShiftKernels::fit_cells, 0, 4092, {0, 40, 3196}, std::mt19937(5));
}

TEST(ShiftKernels, FastChangesFitAsPlainOnes) {
    expect_fits_as_plain(&ShiftKernels::fit_changes, 1, 890, {0, 40, 2300}, std::mt19937(12));
}

// What they are: the same fit of rows that hold the changes.
TEST(ShiftKernels, ChangesFitAsRowsOfThem) {
    constexpr std::size_t size = 3 * shift_cell_samples;
    std::mt19937 random(13);
    const auto a = samples(size + 1, 0, 890, random), b = samples(size + 1, 0, 890, random);
    auto g = samples(size + 1, -600, 600, random), h = samples(size + 1, -600, 600, random);
    for (auto* one : {&g, &h})
        for (auto& sample : *one) sample = static_cast<std::int16_t>(2 * sample);  // so that halves are whole
    const auto changes = [](const std::vector<std::int16_t>& in) {
        std::vector<std::int16_t> out(size);
        for (std::size_t i = 0; i < size; ++i) out[i] = static_cast<std::int16_t>(in[i + 1] - in[i]);
        return out;
    };
    const auto da = changes(a), db = changes(b), dg = changes(g), dh = changes(h);
    std::vector<float> shifts(2 * shift_cell_group), weights = shifts, expected = shifts, expected_weights = shifts;
    plain_shift_kernels().fit_changes({a.data(), g.data(), b.data(), h.data()}, 3, 2, rules, shifts.data(),
                                      weights.data());
    plain_shift_kernels().fit_cells({da.data(), dg.data(), db.data(), dh.data()}, 3, 2, rules, expected.data(),
                                    expected_weights.data());
    EXPECT_EQ(shifts, expected);
    EXPECT_EQ(weights, expected_weights);
    EXPECT_GT(weights[0], 0);
}

// All that a lane adds up, at its largest.
TEST(ShiftKernels, RowsAsFarApartAsCanBeDoNotOverflow) {
    const std::vector<std::int16_t> high(shift_cell_samples, 4092), low(shift_cell_samples, 0);
    std::vector<std::int16_t> slope(shift_cell_samples, 3196);
    for (std::size_t i = 0; i < slope.size() / 2; ++i) slope[i] = -3196;
    for (const auto& [target, kernels] : fast_shift_kernels_of_each_target()) {
        std::vector<float> shift(shift_cell_group), weight = shift;
        const auto sums = kernels->fit_cells({high.data(), slope.data(), low.data(), slope.data()}, 1, 2, rules,
                                             shift.data(), weight.data());
        EXPECT_NEAR(shift[0], 2, 1e-3F) << target;  // a constant is none of the picture's
        EXPECT_NEAR(sums.left, rules.rounding, 400) << target;
    }
}

TEST(ShiftKernels, FastMeansAreThoseOfThePlainOnes) {
    std::mt19937 random(6);
    for (const auto& [target, kernels] : fast_shift_kernels_of_each_target())
        for (const std::size_t lines : {1U, 15U, 16U, 17U, 288U})
            for (const int cells : {0, 1, 9, 24}) {
                SCOPED_TRACE(testing::Message() << target << " " << lines << " " << cells);
                const std::size_t stride = (lines + shift_line_group - 1) / shift_line_group * shift_line_group;
                const std::size_t size = stride * static_cast<std::size_t>(cells);
                const auto values = numbers(size, -1, 1, random);
                auto weights = numbers(size, -60, 200, random);
                for (float& one : weights) one = std::max(one, 0.0F);
                const LinesOfCells in{values.data(), weights.data(), stride, cells, lines};
                std::vector<float> means(stride, 9), sure = means, fast_means = means, fast_sure = means;
                plain_shift_kernels().means_of_lines(in, 0.001F, means.data(), sure.data());
                kernels->means_of_lines(in, 0.001F, fast_means.data(), fast_sure.data());
                expect_near(means, fast_means, 0, 1e-4F);
                expect_near(sure, fast_sure, 1e-3F, 0);
            }
}

TEST(ShiftKernels, FastSearchFindsAsThePlainOne) {
    std::mt19937 random(7);
    for (const auto& [target, kernels] : fast_shift_kernels_of_each_target())
        for (const int count : {1, 3, 4, 7, 8, 9, 128}) {
            SCOPED_TRACE(testing::Message() << target << " " << count);
            const auto size = static_cast<std::size_t>(count);
            const auto in = samples(4 * size, -4095, 4095, random), row = samples(shift_cell_samples, 0, 4095, random),
                       other = samples(shift_cell_samples + size - 1, 0, 4095, random);
            std::vector<std::int16_t> out(size), fast_out(size);
            plain_shift_kernels().quarter(in.data(), count, out.data());
            kernels->quarter(in.data(), count, fast_out.data());
            EXPECT_EQ(out, fast_out);
            std::vector<float> misfits(size), fast_misfits(size);
            plain_shift_kernels().misfits(row.data(), other.data(), count, misfits.data());
            kernels->misfits(row.data(), other.data(), count, fast_misfits.data());
            expect_near(misfits, fast_misfits, 1e-5F, 0);
        }
}

TEST(ShiftKernels, FastMovementSumsAreThoseOfThePlainOnes) {
    std::mt19937 random(8);
    constexpr std::size_t stride = 48, group = 16;
    for (const auto& [target, kernels] : fast_shift_kernels_of_each_target())
        for (const int columns : {1, 15, 16, 20, 32}) {
            SCOPED_TRACE(testing::Message() << target << " " << columns);
            constexpr int rows = 7;
            const auto now = numbers(stride * rows, 0, 200, random), before = numbers(stride * rows, 0, 200, random);
            const auto slope = numbers(stride * rows, -9, 9, random), other = numbers(stride * rows, -9, 9, random);
            const FieldPair in{now.data() + 1, slope.data() + 1, before.data() + 1, other.data() + 1, stride};
            std::vector<float> sums(5 * (32 + group)), fast_sums = sums;
            const auto parts = [](std::vector<float>& all) {
                const std::size_t part = 32 + group;
                float* p = all.data();
                return MovementSums{p, p + part, p + 2 * part, p + 3 * part, p + 4 * part};
            };
            plain_shift_kernels().movement_sums(in, rows, columns, parts(sums));
            kernels->movement_sums(in, rows, columns, parts(fast_sums));
            for (std::size_t part = 0; part < 5; ++part)
                for (std::size_t x = 0; x < static_cast<std::size_t>(columns); ++x) {
                    const std::size_t i = part * (32 + group) + x;
                    EXPECT_NEAR(sums[i], fast_sums[i], 0.1F + 1e-5F * std::abs(sums[i])) << part << " " << x;
                }
        }
}

TEST(ShiftKernels, FindAShiftThatIsKnown) {
    constexpr int width = 2 * shift_cell_samples;
    std::vector<std::uint16_t> row(width), other(width);
    const auto wave = [](double x) { return static_cast<std::uint16_t>(std::lround(500 + 300 * std::sin(0.2 * x))); };
    for (int x = 0; x < width; ++x)
        other[static_cast<std::size_t>(x)] = wave(x), row[static_cast<std::size_t>(x)] = wave(x - 0.3);
    std::vector<std::int16_t> smooth(width), slope(width), other_smooth(width), other_slope(width);
    plain_kernels<std::uint16_t>().smooth_and_slope(row.data(), width, 10, smooth.data(), slope.data());
    plain_kernels<std::uint16_t>().smooth_and_slope(other.data(), width, 10, other_smooth.data(), other_slope.data());
    std::vector<float> shifts(shift_cell_group), weights = shifts;
    const RowPair rows{smooth.data(), slope.data(), other_smooth.data(), other_slope.data()};
    plain_shift_kernels().fit_cells(rows, 2, 0, rules, shifts.data(), weights.data());
    EXPECT_NEAR(shifts[0], 0.3, 0.01);
    EXPECT_NEAR(shifts[1], 0.3, 0.01);
    EXPECT_GT(weights[0], 0);
    EXPECT_EQ(weights[2], 0);
}

TEST(ShiftKernels, MeansLeaveOutWhatDisagrees) {
    std::vector<float> values(9 * shift_line_group, 0.25F), weights(values.size(), 400);
    values[4 * shift_line_group] = 5;  // one cell of the first line
    weights[5 * shift_line_group] = 0;
    std::vector<float> means(shift_line_group), sure = means;
    plain_shift_kernels().means_of_lines({values.data(), weights.data(), shift_line_group, 9, shift_line_group}, 0,
                                         means.data(), sure.data());
    EXPECT_NEAR(means[0], 0.25, 0.01);
    EXPECT_NEAR(sure[0], 7 * 400, 60);
    EXPECT_FLOAT_EQ(means[1], 0.25F);
    EXPECT_FLOAT_EQ(sure[1], 9 * 400);
}

TEST(ShiftKernels, MisfitIsLeastWhereTheRowLies) {
    std::mt19937 random(9);
    const auto other = samples(shift_cell_samples + 20, 0, 4000, random);
    std::vector<std::int16_t> row(other.begin() + 13, other.begin() + 13 + shift_cell_samples);
    for (auto& one : row) one = static_cast<std::int16_t>(one + 50);  // brighter: doesn't count
    std::vector<float> misfits(21);
    plain_shift_kernels().misfits(row.data(), other.data(), 21, misfits.data());
    EXPECT_EQ(std::ranges::min_element(misfits) - misfits.begin(), 13);
    EXPECT_EQ(misfits[13], 0);
}

}  // namespace
}  // namespace guardband::rows
