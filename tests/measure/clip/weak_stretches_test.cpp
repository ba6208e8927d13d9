// What edges weigh over stretches of lines in which all are little sure.
#include "measure/clip/weak_stretches.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "measure/clip/line_chain.h"

namespace guardband::measure {
namespace {

constexpr std::size_t lines = 288, first = 100, end = 160;
constexpr float sure = 50, little_sure = 0.7F;  // 10 and 90 ns

std::vector<LineEvidence> edges_with_stretch(std::size_t from, std::size_t to) {
    std::vector<LineEvidence> places(lines, {0, sure});
    for (std::size_t i = from; i < to; ++i) places[i].weight = little_sure;
    return places;
}

// Sixty edges that lie off by a sample together: the steps across them, of 0.1 samples each, are good to half of that.
TEST(WeakStretches, LeaveTheLinesToTheSteps) {
    std::mt19937 random(3);
    std::normal_distribution<float> step(0, 0.1F);
    double squares = 0, squares_before = 0;
    for (int field = 0; field < 50; ++field) {
        auto places = edges_with_stretch(first, end);
        for (std::size_t i = first; i < end; ++i) places[i].place_px = 1;
        std::vector<LineEvidence> steps(lines);
        for (LineEvidence& one : steps) one = {step(random), 100};
        const auto add = [&](double& sum) {
            PlacedLines found;
            LineChain().solve(places, steps, found);
            for (std::size_t i = first; i < end; ++i) sum += std::pow(static_cast<double>(found.place_px[i]), 2);
        };
        add(squares_before);
        WeakStretches().lessen(places);
        add(squares);
    }
    const double count = 50.0 * (end - first);
    EXPECT_GT(std::sqrt(squares_before / count), 0.6);
    EXPECT_LE(std::sqrt(squares / count), 0.4);
}

TEST(WeakStretches, LeaveOtherLinesAsTheyAre) {
    const auto changed = [](std::size_t from, std::size_t to) {
        const auto before = edges_with_stretch(from, to);
        auto places = before;
        WeakStretches().lessen(places);
        std::size_t count = 0;
        for (std::size_t i = 0; i < lines; ++i) count += places[i].weight != before[i].weight ? 1 : 0;
        return count;
    };
    EXPECT_GT(changed(first, end), 40U);
    EXPECT_LE(changed(first, end), end - first);
    EXPECT_EQ(changed(first, first + 6), 0U) << "too few";
    EXPECT_EQ(changed(lines - 10, lines), 0U) << "after the head switch";
    EXPECT_EQ(changed(0, lines), 0U) << "nothing else to go by";
}

TEST(WeakStretches, StandFewLines) {
    for (const std::size_t count : {0U, 1U, 24U, 25U}) {
        std::vector<LineEvidence> places(count, {0, little_sure});
        WeakStretches().lessen(places);
        EXPECT_EQ(places.size(), count);
    }
}

}  // namespace
}  // namespace guardband::measure
