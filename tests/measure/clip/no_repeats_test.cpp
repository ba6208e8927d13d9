// What `repeated_fields` must not take for repeats: clean clips, turns of a camera, fades, titles, flashes.
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>
#include <random>

#include "measure/clip/measured_repeats.h"

namespace guardband::measure {
namespace {

using support::MadeClip;
using support::Planes;
using testing::ElementsAre;
using testing::IsEmpty;
using testsignal::Recipe;

// A crowd before a camera that pans by 1.2 samples a field, read in whole samples: steps of 2 and 3 between fields of a
// parity, which change it by 1 to 1.8.
TEST(RepeatedFields, UnevenStepsOfEvenTextureAreNone) {
    const auto mixed = [](unsigned a, unsigned b) {
        return ((a * 2654435761U) ^ (b * 2246822519U)) * 3266489917U >> 9;
    };
    std::minstd_rand noise(3);
    const FoundRepeats found = measure(still({}, 1), [&](Planes& planes, int index) {
        for (int y = 0; y < 576; ++y)
            for (int x = 0; x < 720; ++x) {
                const auto place = static_cast<unsigned>(x + (2 * index + y % 2) * 6 / 5), cell = place / 4;
                const auto row = static_cast<unsigned>(y / 4);
                const unsigned a = mixed(cell, row) % 500, b = mixed(cell + 1, row) % 500;
                planes.luma[static_cast<std::size_t>(720 * y + x)] =
                    static_cast<std::uint16_t>(200 + (a * (4 - place % 4) + b * (place % 4)) / 4 + noise() % 60);
            }
    });
    EXPECT_THAT(found.fields(), IsEmpty());
}

class InventsNone : public testing::TestWithParam<std::optional<double>> {};

TEST_P(InventsNone, OnCleanClips) {
    for (const double motion_px : {0.02, 0.2, 1.0, 5.0})
        EXPECT_EQ(measure(panned(motion_px, GetParam())).count(), 0) << motion_px;
    EXPECT_LE(measure(still(GetParam())).count(), 0);  // without noise: no count
}

TEST_P(InventsNone, WhereMotionTurnsRound) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        for (const double sway_px : {2.0, 6.0, 20.0}) {
            Recipe recipe = panned(0, GetParam(), 2);
            recipe.scan = scan;
            recipe.picture.sway_px = sway_px,
            recipe.picture.sway_period_s = 0.8;  // turns five times, between frames and on them
            EXPECT_EQ(measure(recipe).count(), 0) << sway_px;
        }
}

// A crawl that makes a shorter step now and then, as one that is counted in whole samples does.
TEST_P(InventsNone, WhereMotionSlowsDown) {
    int place = 0;
    const Edit crawl = [&place](Planes& planes, int index) {
        place += index % 9 == 5 ? 1 : 8;
        for (std::size_t y = 440; y < 500; ++y)
            for (std::size_t x = 0; x < 720; ++x)
                planes.luma[y * 720 + x] = (x + static_cast<std::size_t>(place)) / 11 * (y / 12) % 3 == 0 ? 900 : 100;
    };
    EXPECT_LE(measure(still(GetParam()), crawl).count(), 0);
}

TEST_P(InventsNone, InFades) {
    const Edit fade = [](Planes& planes, int index) {
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::lround(64 + (code - 64) * (1 - index / 40.0)));
    };
    const Edit slow_fade = [](Planes& planes, int index) {
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::lround(64 + (code - 64) * (1 - index / 900.0)));
    };
    EXPECT_EQ(measure(panned(1, GetParam()), fade).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), fade).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), slow_fade).count(), 0);
}

TEST_P(InventsNone, OnTitlesCutsAndFlashes) {
    const Edit titles = [](Planes& planes, int index) {
        if (index / 6 % 2 == 1)
            for (std::size_t y = 400; y < 480; ++y)
                for (std::size_t x = 100; x < 600; ++x)
                    if (x / 7 * (y / 9) % 3 == 0) planes.luma[y * 720 + x] = 900;
    };
    const Edit flashes = [](Planes& planes, int index) {
        if (index % 10 == 7 || index % 10 == 8)
            for (auto& code : planes.luma) code = static_cast<std::uint16_t>(std::min(1019, code + 200));
    };
    EXPECT_EQ(measure(still(GetParam()), titles).count(), 0);
    EXPECT_EQ(measure(panned(1, GetParam()), titles).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), flashes).count(), 0);
    Recipe cuts = panned(1, GetParam());
    cuts.picture.cuts_s = {0.2, 0.4, 0.6, 0.8, 1.0};
    EXPECT_EQ(measure(cuts).count(), 0);
}

// A 50 Hz tube before a 30 Hz camera: its brightness comes back every third frame, and every third change is none.
TEST_P(InventsNone, BeforeAPictureTube) {
    Recipe recipe = still(GetParam());
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30, 1);
    recipe.screen = testsignal::ScreenSettings{};
    recipe.screen->rate_hz = 50, recipe.screen->depth = 0.2;
    recipe.camera.exposure_ms = 4;
    EXPECT_LE(measure(recipe).count(), 0);
}

// A small object that rests for a field while another goes on.
TEST_P(InventsNone, WhileSomethingElseMoves) {
    MadeClip resting(panned(2, GetParam())), going(panned(3, GetParam()));
    Planes kept;
    const Edit compose = [&](Planes& planes, int index) {
        auto a = *resting.next_planes();
        const auto b = *going.next_planes();
        if (index % 7 != 3) kept = a;
        for (std::size_t y = 100; y < 200; ++y)
            for (std::size_t x = 100; x < 300; ++x) {
                planes.luma[y * 720 + x] = kept.luma[y * 720 + x];
                planes.luma[(y + 200) * 720 + x] = b.luma[(y + 200) * 720 + x];
            }
    };
    EXPECT_EQ(measure(still(GetParam()), compose).count(), 0);
}

INSTANTIATE_TEST_SUITE_P(Noise, InventsNone, testing::Values(std::nullopt, std::optional(30.0)));

/// Even numbers from 0 to 1, the same at the same place.
double even_at(double column, double row) {
    const auto a = static_cast<std::uint32_t>(column), b = static_cast<std::uint32_t>(row);
    return (((a * 2654435761U) ^ (b * 2246822519U)) * 3266489917U >> 8) / 16777216.0;
}

/// Soft blots, five samples from one to the next, on areas of 60 samples of which some are full of contrast and others
/// nearly flat. Codes of 10 bits.
double blots(double x, double y) {
    const double i = std::floor(x / 5), j = std::floor(y / 5), u = x / 5 - i, v = y / 5 - j;
    const double blot = (1 - v) * ((1 - u) * even_at(i, j) + u * even_at(i + 1, j)) +
                        v * ((1 - u) * even_at(i, j + 1) + u * even_at(i + 1, j + 1));
    return 250 + 500 * std::pow(even_at(std::floor(x / 60), 1000 + std::floor(y / 60)), 3) * blot;
}

/// What a field shows of the blots: by how far they lie to the left and above, samples, and how bright they are.
struct View {
    double right, down = 0, light = 1;
};

/// Where the blots are, samples and frame rows; the rest of the picture rests.
struct Pane {
    int left, top, right, bottom;
};

constexpr Pane all{0, 0, 360, 288};

/// Blots seen through a pane, under noise. @param view_of  by field in time
FoundRepeats seen_blots(double snr_db, int frames, const std::function<View(int field)>& view_of,
                        const Pane& pane = all) {
    Recipe recipe = still(snr_db, frames / 25.0);
    recipe.raster.width = std::max(all.right, pane.right), recipe.raster.height = std::max(all.bottom, pane.bottom);
    std::mt19937 random(7);
    std::normal_distribution<double> noise(0, 876 * std::pow(10, -snr_db / 20));
    return measure(recipe, [&](Planes& planes, int index) {
        for (int y = pane.top; y < pane.bottom; ++y) {
            const View view = view_of(2 * index + y % 2);
            for (int x = pane.left; x < pane.right; ++x)
                planes.luma[static_cast<std::size_t>(y * recipe.raster.width + x)] = static_cast<std::uint16_t>(
                    std::lround(64 + view.light * (blots(x + view.right, y + view.down) - 64) + noise(random)));
        }
    });
}

// A camera that is shaken by dozens of lines comes back to the same height after two fields, half a sample aside. From
// its large steps no one can tell that it slowed down: all is as different as it can be.
TEST(RepeatedFields, AShakingCameraThatTurnsRoundRepeatsNothing) {
    const auto shake = [](int field) {
        return View{100 + field / 4.0, 100 + 30 * std::sin(field * std::numbers::pi / 4)};
    };
    EXPECT_EQ(seen_blots(48, 15, shake, {0, 0, 720, 576}).count(), 0);
}

/// A camera that sways over blots. @param moment_of  which a field shows, in fields
FoundRepeats swayed(int frames, const std::function<double(int field)>& moment_of) {
    // Turns round every eleventh field, on a field: the one after it shows what the one before it showed.
    return seen_blots(40, frames,
                      [&](int field) { return View{300 + 60 * std::cos(moment_of(field) * std::numbers::pi / 11)}; });
}

// From steps in which all of the picture changes no one can tell that it slowed down, but it goes back from there.
TEST(RepeatedFields, AHandThatTurnsRoundRepeatsNothing) {
    EXPECT_THAT(swayed(24, [](int field) { return field; }).fields(), IsEmpty());
    // Between the turns, which stand at 22, 33 and 44, a repeat is one.
    EXPECT_THAT(swayed(24, [](int field) { return field == 28 ? 26 : field; }).fields(), ElementsAre(28));
}

// A meter that is drawn anew from time to time, now in the lines of one field, now in those of the other: a frame that
// is held rests in both for the same time.
TEST(RepeatedFields, WhatRestsInTheTwoFieldsForUnlikeTimesIsNone) {
    const auto meter = [](int frames_of_rest_above) {
        const auto held = [frames_of_rest_above](int field) {
            const int index = field / 2, longer = field % 2 == 1 ? 0 : frames_of_rest_above / 2;
            return View{3.0 * (std::min(index, 9 - longer) + std::max(0, index - 10 - longer))};
        };
        return seen_blots(40, 20, held, {100, 100, 260, 200});
    };
    EXPECT_EQ(meter(1).count(), 2);
    EXPECT_EQ(meter(3).count(), 0);
}

// A meter whose end goes to and fro shows the same twice in a field now and then.
TEST(RepeatedFields, AMeterThatShowsTheSameTwiceRepeatsNothing) {
    for (const unsigned seed : {1U, 2U, 3U}) {
        std::mt19937 random(seed);
        std::vector<double> ends;
        for (int field = 0; field < 50; ++field)
            ends.push_back(field % 17 == 16 ? ends[ends.size() - 2] : 1000.0 * static_cast<double>(random() % 100));
        const auto end = [&ends](int field) { return View{ends[static_cast<std::size_t>(field)]}; };
        EXPECT_THAT(seen_blots(40, 25, end, {64, 64, 112, 112}).fields(), IsEmpty()) << seed;
    }
}

/// A camera that moves on by a sample a field, and by less from field to field for two fields.
FoundRepeats hesitating(double samples_then) {
    return seen_blots(32, 20, [samples_then](int field) {
        const int slow = std::clamp(field - 20, 0, 2);
        return View{100 + (field - slow) + samples_then * slow};
    });
}

// Where noise hides what is left of the change, the picture as a whole still tells that it moves on.
TEST(RepeatedFields, AHandThatSlowsDownRepeatsNothing) {
    for (const double samples : {0.3, 0.45}) EXPECT_THAT(hesitating(samples).fields(), IsEmpty()) << samples;
}

// Film is laid on fields wherever the camera looks: of five fields the fourth shows what the second showed.
TEST(RepeatedFields, APullDownHasItsRepeatsWhereTheCameraTurns) {
    const FoundRepeats found = swayed(36, [](int field) {
        constexpr int picture[] = {0, 0, 1, 1, 1};
        const int before = 2 * (field / 5);
        return 2.75 * (before + picture[field % 5]);
    });
    EXPECT_EQ(found.count(), 14);
}

}  // namespace
}  // namespace guardband::measure
