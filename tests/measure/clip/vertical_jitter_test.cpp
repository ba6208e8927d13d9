// Vertical jitter against clips whose fields were moved by known amounts.
#include "measure/clip/vertical_jitter.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <random>
#include <vector>

#include "support/built_in_table.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using testsignal::Recipe;

struct Measured {
    quantity::Figure figure = quantity::Figure::unknown("not there");
    double truth = 0;
};

Measured measured(const std::function<void(Recipe&)>& change) {
    Recipe r;
    r.duration_s = 1.6;
    r.noise.snr_db = 40;
    r.time_base.emplace();
    change(r);
    support::MadeClip clip(r);
    support::MadeContext made;
    made.info.picture = clip.format();
    VerticalJitter measurement(made.context);
    FeatureExtractor extractor(clip.format());
    while (const auto frame = clip.next()) measurement.see(*frame, extractor.extract(*frame));
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return {*figures.find("vertical_jitter_rms"), clip.truth().time_base->vertical_jitter_rms_lines};
}

TEST(VerticalJitter, FindsASteadyClipSteady) {
    const auto m = measured([](Recipe&) {});
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.04);
}

// Four seconds of independent fields: the RMS itself scatters by a fourteenth.
TEST(VerticalJitter, SeesWhatTheFieldsWereMovedBy) {
    for (const double rms_lines : {0.1, 0.4}) {
        const auto m = measured([rms_lines](Recipe& r) {
            r.duration_s = 4;
            r.time_base->vertical_rms_lines = rms_lines;
            r.picture.motion_px = 0.5;
        });
        ASSERT_TRUE(m.figure.is_known()) << rms_lines;
        EXPECT_NEAR(*m.figure.number(), m.truth, 0.06) << rms_lines;
        EXPECT_NEAR(*m.figure.number(), m.truth, 2 * *m.figure.uncertainty()) << rms_lines;
        EXPECT_LT(*m.figure.uncertainty(), 0.045) << rms_lines;
    }
}

// Things in front move at speeds of their own, up and down a little.
TEST(VerticalJitter, ThingsThatMoveOnTheirOwnAreNone) {
    const auto m = measured([](Recipe& r) { r.duration_s = 4, r.picture.motion_px = 2, r.seed = 4; });
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.08);
}

TEST(VerticalJitter, SteadyMovementDownIsNone) {
    const auto m = measured([](Recipe& r) { r.picture.motion_px = 0.6, r.picture.direction_deg = 70; });
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.06);
}

// Less than a second has no middle: the steady movement is that which fits best.
TEST(VerticalJitter, SteadyMovementOfAShortClipIsNone) {
    const auto m =
        measured([](Recipe& r) { r.duration_s = 0.8, r.picture.motion_px = 1.2, r.picture.direction_deg = 90; });
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.15);
}

/// Lines of letters on black that roll up by so many lines a frame.
void draw_titles(std::vector<std::uint16_t>& luma, std::int64_t index, int lines_per_frame, bool alike = false) {
    for (int y = 0; y < 576; ++y) {
        const int place = y + static_cast<int>(index) * lines_per_frame + lines_per_frame / 2 * (y % 2);
        std::mt19937 letters(alike ? 1 : static_cast<unsigned>(place / 48));
        unsigned bits = 0;
        for (int x = 0; x < 720; ++x) {
            if (x % 12 == 0) bits = static_cast<unsigned>(letters());
            luma[static_cast<std::size_t>(720 * y + x)] =
                place % 48 < 28 && (bits >> (place % 48 / 4)) % 2 == 1 ? 900 : 70;
        }
    }
}

constexpr std::ptrdiff_t jump_lines = 10;

struct Jumping {
    const char* what;
    int titles_lines;  ///< they roll by so many a frame; below 0 there are none
};

void PrintTo(const Jumping& j, std::ostream* out) { *out << j.what; }

class JumpsOf : public testing::TestWithParam<Jumping> {};

TEST_P(JumpsOf, AreTold) {
    Recipe r;
    r.duration_s = 1.2;
    r.noise.snr_db = 40;
    const auto events =
        support::measure_edited<VerticalJitter>(r, [&](std::vector<std::uint16_t>& luma, std::int64_t index) {
            if (GetParam().titles_lines >= 0) draw_titles(luma, index, GetParam().titles_lines);
            if (index >= 20) std::rotate(luma.begin(), luma.end() - jump_lines * 720, luma.end());
        }).events;
    ASSERT_EQ(events.size(), 1U);
    EXPECT_EQ(events[0].kind, "vertical jump");
    EXPECT_EQ(events[0].frame, 20);
    EXPECT_EQ(events[0].what, "the picture jumps down by 10 lines");
}

INSTANTIATE_TEST_SUITE_P(Content, JumpsOf,
                         testing::Values(Jumping{"a picture", -1}, Jumping{"titles", 0},
                                         Jumping{"titles that roll", 4}));

TEST(VerticalJitter, AJumpOfALowerFieldAloneIsTold) {
    Recipe r;
    r.duration_s = 1;
    r.noise.snr_db = 40;
    const auto move = [](std::vector<std::uint16_t>& luma, std::int64_t index) {
        if (index != 20) return;
        for (std::ptrdiff_t y = 575; y > jump_lines; y -= 2)
            std::copy_n(luma.begin() + (y - jump_lines) * 720, 720, luma.begin() + y * 720);
    };
    const auto events = support::measure_edited<VerticalJitter>(r, move).events;
    ASSERT_EQ(events.size(), 1U);
    EXPECT_EQ(events[0].kind, "vertical jump");
    EXPECT_EQ(events[0].frame, 20);
    EXPECT_THAT(events[0].what, testing::HasSubstr("by 10 lines"));
}

// Half of the picture stands, the other rolls and starts again ten lines lower.
TEST(VerticalJitter, AJumpOfAPartIsNone) {
    Recipe r;
    r.duration_s = 1.2;
    r.picture.still = true;
    r.noise.snr_db = 40;
    std::vector<std::uint16_t> part(std::size_t{720} * 576);
    const auto events =
        support::measure_edited<VerticalJitter>(r, [&](std::vector<std::uint16_t>& luma, std::int64_t index) {
            draw_titles(part, 0, 0);
            if (index >= 20) std::rotate(part.begin(), part.end() - jump_lines * 720, part.end());
            for (std::size_t y = 0; y < 576; ++y)
                std::copy_n(part.begin() + static_cast<std::ptrdiff_t>(720 * y + 200), 520,
                            luma.begin() + static_cast<std::ptrdiff_t>(720 * y + 200));
        }).events;
    EXPECT_TRUE(events.empty()) << events.front().what;
}

TEST(VerticalJitter, TitlesThatBeginToRollDoNotJump) {
    Recipe r;
    r.duration_s = 1.2;
    const auto events =
        support::measure_edited<VerticalJitter>(r, [](std::vector<std::uint16_t>& luma, std::int64_t index) {
            draw_titles(luma, std::max<std::int64_t>(0, index - 20), 6);
        }).events;
    EXPECT_TRUE(events.empty()) << events.front().what;
}

std::vector<quantity::Event> events_in(const Recipe& r) { return support::measure_made<VerticalJitter>(r).events; }

struct Roll {
    double lines_per_s, duration_s;
    int bar_lines;
    double snr_db, motion_px = 0.7;
};

void PrintTo(const Roll& r, std::ostream* out) { *out << r.lines_per_s << " lines/s, bar " << r.bar_lines; }

class Rolls : public testing::TestWithParam<Roll> {};

// From frame 15 on. Claim: one event, its ends within three fields of where they were.
TEST_P(Rolls, AreTold) {
    const Roll& roll = GetParam();
    Recipe r;
    r.duration_s = 0.6 + roll.duration_s + 0.4;
    r.noise.snr_db = roll.snr_db;
    r.picture.motion_px = roll.motion_px;
    r.vertical_roll = testsignal::VerticalRollSettings{roll.lines_per_s, roll.bar_lines, 0.6, roll.duration_s};
    const support::MeasuredFigures found = support::measure_made<VerticalJitter>(r);
    const auto& events = found.events;
    ASSERT_EQ(events.size(), 1U);
    EXPECT_EQ(events[0].kind, "vertical roll");
    // What rolls isn't jitter; the rest is shorter than a second here.
    EXPECT_FALSE(found["vertical_jitter_rms"].is_known());
    const double frames = 25 * roll.duration_s, unsure = 3;
    EXPECT_NEAR(static_cast<double>(*events[0].frame), 15, unsure);
    EXPECT_NEAR(static_cast<double>(*events[0].frame + *events[0].count), 15 + frames, unsure);
    EXPECT_NE(events[0].what.find(roll.lines_per_s > 0 ? " down" : " up"), std::string::npos) << events[0].what;
}

INSTANTIATE_TEST_SUITE_P(Table, Rolls,
                         testing::Values(Roll{250, 2, 0, 40}, Roll{-110, 2.8, 49, 40, 0.1}, Roll{900, 0.8, 49, 34},
                                         Roll{2000, 0.6, 49, 40}, Roll{-2600, 0.6, 0, 32}, Roll{6000, 0.4, 49, 40}));

// A camera that tilts, fast and slowly, brings in what wasn't there.
TEST(VerticalJitter, ATiltIsNoRoll) {
    for (const double motion_px : {2.5, 6.0, 20.0}) {
        Recipe r;
        r.duration_s = 1.6;
        r.noise.snr_db = 40;
        r.picture.motion_px = motion_px, r.picture.direction_deg = 90;
        r.picture.cuts_s = {0.7};
        for (const auto& event : events_in(r)) ADD_FAILURE() << motion_px << ": " << event.what;
    }
}

constexpr std::size_t finder_width = 8, finder_rows = 288;

/// Slopes without anything in common from place to place. @param rms  of each, 8-bit codes
std::vector<float> made_slopes(float rms) {
    std::vector<float> slopes(finder_width * finder_rows);
    std::mt19937 random(5);
    std::normal_distribution<float> normal(0, rms);
    for (float& slope : slopes) slope = normal(random);
    return slopes;
}

/// What is told of a picture that stood and then lies lower by so many rows, the lowest of them on top.
std::optional<RollFinder::Roll> rolled_by(std::size_t rows, const std::vector<float>& before) {
    std::vector<float> now = before;
    std::rotate(now.begin(), now.end() - static_cast<std::ptrdiff_t>(finder_width * rows), now.end());
    RollFinder finder(0);
    finder.see(before, before, finder_width, 0.0);
    return finder.see(now, before, finder_width, std::nullopt);
}

// What came round must be enough to be told from the rest of the picture.
TEST(RollFinder, AFewRowsThatCameRoundAreNoRoll) {
    const auto picture = made_slopes(20);
    EXPECT_FALSE(rolled_by(7, picture));
    const auto roll = rolled_by(40, picture);
    ASSERT_TRUE(roll);
    EXPECT_EQ(roll->rows, 40);
}

// However well it fits: a black or grey picture whose slopes are rounding and a converter's pattern, of a part of a
// code, may come round by itself. The finder adds up two slopes here, and asks 0.5 codes RMS of the sum.
TEST(RollFinder, APictureOfAPartOfACodeIsNoRoll) {
    EXPECT_FALSE(rolled_by(40, made_slopes(0.25F)));
    EXPECT_TRUE(rolled_by(40, made_slopes(0.5F)));
}

// Upper half full of detail, lower half flat, and the upper one comes to lie at the foot: as a roll the other way, half
// of the picture would come round, and nothing would be seen of the rest.
TEST(RollFinder, ACutToTheSameThingLowerDownIsNoRoll) {
    constexpr std::size_t rows = 240, width = 8;
    const auto picture = [](std::size_t detail_from, std::uint32_t noise_seed) {
        std::vector<float> slopes(rows * width);
        std::mt19937 detail(3), noise(noise_seed);
        std::normal_distribution<float> strong(0, 20), weak(0, 0.5F);
        for (float& slope : slopes) slope = weak(noise);
        for (std::size_t i = 0; i < rows * width / 2; ++i) slopes[detail_from * width + i] += strong(detail);
        return slopes;
    };
    for (const std::size_t lower : {80U, 115U, 120U}) {
        RollFinder finder(0);
        EXPECT_FALSE(finder.see(picture(lower, 1), picture(0, 2), width, std::nullopt)) << lower;
    }
}

// Lines of letters, all alike, crawl up: each fits where the others were.
TEST(VerticalJitter, ACrawlOfTitlesIsNoRoll) {
    Recipe r;
    r.duration_s = 1.6;
    const auto found = support::measure_edited<VerticalJitter>(
        r, [](std::vector<std::uint16_t>& luma, std::int64_t index) { draw_titles(luma, index, 10, true); });
    for (const auto& event : found.events) EXPECT_NE(event.kind, "vertical roll") << event.what;
}

TEST(VerticalJitter, NothingFromGrey) {
    support::MadeContext made;
    made.info.picture = support::luma_format();
    VerticalJitter measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    support::Planes grey;
    grey.luma.assign(std::size_t{720} * 576, 400);
    for (int i = 0; i < 12; ++i) {
        const auto frame = support::make_frame(made.info.picture, grey, i);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    EXPECT_FALSE(figures.find("vertical_jitter_rms")->is_known());
}

}  // namespace
}  // namespace guardband::measure
