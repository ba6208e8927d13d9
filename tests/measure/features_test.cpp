// Each feature against a direct computation from its definition in features.h, on random pictures, plus what must and
// must not comb.
#include "measure/features.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>

#include "quantity/errors.h"
#include "support/clip_frames.h"

namespace guardband::measure {
namespace {

using support::Planes;

Planes random_picture(const media::PictureFormat& format, unsigned seed) {
    std::mt19937 random(seed);
    std::uniform_int_distribution<int> code(0, (1 << format.bit_depth) - 1);
    Planes planes;
    planes.luma.resize(static_cast<std::size_t>(format.width * format.height));
    for (auto& sample : planes.luma) sample = static_cast<std::uint16_t>(code(random));
    return planes;
}

/// What `features.h` says, in the words of the definition.
struct Definition {
    const media::PictureFormat& format;
    int at(const Planes& p, int x, int y) const { return p.luma[static_cast<std::size_t>(y * format.width + x)]; }

    std::uint32_t segment_sum(const Planes& p, int segment, int y) const {
        std::uint32_t sum = 0;
        for (int x = 16 * segment; x < 16 * segment + 16; ++x) sum += static_cast<std::uint32_t>(at(p, x, y));
        return sum;
    }
    std::uint64_t change(const Planes& now, const Planes& before, int parity, int block_x, int block_y) const {
        std::uint64_t sum = 0;
        for (int field_row = 8 * block_y; field_row < 8 * block_y + 8; ++field_row)
            for (int x = 16 * block_x; x < 16 * block_x + 16; ++x) {
                const int difference = at(now, x, 2 * field_row + parity) - at(before, x, 2 * field_row + parity);
                sum += static_cast<std::uint64_t>(difference * difference);
            }
        return sum;
    }
    /// Two pairs of rows of the field in a cell: rows 1 and 2, 5 and 6.
    std::array<double, 3> texture(const Planes& p, int parity, int cell_x, int cell_y) const {
        double across = 0, along = 0, spread = 0;
        for (const int upper : {8 * cell_y + 1, 8 * cell_y + 5})
            for (int segment = 5 * cell_x; segment < 5 * cell_x + 5; ++segment) {
                const int y0 = 2 * upper + parity, y1 = y0 + 2;
                double sum0 = 0, sum1 = 0;
                for (int x = 16 * segment; x < 16 * segment + 16; ++x) {
                    const double a = at(p, x, y0), b = at(p, x, y1);
                    sum0 += a, sum1 += b, spread += a * a + b * b, along += (a - b) * (a - b);
                    // Of a row that ends with its last segment, that one has no neighbour and doesn't count.
                    if (16 * segment + 16 < format.width) across += std::pow(at(p, x + 1, y1) - b, 2);
                }
                spread -= (sum0 * sum0 + sum1 * sum1) / 16, along -= (sum0 - sum1) * (sum0 - sum1) / 16;
            }
        return {across, along, spread};
    }
    double comb(const Planes& top, const Planes& bottom, int cell_x, int cell_y) const {
        double energy = 0;
        for (int field_row = 8 * cell_y; field_row < 8 * cell_y + 8; ++field_row) {
            std::vector<double> d, m;
            for (int x = 80 * cell_x; x < 80 * cell_x + 80; ++x) {
                const int y = 2 * field_row + 1, around = at(top, x, y - 1) + at(top, x, y + 1),
                          twice = 2 * at(bottom, x, y);
                d.push_back(twice - around), m.push_back(twice + around);
            }
            energy += residual(d, m);
        }
        return energy;
    }
    static double residual(const std::vector<double>& d, const std::vector<double>& m) {
        double mean_d = 0, mean_m = 0, dd = 0, dm = 0, mm = 0;
        for (std::size_t i = 0; i < d.size(); ++i) mean_d += d[i] / 80, mean_m += m[i] / 80;
        for (std::size_t i = 0; i < d.size(); ++i) {
            dd += (d[i] - mean_d) * (d[i] - mean_d), dm += (d[i] - mean_d) * (m[i] - mean_m),
                mm += (m[i] - mean_m) * (m[i] - mean_m);
        }
        return dd - dm * dm / (mm + 80);
    }
};

class FeaturesOfFormat : public testing::TestWithParam<media::PictureFormat> {};

TEST_P(FeaturesOfFormat, AreWhatTheHeaderSays) {
    const media::PictureFormat& format = GetParam();
    const Planes first = random_picture(format, 1), second = random_picture(format, 2);
    FeatureExtractor extractor(format);
    EXPECT_FALSE(extractor.extract(make_frame(format, first, 0, 3)).has_previous);
    const FrameFeatures& f = extractor.extract(make_frame(format, second, 1, 3));
    const Definition define{format};
    ASSERT_TRUE(f.has_previous);

    ASSERT_EQ(f.segment_sums.width, format.width / 16);
    ASSERT_EQ(f.segment_sums.height, format.height);
    for (int y = 0; y < format.height; ++y)
        for (int x = 0; x < f.segment_sums.width; ++x)
            ASSERT_EQ(f.segment_sums.at(x, y), define.segment_sum(second, x, y));

    for (int parity = 0; parity < 2; ++parity) {
        const auto& change = f.change[static_cast<std::size_t>(parity)];
        ASSERT_EQ(change.height, (format.height + 1 - parity) / 2 / 8);
        for (int y = 0; y < change.height; ++y)
            for (int x = 0; x < change.width; ++x)
                ASSERT_EQ(change.at(x, y), define.change(second, first, parity, x, y));
        EXPECT_FALSE(f.identical[static_cast<std::size_t>(parity)]);
        const auto& columns = f.column_sums[static_cast<std::size_t>(parity)];
        std::uint32_t sum = 0;
        for (int field_row = 0; field_row < std::min(48, (format.height + 1 - parity) / 2); ++field_row)
            sum += static_cast<std::uint32_t>(define.at(second, format.width - 1, 2 * field_row + parity));
        ASSERT_EQ(columns.at(format.width - 1, 0), sum);
    }

    for (int parity = 0; parity < 2; ++parity) {
        const FieldTexture& texture = f.texture[static_cast<std::size_t>(parity)];
        ASSERT_EQ(texture.across.height, (format.height + 1 - parity) / 2 / 8);
        for (int y = 0; y < texture.across.height; ++y)
            for (int x = 0; x < texture.across.width; ++x) {
                const auto [across, along, spread] = define.texture(second, parity, x, y);
                ASSERT_NEAR(texture.across.at(x, y), across, 1e-5 * across);
                ASSERT_NEAR(texture.along.at(x, y), along, 1e-5 * along);
                ASSERT_NEAR(texture.spread.at(x, y), spread, 1e-5 * spread);
            }
    }

    const auto expect_comb = [&](const CombEnergy& comb, const Planes& top, const Planes& bottom) {
        double sum = 0;
        ASSERT_EQ(comb.cells.height, ((format.height + 1) / 2 - 1) / 8);
        for (int y = 0; y < comb.cells.height; ++y)
            for (int x = 0; x < comb.cells.width; ++x) {
                const double expected = define.comb(top, bottom, x, y);
                // Codes above 10 bits lose their lowest bits, each sample up to 3/4 of a 10-bit code of up to 1023.
                const double allowed = format.bit_depth > 10 ? 1e-3 : 1e-5;
                ASSERT_NEAR(comb.cells.at(x, y), expected, allowed * expected);
                sum += expected;
            }
        EXPECT_NEAR(comb.energy, sum, 1e-3 * sum);
        EXPECT_EQ(comb.samples, 640 * static_cast<std::int64_t>(comb.cells.cells.size()));
    };
    expect_comb(f.own, second, second);
    expect_comb(f.top_with_previous_bottom, second, first);
    expect_comb(f.bottom_with_previous_top, first, second);
}

INSTANTIATE_TEST_SUITE_P(All, FeaturesOfFormat,
                         testing::Values(support::luma_format(720, 576, 10), support::luma_format(720, 486, 10),
                                         support::luma_format(720, 480, 8), support::luma_format(355, 289, 12),
                                         support::luma_format(79, 41, 8), support::luma_format(5, 3, 8),
                                         support::luma_format(1, 2, 8)));

TEST(Features, ChangeOverTwoFramesTakesEveryFourthRowOfAField) {
    const auto format = support::luma_format(64, 64, 10);
    const Planes first = random_picture(format, 1), second = random_picture(format, 2);
    Planes third = first;
    third.luma[8 * 64 + 20] ^= 3;  // row 4 of the top field, counts: a difference of 1, 2 or 3 codes
    third.luma[9 * 64 + 40] ^= 3;  // row 4 of the bottom field
    third.luma[2 * 64 + 20] ^= 3;  // row 1 of the top field, doesn't
    FeatureExtractor extractor(format);
    extractor.extract(make_frame(format, first, 0));
    EXPECT_FALSE(extractor.extract(make_frame(format, second, 1)).has_two_previous);
    const FrameFeatures& f = extractor.extract(make_frame(format, third, 2));
    ASSERT_TRUE(f.has_two_previous);
    for (std::size_t parity = 0; parity < 2; ++parity)
        for (int y = 0; y < f.change_over_two[parity].height; ++y)
            for (int x = 0; x < f.change_over_two[parity].width; ++x) {
                const std::size_t at = parity == 0 ? 8 * 64 + 20 : 9 * 64 + 40;
                const int difference = third.luma[at] - first.luma[at];
                const bool here = y == 0 && x == (parity == 0 ? 1 : 2);
                EXPECT_EQ(f.change_over_two[parity].at(x, y),
                          here ? static_cast<std::uint64_t>(difference * difference) : 0);
            }
}

TEST(Features, HistogramCountsEveryFourthRowAndAllRowsInFourFrames) {
    const auto format = support::luma_format(720, 576, 10);
    const Planes picture = random_picture(format, 3);
    FeatureExtractor extractor(format);
    std::vector<std::uint32_t> counted(1024), expected(1024);
    for (std::int64_t index = 0; index < 4; ++index) {
        const auto& f = extractor.extract(make_frame(format, picture, index));
        std::uint64_t samples = 0;
        for (std::size_t code = 0; code < 1024; ++code)
            counted[code] += f.histogram[code], samples += f.histogram[code];
        EXPECT_EQ(samples, 144u * 720u);
    }
    for (const auto code : picture.luma) ++expected[code];
    EXPECT_EQ(counted, expected);
}

TEST(Features, AFieldThatIsRepeatedIsIdenticalAndOneSampleBreaksThat) {
    const auto format = support::luma_format(727, 576, 10);
    const Planes first = random_picture(format, 4);
    Planes second = first;
    second.luma.back() ^= 1;  // the last sample of the last bottom row, right of the last segment
    FeatureExtractor extractor(format);
    EXPECT_EQ(extractor.extract(make_frame(format, first, 0)).identical, (std::array{false, false}));
    EXPECT_EQ(extractor.extract(make_frame(format, first, 1)).identical, (std::array{true, true}));
    EXPECT_EQ(extractor.extract(make_frame(format, second, 2)).identical, (std::array{true, false}));
}

/// A picture with detail along the rows only; the bottom field's contrast is `bottom_gain`, and it is moved by `shift`
/// samples.
Planes woven(const media::PictureFormat& format, double bottom_gain, double shift) {
    Planes planes;
    for (int y = 0; y < format.height; ++y)
        for (int x = 0; x < format.width; ++x) {
            const double at = y % 2 == 1 ? x - shift : x;
            const double light = 0.5 + 0.2 * std::sin(0.31 * at) + 0.2 * std::sin(0.083 * at + 1);
            planes.luma.push_back(static_cast<std::uint16_t>(64 + 876 * light * (y % 2 == 1 ? bottom_gain : 1) + 0.5));
        }
    return planes;
}

// A picture tube before the camera makes one field brighter than the other in proportion to what it shows: that is no
// motion.
TEST(Features, FlickerDoesNotCombAndMotionDoes) {
    const auto format = support::luma_format();
    FeatureExtractor extractor(format);
    const double still = extractor.extract(make_frame(format, woven(format, 1, 0), 0)).own.energy;
    const double flicker = extractor.extract(make_frame(format, woven(format, 0.8, 0), 1)).own.energy;
    const double motion = extractor.extract(make_frame(format, woven(format, 1, 0.5), 2)).own.energy;
    // Rounding to codes: each of the three rows errs by 1/12 code², weighted 4 + 1 + 1.
    const double rounding = 0.5 * 720 * 280;
    EXPECT_LT(still, rounding);
    EXPECT_LT(flicker, 1.5 * rounding);
    EXPECT_GT(motion, 100 * rounding);
}

TEST(Features, RefusesAnotherFormatAndImpossibleOnes) {
    FeatureExtractor extractor(support::luma_format(720, 576, 10));
    const auto other = support::luma_format(720, 576, 8);
    EXPECT_THROW(extractor.extract(make_frame(other, random_picture(other, 1), 0)), quantity::DomainError);
    EXPECT_THROW(FeatureExtractor(support::luma_format(0, 576, 8)), quantity::DomainError);
    EXPECT_THROW(FeatureExtractor(support::luma_format(720, 576, 16)), quantity::DomainError);
}

TEST(Features, SumTheSquaredChangeFromLineToLineOfAField) {
    const auto format = support::luma_format(48, 8);
    support::Planes planes;
    for (int y = 0; y < 8; ++y)
        for (int x = 0; x < 48; ++x) planes.luma.push_back(static_cast<std::uint16_t>(100 + 7 * y * y + (x * y) % 5));
    FeatureExtractor extractor(format);
    const FrameFeatures& features = extractor.extract(support::make_frame(format, planes, 0));
    ASSERT_EQ(features.line_change.width, 3);
    for (int y = 0; y < 8; ++y)
        for (int s = 0; s < 3; ++s) {
            std::uint64_t sum = 0;
            for (int x = 16 * s; x < 16 * s + 16 && y >= 2; ++x) {
                const int d = planes.luma[static_cast<std::size_t>(48 * y + x)] -
                              planes.luma[static_cast<std::size_t>(48 * (y - 2) + x)];
                sum += static_cast<std::uint64_t>(d * d);
            }
            EXPECT_EQ(features.line_change.at(s, y), sum) << s << ' ' << y;
        }
}

}  // namespace
}  // namespace guardband::measure
