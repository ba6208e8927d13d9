// Composite video beside that of an independent generator, the Debian package hacktv: the same small reader on both.
#include <gmock/gmock.h>

#include <cmath>
#include <cstring>
#include <ostream>

#include "../shell.h"
#include "small_reader.h"

namespace guardband::testsignal {
namespace {

struct Mode {
    const char* theirs;
    const char* ours;
    std::int64_t rate_hz;
    double line_rate_hz, sync_mv, burst_us, subcarrier_hz;

    friend std::ostream& operator<<(std::ostream& out, const Mode& m) { return out << m.theirs; }
};

constexpr double ntsc_line_hz = 4.5e6 / 286;

const Mode modes[] = {
    {"pal", "PAL", 13'500'000, 15625, -300, 5.6, 4433618.75},
    {"ntsc", "NTSC", 13'500'000, ntsc_line_hz, -286, 5.3, 315e6 / 88},
    {"525pal", "PAL-M", 13'500'000, ntsc_line_hz, -286, 5.8, 227.25 * ntsc_line_hz},
    {"405", "405/50", 8'100'000, 10125, -300, 0, 0},
};

std::vector<float> their_mv(const Mode& mode, std::size_t samples) {
    const std::string bytes =
        output_of("hacktv -o file:- -t int16 -m " + std::string(mode.theirs) + " -s " + std::to_string(mode.rate_hz) +
                  " test:colourbars 2>/dev/null | head -c " + std::to_string(2 * samples));
    std::vector<float> mv(bytes.size() / 2);
    for (std::size_t n = 0; n < mv.size(); ++n) {
        std::int16_t code = 0;
        std::memcpy(&code, bytes.data() + 2 * n, 2);
        mv[n] = static_cast<float>(code / 32.767);
    }
    return mv;
}

/// Widths of the pulses over a frame from the first broad pulse that follows a normal field, in tenths of a µs, and
/// their distances in half lines.
std::vector<std::pair<int, int>> structure(const std::vector<float>& mv, const Mode& mode) {
    const double per_us = static_cast<double>(mode.rate_hz) / 1e6,
                 half = static_cast<double>(mode.rate_hz) / mode.line_rate_hz / 2;
    const SmallReader reader(mv, mode.sync_mv / 2, 1.5 * per_us);
    const auto& pulses = reader.pulses();
    std::vector<std::pair<int, int>> out;
    std::size_t first = 1;
    const auto is_broad = [&](std::size_t i) { return pulses[i].width > 15 * per_us; };
    while (first + 1 < pulses.size() && !(is_broad(first) && !is_broad(first - 1) && first > 20)) ++first;
    for (std::size_t i = first; i + 1 < pulses.size() && pulses[i].at - pulses[first].at < 2 * half * 700; ++i)
        out.emplace_back(static_cast<int>(std::lround(pulses[i].width / per_us * 2)),
                         static_cast<int>(std::lround((pulses[i + 1].at - pulses[i].at) / half)));
    return out;
}

class CompositeBesideHacktv : public testing::TestWithParam<Mode> {
protected:
    void SetUp() override {
        if (std::system("command -v hacktv >/dev/null 2>&1") != 0) GTEST_SKIP() << "hacktv is not installed";
    }
};

TEST_P(CompositeBesideHacktv, PulsesFollowOneAnotherAlike) {
    const Mode& mode = GetParam();
    const auto count = static_cast<std::size_t>(0.1 * static_cast<double>(mode.rate_hz));
    auto theirs = structure(their_mv(mode, count), mode);
    auto ours = structure(composite_mv(plain_recipe(mode.ours, 0.1, mode.rate_hz)), mode);
    // Either may begin with either field.
    ASSERT_GT(theirs.size(), 600U);
    const std::size_t length = std::min(theirs.size(), ours.size()) - 400;
    std::size_t off = 0, differing = length;
    for (std::size_t shift = 0; shift < 400 && differing > 0; ++shift) {
        std::size_t different = 0;
        for (std::size_t i = 0; i < length; ++i)
            different +=
                std::abs(ours[i + shift].first - theirs[i].first) > 1 || ours[i + shift].second != theirs[i].second;
        if (different < differing) differing = different, off = shift;
    }
    EXPECT_EQ(differing, 0U) << "at best, at a shift of " << off << " pulses";
}

TEST_P(CompositeBesideHacktv, BurstsAreThereOnTheSameLines) {
    const Mode& mode = GetParam();
    if (mode.subcarrier_hz == 0) GTEST_SKIP() << "no colour";
    if (std::string(mode.ours) == "PAL-M")
        GTEST_SKIP() << "hacktv blanks nine lines here as NTSC does, always the same";
    const double line_samples = static_cast<double>(mode.rate_hz) / mode.line_rate_hz;
    const int lines = static_cast<int>(std::lround(line_samples)) == 864 ? 625 : 525;
    const auto count = static_cast<std::size_t>(4.2 * lines * line_samples);
    const auto has_burst = [&](const std::vector<float>& mv) {
        const SmallReader reader(mv, -150, 18);
        std::vector<bool> out;
        for (int line = 0; line < 4 * lines; ++line) {
            const double from = line * line_samples + (mode.burst_us + 0.5) * static_cast<double>(mode.rate_hz) / 1e6;
            const double turns = mode.subcarrier_hz / static_cast<double>(mode.rate_hz);
            const auto z = reader.sine(from, from + 5 / turns, turns, 0).z;
            out.push_back(std::abs(z) > 70 && std::abs(reader.level(from, from + 5 / turns)) < 20);
        }
        return out;
    };
    const auto theirs = has_burst(their_mv(mode, count));
    const auto ours = has_burst(composite_mv(plain_recipe(mode.ours, 4.2 * lines / mode.line_rate_hz, mode.rate_hz)));
    // The colour sequence may begin with any frame.
    int least = 4 * lines;
    for (int shift = 0; shift < 4 * lines; shift += lines) {
        int different = 0;
        for (int line = 0; line < 4 * lines; ++line)
            different +=
                ours[static_cast<std::size_t>((line + shift) % (4 * lines))] != theirs[static_cast<std::size_t>(line)];
        least = std::min(least, different);
    }
    EXPECT_EQ(least, 0);
}

INSTANTIATE_TEST_SUITE_P(Modes, CompositeBesideHacktv, testing::ValuesIn(modes),
                         [](const auto& one) { return "mode_" + std::string(one.param.theirs); });

}  // namespace
}  // namespace guardband::testsignal
