// Edges of lines against the steps from line to line, with false ones among either, as `PictureEdges` and `RowShifts`
// give them, made here.
#include "measure/clip/edge_consensus.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace guardband::measure {
namespace {

constexpr std::size_t lines = 240;
constexpr float no_pair = std::numeric_limits<float>::quiet_NaN();
constexpr LineEvidence unknown{0, 1.0F / 16};

/// A field whose edges and steps are right, each with an error of a tenth of a sample.
struct Field {
    explicit Field(unsigned seed, float jitter_px = 13)
        : truth(lines), pairs(lines, no_pair), others(lines), places(lines), steps(lines, unknown) {
        std::mt19937 random(seed);
        std::normal_distribution<float> jitter(0, jitter_px), error(0, 0.1F);
        for (std::size_t i = 0; i < lines; ++i) {
            truth[i] = jitter(random);
            places[i] = {truth[i] + error(random), 50};
            if (i > 0) steps[i] = {truth[i] - truth[i - 1] + error(random), 50};
        }
    }

    void settle() { EdgeConsensus().settle(pairs, others, places, steps, unknown); }

    std::size_t left_out() const {
        std::size_t count = 0;
        for (const LineEvidence& one : places) count += one.weight > 0 ? 0 : 1;
        return count;
    }

    std::vector<float> truth, pairs;
    std::vector<LineEvidence> others, places, steps;
};

TEST(EdgeConsensus, LeavesOutWhatStandsBehindSomethingBlack) {
    for (unsigned seed = 0; seed < 20; ++seed) {
        Field field(seed);
        const auto is_false = [](std::size_t i) { return i >= 90 && i < 160 && i % 9 != 0; };
        for (std::size_t i = 0; i < lines; ++i)
            if (is_false(i)) field.places[i].place_px += 170 - 0.2F * static_cast<float>(i);
        field.settle();
        for (std::size_t i = 0; i < lines; ++i)
            EXPECT_EQ(field.places[i].weight > 0, !is_false(i)) << "line " << i << ", seed " << seed;
        EXPECT_FLOAT_EQ(field.steps[120].weight, 50);
    }
}

TEST(EdgeConsensus, ForgetsAStepThatTheEdgesContradict) {
    for (unsigned seed = 0; seed < 20; ++seed) {
        Field field(seed, 1);
        field.steps[120].place_px += 22;
        field.settle();
        EXPECT_EQ(field.left_out(), 0U) << "seed " << seed;
        for (std::size_t i = 1; i < lines; ++i)
            EXPECT_FLOAT_EQ(field.steps[i].weight, i == 120 ? unknown.weight : 50) << "line " << i << ", seed " << seed;
    }
}

// Near the head switch a few false lines alone would pass for a jump.
TEST(EdgeConsensus, TakesTheOtherEdgeWhereItFits) {
    Field field(11, 1);
    for (std::size_t i = lines - 24; i < lines - 17; ++i) {
        field.others[i] = field.places[i];
        field.places[i].place_px += 170;
    }
    field.settle();
    EXPECT_EQ(field.left_out(), 0U);
    for (std::size_t i = 0; i < lines; ++i) EXPECT_NEAR(field.places[i].place_px, field.truth[i], 1) << "line " << i;
}

// Where lines jump as far as the step is false, one beside it may be taken for what is.
TEST(EdgeConsensus, AFalseStepCostsOneLineAtMost) {
    for (unsigned seed = 0; seed < 20; ++seed) {
        Field field(seed);
        field.steps[120].place_px += 22;
        field.settle();
        EXPECT_LE(field.left_out(), 1U) << "seed " << seed;
        for (std::size_t i = 1; i < lines; ++i) {
            const bool is_near = i >= 119 && i <= 121;
            EXPECT_TRUE(is_near || field.steps[i].weight > 49) << "line " << i << ", seed " << seed;
        }
    }
}

TEST(EdgeConsensus, AFewLinesThatShowBothEdgesOutweighMoreThatShowOne) {
    Field field(7);
    for (std::size_t i = 40; i < 60; ++i) {
        if (i % 3 == 0)
            field.pairs[i] = field.places[i].place_px;
        else
            field.places[i].place_px += 60;
    }
    field.settle();
    for (std::size_t i = 0; i < lines; ++i)
        EXPECT_EQ(field.places[i].weight > 0, i < 40 || i >= 60 || i % 3 == 0) << "line " << i;
}

// A bend at the top or a head switch makes lines jump, and the picture may be laid wrongly there.
TEST(EdgeConsensus, LetsLinesJumpAtTopAndAfterTheHeadSwitch) {
    Field field(3);
    for (std::size_t i = 0; i < 8; ++i) field.places[i].place_px += 200;
    for (std::size_t i = lines - 6; i < lines; ++i) field.places[i].place_px -= 67;
    field.settle();
    EXPECT_EQ(field.left_out(), 0U);
    EXPECT_FLOAT_EQ(field.steps[8].weight, unknown.weight);
    EXPECT_FLOAT_EQ(field.steps[lines - 6].weight, unknown.weight);
}

TEST(EdgeConsensus, StepsThatAreNotKnownContradictNothing) {
    Field field(5);
    for (std::size_t i = 90; i < lines; ++i) field.places[i].place_px += 170;
    field.steps[90] = unknown;
    field.settle();
    EXPECT_EQ(field.left_out(), 0U);
}

TEST(EdgeConsensus, StandsFieldsOfFewEdges) {
    for (const std::size_t count : {std::size_t{0}, std::size_t{1}, std::size_t{2}}) {
        std::vector<LineEvidence> others(count), places(count), steps(count, LineEvidence{0, 50});
        const std::vector<float> pairs(count, no_pair);
        for (std::size_t i = 0; i < count; ++i) places[i] = {50 * static_cast<float>(i), 50};
        EdgeConsensus().settle(pairs, others, places, steps, unknown);
        for (std::size_t i = 0; i < count; ++i) EXPECT_TRUE(std::isfinite(places[i].place_px));
        std::vector<LineEvidence> none(count);
        EdgeConsensus().settle(pairs, others, none, steps, unknown);
    }
}

}  // namespace
}  // namespace guardband::measure
