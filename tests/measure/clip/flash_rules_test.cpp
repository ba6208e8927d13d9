// Rules by which a bright or dark piece of a line is believed to be lost, each by itself.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "measure/clip/dropout_clips.h"
#include "measure/clip/flash_evidence.h"
#include "measure/clip/like_map.h"
#include "measure/clip/likeness_search.h"

namespace guardband::measure {
namespace {

using namespace dropout_clips;

constexpr float a_loss = 5, a_near_miss = -4;

/// What is asked after so many fields, of which one in `every` has a piece so likely; 0: none.
float asked(int every, float log_odds, FlashPrior& prior) {
    float needed = 0;
    for (int field = 1; field <= 200; ++field) {
        if (every > 0 && field % every == 0) prior.add(log_odds);
        needed = prior.close_field();
    }
    return needed;
}

TEST(FlashPrior, AsksLessThanEvenWhereWhatFlashesIsLostAndMoreWhereItIsNot) {
    FlashPrior lossy, lively, quiet;
    EXPECT_LT(asked(2, a_loss, lossy), -1);
    EXPECT_GT(asked(2, a_near_miss, lively), 1);
    EXPECT_EQ(asked(0, 0, quiet), 0);
    for (int i = 0; i < 1000; ++i) lossy.add(a_loss);
    EXPECT_GE(lossy.close_field(), -3) << "however many there are";
}

// In a clip's last frame a loss is one more where they are usual, and never is where none has been seen.
TEST(FlashPrior, AsksMoreInTheLastFrameTheRarerLossesAre) {
    FlashPrior often, seldom, never;
    asked(5, a_loss, often), asked(50, a_loss, seldom), asked(0, 0, never);
    EXPECT_EQ(often.needed_in_last_frame(), 0);
    EXPECT_GT(seldom.needed_in_last_frame(), 1);
    EXPECT_GT(never.needed_in_last_frame(), 100);
}

/// A grey picture with bright things from a column to its right edge: rows of the frame.
media::Frame bright_to_the_edge(int left, const std::vector<int>& rows) {
    support::Planes planes;
    planes.luma.assign(std::size_t{width} * height, 400);
    for (const int y : rows)
        for (int x = left; x < width; ++x) sample(planes, x, y) = 800;
    return support::make_frame(support::luma_format(width, height), planes, 0);
}

/// Where the field of odd rows shows the like of a piece of row 40 that the picture's right edge cuts.
std::size_t likes_of_a_cut_piece(const std::vector<int>& rows_around) {
    constexpr int first = 600;
    const auto frame = bright_to_the_edge(first, {40}), other = bright_to_the_edge(first - 20, rows_around);
    LikenessSearch search;
    search.take(frame, {.y = 40, .first = first, .end = width, .height = 100}, 2);
    std::vector<LikePlace> places;
    search.find_in(other, 1, places);
    return places.size();
}

// A wide area that reaches the edge is as bright at any length: it is no like of a line; a line is one.
TEST(LikenessSearch, WhatThePictureCutsIsLikeThinThingsOnly) {
    std::vector<int> area(20);
    for (int i = 0; i < 20; ++i) area[static_cast<std::size_t>(i)] = 45 + i;
    EXPECT_EQ(likes_of_a_cut_piece(area), 0U);
    EXPECT_GT(likes_of_a_cut_piece({45}), 0U);
}

/// Whether a bright streak of row 40, samples 300 to 420, is told among what a picture shows: 10-bit codes by sample,
/// row and frame.
template <typename Picture>
bool is_told(const Picture& picture) {
    constexpr int row = 40, first = 300, end = 420, lost_frame = 5;
    testsignal::Random random(8);
    Recipe r = low_scene(40, 61);
    r.duration_s = 0.4;
    const Measured m = measured(r, [&](support::Planes& planes, std::int64_t frame) {
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < width; ++x) {
                const bool lost = frame == lost_frame && y == row && x >= first && x < end;
                sample(planes, x, y) = static_cast<std::uint16_t>(
                    std::lround((lost ? 960 : picture(x, y, frame == lost_frame)) + 8.8 * random.gaussian()));
            }
    });
    return std::ranges::any_of(m.events, [&](const Event& e) { return e.frame == lost_frame && e.line == row / 2; });
}

// The line of its field above is as bright, of an area that ends there; but that goes on beyond, and this doesn't.
TEST(Dropouts, AreFoundBesideAnOutlineThatGoesOn) {
    const auto area = [](int right) {
        return [=](int x, int y, bool) { return y < 39 && x > 200 && x < right ? 900 : 400; };
    };
    EXPECT_TRUE(is_told(area(700)));
}

// Around it much changes, in the mean as if a lamp had been lit; but no one factor takes that away.
TEST(Dropouts, AreFoundBesideWhatChangesButNotByLight) {
    EXPECT_TRUE(is_told([](int x, int y, bool changed) {
        if (y >= 40 || y < 26) return 64 + 520;
        return 64 + (!changed || y % 2 != 0 ? 300 : x / 32 % 2 != 0 ? 690 : 230);
    }));
}

// One question to the map is one to the list of places that it was filled with.
TEST(LikeMap, AnswersAsTheListOfPlaces) {
    std::mt19937 random(3);
    const auto within = [&](int most) {
        return static_cast<int>(random() % static_cast<unsigned>(2 * most + 1)) - most;
    };
    for (int set = 0; set < 50; ++set) {
        std::vector<LikePlace> places(random() % 30);
        for (auto& p : places) p = {within(LikenessSearch::reach_samples / 2) * 2, within(29)};
        LikeMap map;
        map.fill(places);
        for (int i = 0; i < 400; ++i) {
            const double left = 1.5 * within(200), right = left + 10 + within(10), top = 0.7 * within(60),
                         bottom = top + 4 + within(4);
            EXPECT_EQ(map.has_any(left, right, top, bottom), std::ranges::any_of(places,
                                                                                 [&](const LikePlace& p) {
                                                                                     return p.samples >= left &&
                                                                                            p.samples <= right &&
                                                                                            p.rows >= top &&
                                                                                            p.rows <= bottom;
                                                                                 }))
                << left << " to " << right << ", " << top << " to " << bottom;
        }
    }
}

}  // namespace
}  // namespace guardband::measure
