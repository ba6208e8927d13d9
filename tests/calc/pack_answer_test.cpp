#include "calc/pack_answer.h"

#include <gmock/gmock.h>

#include <cmath>
#include <random>

#include "calc/pack.h"
#include "quantity/errors.h"
#include "support/table_questions.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using support::built_in;
using testing::AllOf;
using testing::HasSubstr;
using enum PackSize;

PackQuery vhs(const std::string& grade) {
    PackQuery query;
    query.format = &built_in().format("vhs", "test");
    query.grade = grade;
    return query;
}

PackQuery of_sizes(std::initializer_list<std::pair<PackSize, Input>> given) {
    PackQuery query;
    for (const auto& [size, input] : given) query.given[size] = input;
    return query;
}

const table::Mode* mode(const char* address) { return built_in().at(address, "test").second; }

std::string fault_of(const PackQuery& query) {
    return support::fault_of([&] { answer_of(built_in(), query); });
}

TEST(PackAnswer, FindsTheFourthFromAnyThree) {
    const double outer = pack_outer_mm(258, 26, 19.5);
    const PerSize<double> whole = [&] {
        PerSize<double> sizes;
        sizes[Length] = 258, sizes[Outer] = outer, sizes[Hub] = 26, sizes[Thickness] = 19.5;
        return sizes;
    }();
    for (const PackSize found : all_pack_sizes) {
        PackQuery query;
        for (const PackSize size : all_pack_sizes)
            if (size != found) query.given[size] = Input{whole[size], 0};
        const PackAnswer answer = answer_of(built_in(), query);
        EXPECT_EQ(answer.pack.found, found);
        for (const PackSize size : all_pack_sizes)
            EXPECT_NEAR(answer.sizes[size].value, whole[size], 1e-12 * whole[size]) << name_of(size);
        EXPECT_NEAR(answer.turns.value, pack_turns(outer, 26, 19.5), 1e-9);
    }
}

TEST(PackAnswer, TakesTheRestFromTheTable) {
    PackQuery query = vhs("e-180");
    EXPECT_EQ(answer_of(built_in(), query).pack.found, Outer);
    query.given[Outer] = Input{60, 0.05};
    EXPECT_EQ(answer_of(built_in(), query).pack.found, Length);
    query.given[Length] = Input{118, 0.5};
    const PackAnswer measured = answer_of(built_in(), query);
    EXPECT_EQ(measured.pack.found, Thickness);
    EXPECT_NEAR(measured.sizes[Thickness].value, pack_thickness_um(60, 26, 118), 1e-12);
    ASSERT_NE(measured.pack.expected, nullptr) << "what the table says, to compare";
    EXPECT_EQ(measured.pack.expected->key, "thickness");
    query.given[Thickness] = Input{19.5, 0};
    EXPECT_EQ(answer_of(built_in(), query).pack.found, Hub);
}

// The stated uncertainty against drawing every input at random within its bounds: 20 000 draws know a standard
// deviation to 0.5 %, and the formulas bend by a per cent at most over these bounds.
TEST(PackAnswer, UncertaintyIsThatOfRandomInputs) {
    PackQuery query = vhs("E-180");
    query.mode = mode("vhs:625/50:SP");
    query.given[Outer] = Input{60, 0.5};
    const PackAnswer answer = answer_of(built_in(), query);
    std::mt19937 random(1);
    std::uniform_real_distribution<double> within(-1, 1);
    double sum = 0, squares = 0;
    constexpr int draws = 20000;
    for (int i = 0; i < draws; ++i) {
        const double hub = 26 + 0.5 * within(random), thickness = 19.5 + 0.5 * within(random),
                     outer = 60 + 0.5 * within(random), speed = 23.39 * (1 + 0.005 * within(random));
        const double seconds = pack_length_m(outer, hub, thickness) * 1e3 / speed;
        sum += seconds, squares += seconds * seconds;
    }
    const double deviation = std::sqrt(squares / draws - (sum / draws) * (sum / draws));
    EXPECT_NEAR(answer.times.at(0).seconds.standard_uncertainty, deviation, 0.03 * deviation);
}

TEST(PackAnswer, MeasuredPackLeavesTheRestOnTheOtherReel) {
    PackQuery query = vhs("E-180");
    query.mode = mode("vhs:625/50:SP");
    query.given[Outer] = Input{60, 0.05};
    const PackAnswer answer = answer_of(built_in(), query);
    ASSERT_TRUE(answer.other_m);
    EXPECT_NEAR(answer.other_m->value + answer.sizes[Length].value, 258, 1e-9);
    EXPECT_NEAR(answer.times.at(0).seconds.value + answer.times.at(0).other_seconds->value, 258e3 / 23.39, 1e-6);
    EXPECT_NEAR(answer.full_mm.value, pack_outer_mm(258, 26, 19.5), 1e-9) << "the whole tape's, not the measured one's";
    query.given[Outer] = Input{95, 0.05};
    EXPECT_LT(answer_of(built_in(), query).other_m->value, 0) << "more than the grade holds: said, not hidden";
}

TEST(PackAnswer, AsksForEveryModeOrOne) {
    EXPECT_EQ(answer_of(built_in(), vhs("T-120")).times.size(), 6U);
    PackQuery query = vhs("T-120");
    query.mode = mode("vhs:525/60:LP");
    const PackAnswer answer = answer_of(built_in(), query);
    ASSERT_EQ(answer.times.size(), 1U);
    EXPECT_NEAR(answer.times[0].seconds.value, 247e3 / 16.67, 1e-6);
}

TEST(PackAnswer, ReelsMirrorEachOtherAlongTheTape) {
    PackQuery query = vhs("E-180");
    query.mode = mode("vhs:625/50:SP");
    const PackAnswer answer = answer_of(built_in(), query);
    ASSERT_EQ(answer.points.size(), 3U);
    const auto &start = answer.points[0], &middle = answer.points[1], &end = answer.points[2];
    EXPECT_DOUBLE_EQ(start.take_up.outer_mm.value, 26);
    EXPECT_NEAR(start.supply.outer_mm.value, end.take_up.outer_mm.value, 1e-12);
    EXPECT_NEAR(middle.take_up.outer_mm.value, middle.supply.outer_mm.value, 1e-12);
    EXPECT_NEAR(middle.take_up.outer_mm.value, pack_outer_mm(129, 26, 19.5), 1e-9);
    EXPECT_NEAR(start.take_up.turns_per_s.value, 23.39 / (M_PI * 26), 1e-12);
    EXPECT_NEAR(start.take_up.pulse_period_s.value * start.take_up.turns_per_s.value, 1, 1e-12);
    query.pulses_per_turn = 4;
    EXPECT_NEAR(answer_of(built_in(), query).points[0].take_up.pulse_period_s.value,
                start.take_up.pulse_period_s.value / 4, 1e-12);
}

TEST(PackAnswer, PointAtATimeWindsWhatRanSince) {
    PackQuery query = vhs("E-180");
    query.mode = mode("vhs:625/50:SP");
    query.at_s = Input{3600, 0};
    const PackAnswer answer = answer_of(built_in(), query);
    ASSERT_EQ(answer.points.size(), 1U);
    EXPECT_NEAR(answer.points[0].elapsed_s.value, 3600, 1e-9);
    EXPECT_NEAR(answer.points[0].take_up.outer_mm.value, pack_outer_mm(3.6 * 23.39, 26, 19.5), 1e-9);
    EXPECT_NEAR(answer.points[0].supply.outer_mm.value, pack_outer_mm(258 - 3.6 * 23.39, 26, 19.5), 1e-9);
}

// Independent of the answer's formula: forces from torques at both ends, with any steady torques.
TEST(PackAnswer, RewindingLosesItsPull) {
    const PackAnswer answer = answer_of(built_in(), vhs("E-180"));
    const double full_m = answer.full_mm.value / 2e3, hub_m = 0.013, motor_nm = 0.05, brake_nm = 0.003;
    const double at_start = (motor_nm / hub_m) / (brake_nm / full_m), at_end = (motor_nm / full_m) / (brake_nm / hub_m);
    EXPECT_NEAR(answer.rewinding.margin_ratio.value, at_start / at_end, 1e-9);
    EXPECT_NEAR(answer.rewinding.radius_ratio.value, full_m / hub_m, 1e-9);
}

TEST(PackAnswer, ChecksTheShell) {
    const PackAnswer fits = answer_of(built_in(), vhs("E-180"));
    ASSERT_TRUE(fits.shell && fits.shell->fit);
    EXPECT_TRUE(fits.shell->fit->holds());
    PackQuery too_much = vhs("E-180");
    too_much.given[Length] = Input{600, 0};
    const PackAnswer over = answer_of(built_in(), too_much);
    EXPECT_FALSE(over.shell->fit->holds()) << "600 m of it make a pack of " << over.full_mm.value << " mm";
    PackQuery unknown = vhs("D3-L 44/11");
    unknown.format = &built_in().format("d-3", "test");
    const PackAnswer no_size = answer_of(built_in(), unknown);
    ASSERT_TRUE(no_size.shell);
    EXPECT_FALSE(no_size.shell->fit);
    EXPECT_THAT(no_size.shell->missing, HasSubstr("size of its shell"));
}

// Every grade of the table either answers or says in one line what it lacks; and with a hub all whose length is known
// do answer.
TEST(PackAnswer, AnswersOrAsksForEveryGrade) {
    int answered = 0, asked = 0;
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Grade& grade : format.grades) {
            PackQuery query;
            query.format = &format, query.grade = grade.id;
            const std::string fault = fault_of(query);
            if (fault == "none") {
                ++answered;
                continue;
            }
            ++asked;
            EXPECT_THAT(fault, AllOf(HasSubstr("pack: the "), HasSubstr("not known: the table does not say"),
                                     HasSubstr(grade.id), HasSubstr("give --")));
            if (!grade.facts.known("length") || !pack_fact(Thickness, &format, {&format, &grade})) continue;
            query.given[Hub] = Input{20, 0.5};
            EXPECT_EQ(fault_of(query), "none") << format.id << " " << grade.id;
        }
    EXPECT_GE(answered, 30);
    EXPECT_GE(asked, 30);
}

TEST(PackAnswer, SaysWhatIsWrong) {
    EXPECT_THAT(fault_of({}), AllOf(HasSubstr("are not known"), HasSubstr("--length (m)"), HasSubstr("--grade")));
    EXPECT_THAT(fault_of(of_sizes({{Outer, {20, 0}}, {Hub, {26, 0}}, {Thickness, {20, 0}}})),
                AllOf(HasSubstr("--outer 20 mm"), HasSubstr("not larger than the hub of 26 mm (--hub)")));
    EXPECT_THAT(fault_of(of_sizes({{Outer, {60, 0}}, {Length, {1000, 0}}, {Thickness, {20, 0}}})),
                HasSubstr("no room for a hub"));
    EXPECT_THAT(fault_of(of_sizes({{Outer, {60, 0}}, {Hub, {-26, 0}}, {Thickness, {20, 0}}})),
                HasSubstr("--hub: diameter of the bare hub must be above 0"));
    EXPECT_THAT(fault_of(of_sizes({{Outer, {60, 70}}, {Hub, {26, 0}}, {Thickness, {20, 0}}})),
                HasSubstr("uncertain by as much as it is"));
    EXPECT_THAT(fault_of(of_sizes({{Outer, {60, 0}}, {Hub, {26, 0}}, {Thickness, {20, 0}}, {Length, {1, 0}}})),
                HasSubstr("leave out the one"));
    EXPECT_THAT(fault_of(vhs("E-l80")), HasSubstr("did you mean \"E-180\"?"));
    PackQuery point = vhs("E-180");
    point.at_s = Input{3600, 0};
    EXPECT_THAT(fault_of(point), HasSubstr("--address"));
    point.mode = mode("vhs:625/50:SP");
    point.at_s = Input{5 * 3600.0, 0};
    EXPECT_THAT(fault_of(point), HasSubstr("ends at 3:03:50"));
}

// Where the bounds of hub and pack overlap there is still an answer, and it says how little it knows.
TEST(PackAnswer, NearlyBareHubsAreVeryUncertain) {
    const PackAnswer answer =
        answer_of(built_in(), of_sizes({{Outer, {26.2, 0.05}}, {Hub, {26, 0.5}}, {Thickness, {19.5, 0.5}}}));
    EXPECT_GT(answer.sizes[Length].standard_uncertainty, 0.5 * answer.sizes[Length].value);
    EXPECT_TRUE(std::isfinite(answer.turns.standard_uncertainty));
}

TEST(PackAnswer, ExplainsWithTheNumbersItUsed) {
    PackQuery query = vhs("E-180");
    query.mode = mode("vhs:625/50:SP");
    const Working working = answer_of(built_in(), query).working;
    ASSERT_GE(working.size(), 5U);
    EXPECT_EQ(working[0].numbers, "√(26² + 4 × 258000 × 0.0195 / π)");
    EXPECT_EQ(working[0].result, "84.2 ± 0.6 mm");
    ASSERT_EQ(working[0].givens.size(), 3U);
    for (const Given& given : working[0].givens) EXPECT_NE(given.fact, nullptr) << given.symbol;
    query.given[Hub] = Input{25, 0.5};
    EXPECT_EQ(answer_of(built_in(), query).working[0].givens[1].origin, "given");
}

}  // namespace
}  // namespace guardband::calc
