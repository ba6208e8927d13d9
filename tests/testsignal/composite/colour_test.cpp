// Composite video: burst, subcarrier and field sequence of every colour system.
#include <gmock/gmock.h>

#include <cmath>
#include <numbers>
#include <ostream>

#include "small_reader.h"

namespace guardband::testsignal {
namespace {

constexpr double degrees = 180 / std::numbers::pi;
constexpr double rate_hz = 16e6;

struct Burst {
    const char* system;
    double line_rate_hz, subcarrier_hz, start_us, cycles, peak_to_peak_mv;
    bool swings;

    friend std::ostream& operator<<(std::ostream& out, const Burst& b) { return out << b.system; }
};

constexpr double ntsc_line_hz = 4.5e6 / 286;

/// ITU-R BT.470-6 table 2 (from memory) and, where it is silent, as each case says.
const Burst bursts[] = {
    {"NTSC", ntsc_line_hz, 315e6 / 88, 5.3, 9, 286, false},
    {"PAL", 15625, 4433618.75, 5.6, 10, 300, true},
    {"PAL-M", ntsc_line_hz, 227.25 * ntsc_line_hz, 5.8, 9, 286, true},
    {"PAL-N", 15625, 3582056.25, 5.6, 9, 300, true},
    {"NTSC 4.43", ntsc_line_hz, 4433618.75, 5.3, 9, 286, false},  // its burst's place: NTSC's
    {"PAL 60", ntsc_line_hz, 4433618.75, 5.6, 10, 300, true},     // PAL's
};

/// A burst as seen: amplitude, and phase against the U axis that started at 0° with line 0.
struct Seen {
    double mv = 0, deg = 0;
};

Seen burst_of(const SmallReader& reader, const Burst& b, std::int64_t line, double first_edge) {
    const double turns_per_sample = b.subcarrier_hz / rate_hz, length = b.cycles / b.subcarrier_hz * rate_hz;
    const double edge = first_edge + static_cast<double>(line) * rate_hz / b.line_rate_hz;
    const double from = edge + b.start_us * rate_hz / 1e6, quarter = length / 4;
    const auto z = reader.sine(from + quarter, from + 3 * quarter, turns_per_sample, first_edge).z;
    return {std::abs(z), std::arg(z) * degrees};
}

class CompositeColour : public testing::TestWithParam<Burst> {};

TEST_P(CompositeColour, BurstIsTheStandards) {
    const Burst& b = GetParam();
    const SmallReader reader(composite_mv(plain_recipe(b.system, 0.0205)), -145, 20);
    for (std::int64_t line = 20; line < 250; ++line) {
        const Seen seen = burst_of(reader, b, line, 0);
        ASSERT_NEAR(seen.mv, b.peak_to_peak_mv / 2, 0.5) << line;
        const double angle = b.swings ? (line % 2 == 0 ? 135 : -135) : 180;
        ASSERT_NEAR(std::remainder(seen.deg - angle, 360), 0, 0.3) << line;
    }
}

TEST_P(CompositeColour, BurstBeginsAndEndsWhereItShould) {
    const Burst& b = GetParam();
    CompositeRecipe recipe = plain_recipe(b.system, 0.002, 100'000'000);
    recipe.start_line = 30;
    const SmallReader reader(composite_mv(recipe), -140, 100);
    const double edge = 1e8 / b.line_rate_hz, period = 1e8 / b.subcarrier_hz;
    // The envelope is odd about its half-way point, so that a sine fitted to a period on both sides has half of it. The
    // slope's beat with the sine changes its sign within a quarter of the period.
    const auto fitted = [&](double at) { return std::abs(reader.sine(at - period, at + period, 1 / period, 0).z); };
    const auto envelope = [&](double us) {
        const double at = edge + us * 100;
        return (fitted(at - period / 8) + fitted(at + period / 8)) / 2;
    };
    const double length = b.cycles / b.subcarrier_hz * 1e6, full = b.peak_to_peak_mv / 2;
    EXPECT_NEAR(envelope(b.start_us + length / 2), full, 0.005 * full);
    EXPECT_NEAR(envelope(b.start_us) / full, 0.5, 0.02);
    EXPECT_NEAR(envelope(b.start_us + length) / full, 0.5, 0.02);
}

INSTANTIATE_TEST_SUITE_P(Systems, CompositeColour, testing::ValuesIn(bursts), [](const auto& one) {
    std::string name = one.param.system;
    for (char& c : name)
        if (!std::isalnum(static_cast<unsigned char>(c))) c = '_';
    return name;
});

/// Numbers of the lines without burst about the field syncs, over some frames.
std::vector<std::pair<int, int>> gaps(const char* system, int frames) {
    const ScanPattern pattern(plain_recipe(system, 0.1).system);
    const int lines = plain_recipe(system, 0.1).system.lines;
    std::vector<std::pair<int, int>> found;
    bool was = true;
    for (std::int64_t line = lines - 20; line < std::int64_t{lines} * frames + lines - 20; ++line) {
        const bool is = pattern.burst(line);
        if (was && !is) found.emplace_back(pattern.line_number(line), 0);
        if (!was && is) found.back().second = pattern.line_number(line - 1);
        was = is;
    }
    return found;
}

TEST(CompositeColour, BurstBlankingMeandersOverFourFields) {
    // ITU-R BT.470-6, figure of the burst blanking, from memory; hacktv agrees (composite/independent_test.cpp). The
    // table of PAL-M there counts from the first broad pulse, three lines later than we.
    const std::pair<int, int> pal[] = {{622, 5}, {311, 319}, {623, 6}, {310, 318}};
    EXPECT_THAT(gaps("PAL", 2), testing::ElementsAreArray(pal));
    const std::pair<int, int> pal_m[] = {{1, 11}, {263, 273}, {525, 10}, {262, 272}};
    EXPECT_THAT(gaps("PAL-M", 2), testing::ElementsAreArray(pal_m));
    const std::pair<int, int> ntsc[] = {{1, 9}, {264, 272}};
    EXPECT_THAT(gaps("NTSC", 1), testing::ElementsAreArray(ntsc));
}

TEST(CompositeColour, BarsHaveTheColoursThatEveryVectorscopeShows) {
    // 75 % bars: amplitude peak to peak and angle, 0.877(R−Y) and 0.492(B−Y) worked out by hand from BT.470's weights.
    struct Bar {
        int number;
        double luma, mv, deg;
    };
    const Bar bars[] = {{1, 465.2, 469.7, 167.1}, {2, 367.9, 663.9, 283.5}, {3, 308.2, 620.1, 240.7},
                        {4, 216.8, 620.1, 60.7},  {5, 157.0, 663.9, 103.5}, {6, 59.9, 469.7, 347.1}};
    CompositeRecipe recipe = plain_recipe("PAL", 0.004);
    recipe.picture.kind = CompositePicture::Bars;
    recipe.start_line = 101;
    const SmallReader reader(composite_mv(recipe), -150, 60);
    const double turns_per_sample = 4433618.75 / rate_hz, width = 52.0 / 8 * 16, start = 10.5 * 16;
    const double line_turns = std::fmod(283.7516 * 100, 1.0);  // of the U axis at line 101's edge
    for (const Bar& bar : bars) {
        const double from = start + (bar.number + 0.3) * width, to = from + 0.4 * width;
        const auto [z, level] = reader.sine(from, to, turns_per_sample, 0);
        EXPECT_NEAR(2 * std::abs(z), bar.mv, 1.5) << bar.number;
        EXPECT_NEAR(std::remainder(std::arg(z) * degrees - 360 * line_turns - bar.deg, 360), 0, 0.2) << bar.number;
        EXPECT_NEAR(level, bar.luma, 0.5) << bar.number;
    }
}

TEST(CompositeColour, SecamRestsWhereItShouldByTurns) {
    CompositeRecipe recipe = plain_recipe("SECAM", 0.01);
    recipe.start_line = 51;
    const SmallReader reader(composite_mv(recipe), -150, 60);
    for (int line = 1; line < 100; ++line) {
        const bool red = line % 2 == 0;  // line 51 + line, counted from 0: even ones
        const double hz = red ? 4406250 : 4250000;
        const double edge = line * 1024.0;
        // Two stretches of the grey picture, 20 µs apart: the phase between them tells the frequency.
        const auto a = reader.sine(edge + 320, edge + 480, hz / rate_hz, edge).z;
        const auto b = reader.sine(edge + 640, edge + 800, hz / rate_hz, edge).z;
        const double off_hz = std::arg(b / a) / (2 * std::numbers::pi) / 20e-6;
        ASSERT_NEAR(off_hz, 0, 40) << line;
        ASSERT_NEAR(2 * std::abs(a), red ? 215 : 167, 3) << "mV; CCIR figures, from memory";
    }
}

TEST(CompositeColour, SecamBarsDeviateAsTheStandardSays) {
    // 75 % bars: D'R of the red bar is −1 · 280 kHz, of the cyan bar +1; D'B of blue +1 · 230 kHz, of yellow −1.
    CompositeRecipe recipe = plain_recipe("SECAM", 0.002);
    recipe.picture.kind = CompositePicture::Bars;
    recipe.start_line = 51;
    const SmallReader reader(composite_mv(recipe), -150, 60);
    const auto frequency = [&](int line, int bar) {
        const double from = line * 1024.0 + (10.5 + (bar + 0.55) * 6.5) * 16, turns = 4.3e6 / rate_hz;
        const auto a = reader.sine(from, from + 16, turns, 0).z, b = reader.sine(from + 12, from + 28, turns, 0).z;
        return 4.3e6 + std::arg(b / a) / (2 * std::numbers::pi) / (12 / rate_hz);
    };
    EXPECT_NEAR(frequency(2, 5), 4406250 - 280e3, 12e3);
    EXPECT_NEAR(frequency(2, 2), 4406250 + 280e3, 12e3);
    EXPECT_NEAR(frequency(1, 6), 4250000 + 230e3, 12e3);
    EXPECT_NEAR(frequency(1, 1), 4250000 - 230e3, 12e3);
}

}  // namespace
}  // namespace guardband::testsignal
