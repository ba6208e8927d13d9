// One step among lines that step by themselves, against drawn truth. How well it can be known follows from the draw.
#include "measure/clip/lone_steps.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <random>
#include <vector>

namespace guardband::measure {
namespace {

constexpr std::size_t lines = 280, at = 273, first = 70, end = 256;

struct Result {
    double bias = 0, scatter = 0, stated = 0;
};

/// The steps of both fields as drawn, many times, with a step of the first added; as what is found of that.
Result found_over_draws(const std::function<std::vector<double>(std::mt19937&)>& places, double step) {
    std::mt19937 random(21);
    constexpr int draws = 300;
    double sum = 0, squares = 0, stated = 0;
    for (int draw = 0; draw < draws; ++draw) {
        std::array<std::vector<double>, 2> steps;
        for (auto& field : steps) {
            const std::vector<double> place = places(random);
            field.assign(lines, std::numeric_limits<double>::quiet_NaN());
            for (std::size_t i = 1; i < lines; ++i) field[i] = place[i] - place[i - 1];
        }
        steps[0][at] += step;
        const auto found = lone_steps({steps[0], steps[1]}, at, first, end);
        if (!found) return {std::numeric_limits<double>::quiet_NaN(), 0, 0};
        const double error = (*found)[0].value - step;
        sum += error, squares += error * error, stated += (*found)[0].error * (*found)[0].error;
    }
    return {sum / draws, std::sqrt(squares / draws), std::sqrt(stated / draws)};
}

std::vector<double> jittering(std::mt19937& random) {
    std::normal_distribution<double> normal;
    std::vector<double> out(lines);
    for (double& place : out) place = normal(random);
    return out;
}

/// Places whose steps drift, as along outlines that bend slowly: second-order, with a memory of some three lines.
std::vector<double> slanting(std::mt19937& random) {
    std::normal_distribution<double> normal;
    std::vector<double> out(lines);
    double step = 0;
    for (std::size_t i = 1; i < lines; ++i) {
        step = 0.7 * step + normal(random);
        out[i] = out[i - 1] + step;
    }
    return out;
}

// Lines that jitter by themselves by 1: seven lines after and ten before give a step within √(1/7 + 1/10) at best.
TEST(LoneSteps, IsTheMeanAfterLessTheMeanBeforeWhereLinesJitter) {
    const double best = std::sqrt(1.0 / 7 + 1.0 / 10);
    const Result r = found_over_draws(jittering, 20);
    EXPECT_NEAR(r.bias, 0, 0.1);
    EXPECT_LE(r.scatter, 1.5 * best);
    EXPECT_GE(r.scatter, 0.9 * best);
    EXPECT_NEAR(r.stated / r.scatter, 1.3, 0.3);  // with the margin for what isn't alike everywhere
}

// Steps that go on with 0.7 of the last one's: from both neighbours one is known within 1 / √(1 + 0.7²).
TEST(LoneSteps, IsWhatTheNeighboursDoNotExplainWhereOutlinesSlant) {
    const double best = 1 / std::sqrt(1 + 0.7 * 0.7);
    const Result r = found_over_draws(slanting, -15);
    EXPECT_NEAR(r.bias, 0, 0.2);
    EXPECT_LE(r.scatter, 1.15 * best);
    EXPECT_NEAR(r.stated / r.scatter, 1.3, 0.3);
}

// Rows of a frame, each of which slants by 1 otherwise, by turns of both fields: a step of two rows, scatter √2, has
// one row in common with the other field's step before it and one with that after.
TEST(LoneSteps, LooksAtTheLinesOfTheOtherFieldBetween) {
    std::mt19937 random(4);
    std::normal_distribution<double> normal;
    const std::array truth{12.0, -9.0};
    double squares = 0;
    constexpr int draws = 200;
    for (int draw = 0; draw < draws; ++draw) {
        std::vector<double> row(2 * lines), upper(lines, std::nan("")), lower = upper;
        for (std::size_t y = 1; y < row.size(); ++y) row[y] = row[y - 1] + normal(random);
        for (std::size_t y = 2 * at; y < row.size(); ++y) row[y] += truth[y % 2];
        for (std::size_t i = 1; i < lines; ++i)
            upper[i] = row[2 * i] - row[2 * i - 2], lower[i] = row[2 * i + 1] - row[2 * i - 1];
        const auto found = lone_steps({upper, lower}, at, first, end);
        ASSERT_TRUE(found);
        for (std::size_t field = 0; field < 2; ++field) squares += std::pow((*found)[field].value - truth[field], 2);
    }
    EXPECT_LE(std::sqrt(squares / (2 * draws)), 1.25);
}

TEST(LoneSteps, TellsNothingFromTooLittle) {
    const std::vector<double> unknown(lines, std::nan("")), still(lines, 0.0);
    for (const auto& steps : {unknown, still}) {
        EXPECT_FALSE(lone_steps({steps, steps}, at, first, end));
    }
    std::mt19937 random(1);
    std::vector<double> one = jittering(random), other = jittering(random);
    one[at] = std::nan("");
    EXPECT_FALSE(lone_steps({one, other}, at, first, end));
    EXPECT_FALSE(lone_steps({other, other}, 3, 1, 30));
}

}  // namespace
}  // namespace guardband::measure
