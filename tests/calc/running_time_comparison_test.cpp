#include "calc/running_time_comparison.h"
#include "support/built_in_table.h"

#include <gmock/gmock.h>

#include <algorithm>

namespace guardband::calc {
namespace {

using support::built_in;

std::vector<ComparedFormat> compared(const char* format) {
    RunningTimeQuery query;
    if (format != nullptr) query.format = &built_in().format(format, "test");
    return compared_running_times(built_in(), running_times(built_in(), query));
}

const ComparedFormat& of_system(const std::vector<ComparedFormat>& formats, const char* system) {
    return *std::ranges::find_if(formats, [&](const ComparedFormat& f) { return f.system->id == system; });
}

TEST(RunningTimeComparison, TakesEachSystemsOwnCassettes) {
    const auto vhs = compared("vhs");
    ASSERT_EQ(vhs.size(), 2U);
    const ComparedFormat &s525 = of_system(vhs, "525/60"), &s625 = of_system(vhs, "625/50");
    ASSERT_TRUE(s525.standard && s625.standard);
    EXPECT_EQ(s525.standard->shortest.grade->id, "T-120");
    EXPECT_EQ(s625.standard->shortest.grade->id, "E-180");
    EXPECT_EQ(s525.longest.shortest.grade->id, "T-210");
    EXPECT_EQ(s625.longest.shortest.grade->id, "E-300") << "though it runs longer still than a T-210 in 525/60";
    EXPECT_EQ(s625.longest.shortest.mode->id, "SP");
    EXPECT_EQ(s625.longest.longest.mode->id, "EP");
}

TEST(RunningTimeComparison, FallsBackOnOthersWhereAFormatHasNoneOfItsOwn) {
    // The labels of type L count minutes of 525/60 only; the same cassettes run in 625/50.
    const auto type_l = compared("type-l");
    EXPECT_EQ(of_system(type_l, "625/50").longest.shortest.grade->id, "L-90");
}

// Over the whole table: nothing of a system runs longer than what is called longest, in its own slowest mode.
TEST(RunningTimeComparison, NamesTheLongest) {
    const auto rows = running_times(built_in(), {});
    const auto formats = compared_running_times(built_in(), rows);
    EXPECT_GT(formats.size(), 30U);
    int with_standard = 0;
    for (const ComparedFormat& entry : formats) {
        with_standard += entry.standard.has_value();
        EXPECT_LE(entry.longest.shortest.seconds.value, entry.longest.longest.seconds.value);
        if (entry.standard) {
            EXPECT_LE(entry.standard->longest.seconds.value, entry.longest.longest.seconds.value * (1 + 1e-12));
            EXPECT_NE(entry.standard->shortest.grade->facts.known("common"), nullptr);
        }
        for (const RunningTime& row : rows) {
            if (row.format != entry.format || row.mode->system != entry.system->id || row.crosses_systems()) continue;
            EXPECT_LE(row.seconds.value, entry.longest.longest.seconds.value * (1 + 1e-12)) << row.grade->id;
        }
    }
    EXPECT_GT(with_standard, 25);
}

TEST(RunningTimeComparison, MarksOneCassetteOfASystemAsTheCommonOne) {
    for (const table::TapeFormat& format : built_in().formats) {
        std::vector<std::string> systems;
        for (const table::Grade& grade : format.grades) {
            if (grade.facts.known("common") == nullptr) continue;
            EXPECT_EQ(std::ranges::count(systems, grade.label_system), 0) << format.id << " " << grade.id;
            systems.push_back(grade.label_system);
        }
    }
}

TEST(RunningTimeComparison, LeavesBareLengthsOut) {
    RunningTimeQuery query;
    query.length = quantity::Quantity{100, {}, &quantity::unit_named("m")};
    EXPECT_TRUE(compared_running_times(built_in(), running_times(built_in(), query)).empty());
}

TEST(RunningTimeWorking, ComesToTheRunningTime) {
    RunningTimeQuery query;
    query.format = &built_in().format("vhs", "test");
    query.grade = "E-180", query.mode = "SP";
    const auto rows = running_times(built_in(), query);
    const Working working = running_time_working(rows.back());
    EXPECT_THAT(working.front().result, testing::HasSubstr(quantity::h_mm_ss(rows.back().seconds.value)));
    EXPECT_EQ(working.front().givens.at(0).fact->key, "length");
    EXPECT_EQ(working.front().givens.at(1).fact->key, "tape_speed");
}

}  // namespace
}  // namespace guardband::calc
