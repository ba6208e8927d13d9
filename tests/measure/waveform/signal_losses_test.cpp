// Dropouts of a waveform against known truth: how many are found, how many of those found are none, where they begin
// and end, how many a minute; and no alarm over pictures that move, noise, and machines that run unevenly.
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>

#include "measure/waveform/made_video.h"

namespace guardband::measure {
namespace {

constexpr double longest_margin_us = 0.8;  ///< of the picture's ends, that is not searched
constexpr double claimed_length_us = 5;

/// A damaged piece of a line's picture, in µs from the start of the recording.
struct Piece {
    double begin = 0, end = 0;
    bool searched = false;  ///< it lies in lines that are, and is as long as is claimed
};

bool is_searched(int line, int lines, int blanked) {
    const int first = blanked + 3, last = lines / 2 - 9, second = (lines + 1) / 2;
    return (line > first && line < last) || (line > second + first && line < second + last);
}

std::vector<Piece> pieces_of(const testsignal::CompositeMaker& maker) {
    const testsignal::CompositeSystem& s = maker.recipe().system;
    std::vector<Piece> all;
    const int last = static_cast<int>(1e6 * maker.recipe().duration_s / s.line_us) - 10;
    // Those of the last frame have no next one to confirm them; nor in SECAM, whose colours change from frame to frame,
    // those of the last two.
    const int unconfirmed = s.kind == testsignal::ColourKind::Frequency ? 2 : 1;
    for (const testsignal::CompositeDropout& dropout : maker.truth().dropouts) {
        const double begin = 1e6 * dropout.start_s, end = begin + dropout.length_us;
        for (auto line = static_cast<int>(begin / s.line_us); line * s.line_us < end; ++line) {
            Piece piece{std::max(begin, line * s.line_us + s.picture_start_us + longest_margin_us),
                        std::min(end, (line + 1) * s.line_us - s.front_porch_us - longest_margin_us)};
            if (piece.end <= piece.begin) continue;
            piece.searched = piece.end - piece.begin >= claimed_length_us && line > s.lines / 2 + 60 &&
                             line < last - unconfirmed * s.lines &&
                             is_searched(line % s.lines + 1, s.lines, s.blanked_lines);
            all.push_back(piece);
        }
    }
    return all;
}

struct Tried {
    const char* name;
    const char* system;
    double rate_hz;
    testsignal::CompositePicture picture;
    double level_mv, noise_mv, length_us, snr_db;
};

void PrintTo(const Tried& t, std::ostream* out) { *out << t.name; }

std::string name_of(const testing::TestParamInfo<Tried>& info) { return info.param.name; }

testsignal::CompositeRecipe recipe_of(const Tried& t) {
    auto recipe = video_recipe(t.system);
    recipe.duration_s = 0.4;
    recipe.sampling.rate_hz = static_cast<std::int64_t>(t.rate_hz);
    recipe.picture.kind = t.picture;
    recipe.disturbance.snr_db = t.snr_db;
    recipe.dropouts.level_mv = t.level_mv, recipe.dropouts.noise_mv = t.noise_mv;
    recipe.dropouts.length_us = t.length_us;
    return recipe;
}

class SignalLosses : public testing::TestWithParam<Tried> {};

// The claims: 0.95 found, 0.95 of those found true, ends right to a cell.
TEST_P(SignalLosses, AreFoundWhereTheyAre) {
    auto recipe = recipe_of(GetParam());
    recipe.dropouts.per_minute = 6000;
    int true_ones = 0, seen = 0, found = 0, alone = 0, alarms = 0;
    double start_squares = 0, end_squares = 0;
    for (recipe.seed = 1; recipe.seed <= 2; ++recipe.seed) {
        const std::vector<Piece> pieces = pieces_of(testsignal::CompositeMaker(recipe));
        const WaveformReport report = measured(recipe, 8);
        std::vector<Piece> events;
        for (const quantity::Event& event : report.events)
            if (event.start_us) events.push_back({1e6 * event.time_s, 1e6 * event.time_s + *event.length_us});
        const auto meets = [](const Piece& a, const Piece& b) {
            return a.begin < b.end + 0.5 && b.begin < a.end + 0.5;
        };
        for (const Piece& event : events) {
            ++alarms;
            true_ones += std::ranges::any_of(pieces, [&](const Piece& piece) { return meets(event, piece); });
        }
        for (const Piece& piece : pieces) {
            if (!piece.searched) continue;
            ++seen;
            const auto near = [&](const Piece& one) { return meets(one, piece); };
            const auto event = std::ranges::find_if(events, near);
            if (event == events.end()) continue;
            ++found;
            // Ends are those of one event and one piece, not of two that run into each other.
            if (std::ranges::count_if(events, near) > 1 ||
                std::ranges::count_if(pieces, [&](const Piece& one) { return meets(one, *event); }) > 1)
                continue;
            ++alone;
            start_squares += std::pow(event->begin - piece.begin, 2);
            end_squares += std::pow(event->end - piece.end, 2);
        }
        const auto* rate = report.figures.find("dropouts_per_minute");
        EXPECT_GT(*rate->number(), 0);
    }
    ASSERT_GT(seen, 30);
    EXPECT_GE(found, 0.95 * seen);
    EXPECT_GE(true_ones, 0.95 * alarms);
    const double cell_us = std::max(0.5, 8e6 / GetParam().rate_hz);
    EXPECT_LT(std::sqrt(start_squares / alone), cell_us);
    EXPECT_LT(std::sqrt(end_squares / alone), cell_us);
}

using enum testsignal::CompositePicture;
INSTANTIATE_TEST_SUITE_P(Kinds, SignalLosses,
                         testing::Values(Tried{"bright", "PAL", 16e6, Bars, 1100, 0, 10, 40},
                                         Tried{"dark", "PAL", 16e6, Bars, -250, 0, 10, 40},
                                         Tried{"noisy", "625/50", 16e6, Flat, 350, 100, 12, 36},
                                         Tried{"bright_noise", "NTSC", 13'500'000, Bars, 1100, 150, 20, 36},
                                         Tried{"slow_sampling", "PAL", 10e6, Bars, 1100, 50, 10, 36},
                                         Tried{"fast_sampling", "PAL", 28e6, Bars, -250, 100, 8, 46},
                                         Tried{"secam", "SECAM", 16e6, Bars, 1100, 100, 15, 40},
                                         Tried{"lines_405", "405/50", 16e6, Flat, 0, 0, 15, 40},
                                         Tried{"over_lines", "PAL", 16e6, Bars, 1100, 100, 100, 40}),
                         name_of);

class NoLosses : public testing::TestWithParam<Tried> {};

TEST_P(NoLosses, AreFoundWhereThereAreNone) {
    auto recipe = recipe_of(GetParam());
    recipe.picture.motion_px = 6;
    recipe.time_base.random_ns = 100;
    recipe.time_base.sine_ns = {1000};
    recipe.time_base.sine_hz = {20};
    recipe.time_base.head_switch_line = 6.3;
    recipe.time_base.head_switch_steps_us = {3, -2};
    recipe.time_base.stable_subcarrier = true;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_EQ(value(report, "dropouts_per_minute"), 0);
    EXPECT_TRUE(std::isnan(value(report, "dropout_length_median")));
    EXPECT_TRUE(
        std::ranges::none_of(report.events, [](const quantity::Event& event) { return event.start_us.has_value(); }));
}

INSTANTIATE_TEST_SUITE_P(Pictures, NoLosses,
                         testing::Values(Tried{"moving", "PAL", 16e6, Texture, 0, 0, 10, 40},
                                         Tried{"in_noise", "PAL", 16e6, Texture, 0, 0, 10, 26},
                                         Tried{"secam", "SECAM", 16e6, Texture, 0, 0, 10, 30},
                                         Tried{"lines_525", "NTSC", 13.5e6, Texture, 0, 0, 10, 30},
                                         Tried{"slow_sampling", "PAL", 10e6, Texture, 0, 0, 10, 36},
                                         Tried{"bars", "PAL", 16e6, Bars, 0, 0, 10, 26}),
                         name_of);

TEST(LostSync, IsAnEventOfItsOwn) {
    auto recipe = video_recipe("PAL");
    recipe.dropouts.at_s = {(499 * 64 - 1.0) * 1e-6, (1100 * 64 - 1.0) * 1e-6};
    recipe.dropouts.length_us = 8;
    recipe.dropouts.noise_mv = 10;
    const WaveformReport report = measured(recipe, 8);
    std::vector<double> times_ms;
    for (const quantity::Event& event : report.events)
        if (event.kind == "sync") times_ms.push_back(1e3 * event.time_s);
    EXPECT_THAT(times_ms, testing::ElementsAre(testing::DoubleNear(499 * 0.064, 0.002),
                                               testing::DoubleNear(1100 * 0.064, 0.002)));
    EXPECT_NEAR(value(report, "dropouts_per_minute"), 2 * 60 / 0.2, 10);
}

}  // namespace
}  // namespace guardband::measure
