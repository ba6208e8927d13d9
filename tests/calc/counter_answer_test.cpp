#include "calc/counter_answer.h"

#include <gmock/gmock.h>

#include <cmath>
#include <random>

#include "calc/pack.h"
#include "calc/wound_reel.h"
#include "quantity/errors.h"
#include "support/table_questions.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using support::built_in;
using testing::AllOf;
using testing::HasSubstr;
using enum PackSize;

CounterQuery e_180() {
    CounterQuery query;
    query.format = &built_in().format("vhs", "test");
    query.grade = "E-180";
    return query;
}

CounterQuery asked(double reading) {
    CounterQuery query = e_180();
    query.reading = Input{reading, 0.5};
    return query;
}

std::string fault_of(const CounterQuery& query) {
    return support::fault_of([&] { answer_of(built_in(), query); });
}

TEST(CounterAnswer, TurnsWithoutPairs) {
    const CounterAnswer answer = answer_of(built_in(), asked(1000));
    EXPECT_NEAR(answer.answer->seconds, turns_length_m(1000, 26, 19.5) * 1e3 / 23.39, 1e-6);
    EXPECT_TRUE(answer.ratio_is_assumed);
    EXPECT_TRUE(answer.mode_is_assumed);
    EXPECT_EQ(answer.mode->system, "625/50") << "whose minutes the label counts";
    CounterQuery geared = asked(2000);
    geared.counts_per_turn = 2;
    EXPECT_NEAR(answer_of(built_in(), geared).answer->seconds, answer.answer->seconds, 1e-6);
}

// The stated uncertainty against drawing hub, thickness, speed and the reading's rounding at random.
TEST(CounterAnswer, UncertaintyWithoutPairsIsThatOfRandomReels) {
    const CounterPoint point = *answer_of(built_in(), asked(1000)).answer;
    std::mt19937 random(3);
    std::uniform_real_distribution<double> within(-1, 1);
    double sum = 0, squares = 0;
    constexpr int draws = 20000;
    for (int i = 0; i < draws; ++i) {
        const double hub = 26 + 0.5 * within(random), thickness = 19.5 + 0.5 * within(random),
                     speed = 23.39 * (1 + 0.005 * within(random)), turns = 1000 + 0.5 * within(random);
        const double seconds = turns_length_m(turns, hub, thickness) * 1e3 / speed;
        sum += seconds, squares += seconds * seconds;
    }
    const double deviation = std::sqrt(squares / draws - (sum / draws) * (sum / draws));
    EXPECT_NEAR(point.seconds_uncertainty, deviation, 0.03 * deviation);
}

TEST(CounterAnswer, ReadingAndTimeInvertEachOther) {
    for (const CountedReel reel : {CountedReel::TakeUp, CountedReel::Supply})
        for (const double reading : {1.0, 333.0, 1400.0}) {
            CounterQuery there = asked(reading), back = e_180();
            there.reel = back.reel = reel;
            there.pairs = back.pairs = {{700, 0.5, reel == CountedReel::TakeUp ? 3700.0 : 6900.0, 0.5}};
            back.time_s = Input{answer_of(built_in(), there).answer->seconds, 0};
            EXPECT_NEAR(answer_of(built_in(), back).answer->reading, reading, 1e-9);
        }
}

TEST(CounterAnswer, OnePairTellsTheGears) {
    const support::WoundReel reel(262, 26, 19.5);
    CounterQuery query = asked(1.37 * reel.turns_at(9000, 23.39));
    query.pairs = {{1.37 * reel.turns_at(3000, 23.39), 0.5, 3000, 0.5}};
    const CounterAnswer answer = answer_of(built_in(), query);
    EXPECT_NEAR(*answer.counts_per_turn, 1.37, 1e-4);
    EXPECT_NEAR(answer.answer->seconds, 9000, 0.1);
    EXPECT_NEAR(*answer.fitted_thickness_um, 19.5, 1e-9) << "that of the table, which one pair can't mend";
}

TEST(CounterAnswer, SupplyReelRunsFasterTowardsTheEnd) {
    const support::WoundReel reel(258, 26, 19.5);
    CounterQuery query = e_180();
    query.reel = CountedReel::Supply;
    query.time_s = Input{9000, 0};
    EXPECT_NEAR(answer_of(built_in(), query).answer->reading, reel.supply_turns_at(9000, 23.39, 258), 0.01);
}

TEST(CounterAnswer, NeedsNoTableWithTwoPairs) {
    CounterQuery query;
    query.pairs = {{500, 0.5, 2410, 0.5}, {1200, 0.5, 7860, 0.5}};
    query.time_s = Input{3600, 0.5};
    const CounterAnswer answer = answer_of(built_in(), query);
    EXPECT_GT(answer.answer->reading, 500);
    EXPECT_LT(answer.answer->reading, 1200);
    EXPECT_FALSE(answer.end);
    EXPECT_FALSE(answer.counts_per_turn);
}

TEST(CounterAnswer, TellsWhatADoubtfulPairDoes) {
    CounterQuery query = asked(1300);
    const support::WoundReel reel(262, 26, 19.5);
    for (int i = 1; i <= 8; ++i)
        query.pairs.push_back({std::round(reel.turns_at(1200 * i, 23.39)), 0.5, 1200.0 * i, 0.5});
    query.pairs[5].time_s += 120;
    const CounterAnswer answer = answer_of(built_in(), query);
    ASSERT_TRUE(answer.fit.doubtful);
    EXPECT_EQ(answer.fit.doubtful->index, 5U);
    EXPECT_NEAR(answer.fit.doubtful->off_s, 120, 10);
    const double truth = turns_length_m(1300, 26, 19.5) * 1e3 / 23.39;
    ASSERT_TRUE(answer.answer_without_doubtful);
    EXPECT_LT(std::abs(*answer.answer_without_doubtful - truth), 5);
    EXPECT_GT(std::abs(answer.answer->seconds - truth), std::abs(*answer.answer_without_doubtful - truth))
        << "it still counts";
    EXPECT_GT(answer.fit.widening, 5);
}

TEST(CounterAnswer, CardHasRoundStepsThatRise) {
    const CounterQuery query = e_180();
    const CounterAnswer answer = answer_of(built_in(), query);
    const CounterCard card = card_of(answer, query, 40);
    ASSERT_GT(card.by_reading.size(), 20U);
    ASSERT_LE(card.by_reading.size(), 40U);
    ASSERT_LE(card.by_time.size(), 40U);
    EXPECT_DOUBLE_EQ(card.by_reading[0].reading, 50);
    EXPECT_DOUBLE_EQ(card.by_time[0].seconds, 300);
    for (std::size_t i = 1; i < card.by_reading.size(); ++i)
        EXPECT_GT(card.by_reading[i].seconds, card.by_reading[i - 1].seconds);
    for (const CounterPoint& point : card.by_time)
        EXPECT_NEAR(counter_time_s(answer.fit.curve, point.reading), point.seconds, 1e-6);
    EXPECT_LE(card.by_time.back().seconds, answer.end->seconds);
}

// Every grade of the table, in its own or any mode: with hub and thickness given each has a card whose last row is on
// the tape; without, each answers or says what it lacks.
TEST(CounterAnswer, WorksForEveryGrade) {
    int cards = 0;
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Grade& grade : format.grades) {
            CounterQuery query;
            query.format = &format, query.grade = grade.id;
            const std::string fault = fault_of(query);
            if (fault != "none") {
                EXPECT_THAT(fault,
                            AllOf(HasSubstr("counter: without a --calibrate pair it takes the"), HasSubstr("--")));
            }
            query.mode = &format.modes.front();
            if (!format.fact_in(*query.mode, "tape_speed") || !grade.facts.known("length")) continue;
            query.given[Hub] = Input{20, 0.5}, query.given[Thickness] = Input{15, 0.5};
            for (const CountedReel reel : {CountedReel::TakeUp, CountedReel::Supply}) {
                query.reel = reel;
                const CounterAnswer answer = answer_of(built_in(), query);
                const CounterCard card = card_of(answer, query, 40);
                EXPECT_FALSE(card.by_time.empty()) << format.id << " " << grade.id;
                EXPECT_LE(card.by_reading.size(), 40U);
                ++cards;
            }
        }
    EXPECT_GT(cards, 150);
}

TEST(CounterAnswer, SaysWhatIsWrong) {
    EXPECT_THAT(fault_of(asked(-1)), HasSubstr("--reading −1: a counter that starts from 0"));
    EXPECT_THAT(fault_of(asked(3000)),
                AllOf(HasSubstr("--reading 3000: beyond the end of the tape, 3:03:50 at a reading of 1491"),
                      HasSubstr("--ratio")));
    CounterQuery late = e_180();
    late.time_s = Input{5 * 3600.0, 0.5};
    EXPECT_THAT(fault_of(late), HasSubstr("--time 5:00:00: beyond the end of the tape"));
    CounterQuery supply = asked(3000);
    supply.reel = CountedReel::Supply;
    EXPECT_THAT(fault_of(supply), HasSubstr("nothing would be left on the supply reel"));
    CounterQuery beta;
    beta.format = &built_in().format("beta", "test"), beta.grade = "L-500";
    beta.pairs = {{500, 0.5, 2400, 0.5}};
    EXPECT_THAT(fault_of(beta), AllOf(HasSubstr("with one --calibrate pair it takes"), HasSubstr("--hub, mm"),
                                      HasSubstr("a second pair")));
    CounterQuery no_hub = e_180();
    no_hub.given[Hub] = Input{-3, 0.5};
    EXPECT_THAT(fault_of(no_hub), HasSubstr("--hub: the diameter of the bare hub must be above 0"));
    EXPECT_THAT(fault_of({}), HasSubstr("the mode (--address) and the diameter of the bare hub"));
}

TEST(CounterAnswer, Explains) {
    CounterQuery query = asked(1000);
    query.pairs = {{500, 0.5, 2410, 0.5}};
    const Working working = answer_of(built_in(), query).working;
    ASSERT_EQ(working.size(), 3U);
    EXPECT_EQ(working[0].numbers, "0.0195 × 23.39 / (π × 26²)");
    EXPECT_NE(working[0].givens.at(0).fact, nullptr);
    EXPECT_THAT(working[1].numbers, HasSubstr("1 pair and the known q"));
    EXPECT_EQ(working[2].formula, "T = x + q x², x = a N");
}

}  // namespace
}  // namespace guardband::calc
