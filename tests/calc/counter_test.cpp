#include "calc/counter.h"

#include <gmock/gmock.h>

#include <cmath>
#include <random>

#include "calc/pack.h"
#include "calc/wound_reel.h"
#include "quantity/errors.h"
#include "table/table.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;

constexpr double e_180_m = 258, hub_mm = 26, thickness_um = 19.5, speed_mm_s = 23.39;

CounterCurve take_up(double counts) {
    return counter_curve(CountedReel::TakeUp, counts, hub_mm, thickness_um, speed_mm_s);
}

CounterCurve supply(double counts) {
    return counter_curve(CountedReel::Supply, counts, pack_outer_mm(e_180_m, hub_mm, thickness_um), thickness_um,
                         speed_mm_s);
}

// Independent of the formula: a reel wound turn by turn. Whole turns agree to rounding; within a turn the pack grows,
// so the formula, which lets it grow evenly, may differ by a quarter of the growth of one turn: 1e-3 of a turn at most.
TEST(Counter, IsWhatWindingTurnByTurnMakes) {
    const support::WoundReel reel(e_180_m, hub_mm, thickness_um);
    for (const double counts : {0.5, 1.0, 2.75})
        for (double seconds = 1; seconds < 11000; seconds += 97) {
            const double reading = counter_reading(take_up(counts), seconds) / counts;
            EXPECT_NEAR(reading, reel.turns_at(seconds, speed_mm_s), 1e-3) << seconds;
            const double on_supply = counter_reading(supply(counts), seconds) / counts;
            EXPECT_NEAR(on_supply, reel.supply_turns_at(seconds, speed_mm_s, e_180_m), 2e-3) << seconds;
        }
}

TEST(Counter, AgreesWithTurnsOfAPack) {
    for (const double seconds : {10.0, 3600.0, 10800.0})
        EXPECT_NEAR(counter_reading(take_up(1), seconds),
                    turns_of_length(seconds * speed_mm_s / 1e3, hub_mm, thickness_um), 1e-9);
}

// Every grade of the table, geared at random, at random places: there and back.
TEST(Counter, InvertsOnEveryTapeOfTheTable) {
    static const table::Table table = table::load_table();
    std::mt19937 random(5);
    std::uniform_real_distribution<double> part(0, 1), gear(0.1, 8), hub(8, 114), speed(7, 400);
    int seen = 0;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Grade& grade : format.grades) {
            const table::Fact *length = grade.facts.known("length"), *thickness = grade.facts.known("thickness");
            if (length == nullptr || thickness == nullptr) continue;
            for (const CountedReel reel : {CountedReel::TakeUp, CountedReel::Supply}) {
                const double d = hub(random), v = speed(random), t = thickness->in("µm");
                const double start = reel == CountedReel::TakeUp ? d : pack_outer_mm(length->in("m"), d, t);
                const CounterCurve curve = counter_curve(reel, gear(random), start, t, v);
                const double end_s = length->in("m") * 1e3 / v, seconds = part(random) * end_s;
                EXPECT_NEAR(counter_time_s(curve, counter_reading(curve, seconds)), seconds, 1e-12 * end_s);
                EXPECT_GT(counter_reading(curve, seconds + 1), counter_reading(curve, seconds)) << "rises with time";
                EXPECT_NEAR(thickness_of_curve_um(curve, start, v), t, 1e-12 * t);
                ++seen;
            }
        }
    EXPECT_GT(seen, 160);
}

TEST(Counter, SlopeIsTheStepToTheNextCount) {
    for (const CounterCurve& curve : {take_up(1), supply(1)})
        for (const double reading : {0.0, 500.0, 1400.0})
            EXPECT_NEAR(seconds_per_count(curve, reading),
                        (counter_time_s(curve, reading + 1e-3) - counter_time_s(curve, reading)) / 1e-3, 1e-4);
}

TEST(Counter, TakesMoreTimeACountAsItFills) {
    EXPECT_GT(seconds_per_count(take_up(1), 1400), 3 * seconds_per_count(take_up(1), 0));
    EXPECT_LT(seconds_per_count(supply(1), 1400), seconds_per_count(supply(1), 0) / 2);
}

TEST(Counter, KeepsItsDigitsWhereTheCurveIsNearlyStraight) {
    const CounterCurve curve = take_up(1);
    EXPECT_NEAR(counter_reading(curve, 1e-6), 1e-6 / curve.start_s, 1e-15);
    EXPECT_DOUBLE_EQ(counter_reading({2, 0}, 3600), 1800) << "a counter of tape, not of turns";
    EXPECT_DOUBLE_EQ(counts_per_turn(take_up(2.5), hub_mm, speed_mm_s), 2.5);
}

TEST(Counter, RefusesWhatCannotBe) {
    EXPECT_THROW(counter_curve(CountedReel::TakeUp, 0, 26, 20, 23), DomainError);
    EXPECT_THROW(counter_curve(CountedReel::TakeUp, 1, 0, 20, 23), DomainError);
    EXPECT_THROW(counter_curve(CountedReel::TakeUp, 1, 26, 0, 23), DomainError);
    EXPECT_THROW(counter_curve(CountedReel::TakeUp, 1, 26, 20, 0), DomainError);
    EXPECT_THROW(counter_time_s(take_up(1), -1), DomainError);
    EXPECT_THROW(counter_reading(take_up(1), -1), DomainError);
    EXPECT_THROW(counter_time_s(supply(1), 1.01 * highest_reading(supply(1))), DomainError);
    EXPECT_THROW(counter_reading(supply(1), 1e6), DomainError);
    EXPECT_THROW(counter_reading(take_up(1), std::nan("")), DomainError);
}

}  // namespace
}  // namespace guardband::calc
