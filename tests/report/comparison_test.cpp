// Two or three formats, modes or systems side by side.
#include "report/comparison.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "report/text_table.h"
#include "support/made_table.h"

namespace guardband::report {
namespace {

using support::made_table;
using testing::HasSubstr;
using testing::Not;

Subject mode_subject(const table::Table& table, const std::string& address) {
    const auto [format, mode] = table.at(address, "test");
    return {address, format, mode, {}};
}

const ComparedFigure& figure(const std::vector<ComparedFigure>& figures, std::string_view key) {
    return *std::ranges::find_if(figures, [&](const ComparedFigure& f) { return f.rule->key == key; });
}

TEST(Comparison, TellsWhatDiffersFromWhatIsTheSame) {
    const table::Table table = made_table();
    const auto figures =
        compared(table, {mode_subject(table, "lamp:525/60:SP"), mode_subject(table, "lamp:625/50:SP")});
    EXPECT_EQ(figure(figures, "tape_speed").relation, Relation::Differ);
    EXPECT_EQ(figure(figures, "diameter").relation, Relation::Same);
    EXPECT_EQ(figure(figures, "writing_speed").relation, Relation::Partly) << "known for one only";
    EXPECT_EQ(figure(figures, "luma_snr").relation, Relation::Same) << "a range is the same as itself";
    EXPECT_EQ(std::ranges::count(figures, "coating", [](const auto& f) { return f.rule->key; }), 0) << "known for none";
}

/// A table with two modes whose speeds are as given.
Relation relation_of_speeds(const char* one, const char* unit_one, const char* other, const char* unit_other) {
    table::Table table = made_table();
    auto& modes = table.formats.front().modes;
    const auto set = [](table::Mode& mode, const char* printed, const char* unit) {
        std::vector<table::Fact> facts = mode.facts.all();
        for (table::Fact& fact : facts) {
            if (fact.key != "tape_speed") continue;
            fact.printed = printed, fact.value = std::stod(printed), fact.unit = &quantity::unit_named(unit);
            fact.low.reset(), fact.high.reset();
        }
        mode.facts = table::Facts(facts);
    };
    set(modes[0], one, unit_one), set(modes[1], other, unit_other);
    return figure(compared(table, {mode_subject(table, "lamp:525/60:SP"), mode_subject(table, "lamp:625/50:SP")}),
                  "tape_speed")
        .relation;
}

TEST(Comparison, KnowsTheRoundingOfPrintedDigits) {
    EXPECT_EQ(relation_of_speeds("20", "mm/s", "20", "mm/s"), Relation::Same);
    EXPECT_EQ(relation_of_speeds("20", "mm/s", "20.0", "mm/s"), Relation::Near);
    EXPECT_EQ(relation_of_speeds("20", "mm/s", "20.4", "mm/s"), Relation::Near);
    EXPECT_EQ(relation_of_speeds("20", "mm/s", "20.6", "mm/s"), Relation::Differ);
    EXPECT_EQ(relation_of_speeds("20.0", "mm/s", "20.4", "mm/s"), Relation::Differ);
    EXPECT_EQ(relation_of_speeds("9.53", "cm/s", "95.25", "mm/s"), Relation::Near) << "in different units";
    EXPECT_EQ(relation_of_speeds("3.75", "in/s", "95.3", "mm/s"), Relation::Near)
        << "95.25, rounded to a hundredth of an inch";
}

TEST(Comparison, SaysWholeFormatsModeByModeWhereTheyDiffer) {
    const table::Table table = table::load_table();
    const Subject vhs{"vhs", &table.format("vhs", "test"), nullptr, {}},
        beta{"beta", &table.format("beta", "test"), nullptr, {}};
    const auto figures = compared(table, {vhs, beta});
    const auto& speeds = figure(figures, "tape_speed");
    ASSERT_EQ(speeds.values[0].size(), 6U);
    EXPECT_EQ(speeds.values[0][0].holds_for, "525/60 SP");
    EXPECT_EQ(speeds.values[1].size(), 4U);
    const auto& pulses = figure(figures, "control_track_rate");
    ASSERT_EQ(pulses.values[0].size(), 2U);
    EXPECT_EQ(pulses.values[0][1].holds_for, "625/50");
}

TEST(ComparisonText, MarksDifferencesWithASignAndSaysTheRestOnce) {
    const table::Table table = made_table();
    const std::string text =
        comparison_text(table, {mode_subject(table, "lamp:525/60:SP"), mode_subject(table, "lamp:625/50:SP")});
    EXPECT_THAT(text, HasSubstr("≠ tape speed, mm/s"));
    EXPECT_THAT(text, HasSubstr("? writing speed"));
    EXPECT_THAT(text, HasSubstr("the same: drum diameter 62 ± 0.01 mm [1]; video heads 2"));
    EXPECT_THAT(text, Not(HasSubstr("≠ drum diameter")));
}

TEST(ComparisonText, FitsATerminalOfAHundredColumns) {
    const table::Table table = table::load_table();
    for (const char* other : {"beta", "8mm", "quadruplex", "dv"}) {
        std::vector<Subject> subjects;
        for (const char* name : {"vhs", "type-b", other})
            subjects.push_back({name, &table.format(name, "test"), nullptr, {}});
        std::istringstream lines(comparison_text(table, subjects));
        for (std::string line; std::getline(lines, line);) EXPECT_LE(display_width(line), 100U) << line;
    }
}

TEST(ComparisonOfSystems, TakesTheScanningStandardWithAColourSystem) {
    const table::Table table = table::load_table();
    const auto figures = compared(table, {{"PAL", nullptr, nullptr, table.find_colour("PAL")},
                                          {"NTSC", nullptr, nullptr, table.find_colour("NTSC")}});
    EXPECT_EQ(figure(figures, "subcarrier").relation, Relation::Differ);
    EXPECT_EQ(figure(figures, "lines").relation, Relation::Differ);
}

TEST(ComparisonJson, HasTheFactsWithWhatTheyHoldFor) {
    const table::Table table = made_table();
    const auto json = nlohmann::json::parse(
        comparison_json(table, {mode_subject(table, "lamp:525/60:SP"), mode_subject(table, "lamp:625/50:SP")}));
    EXPECT_EQ(json["compared"], nlohmann::json({"lamp:525/60:SP", "lamp:625/50:SP"}));
    EXPECT_EQ(json["table_version"], table.edition.version);
    const auto speeds = std::ranges::find_if(json["figures"], [](const auto& f) { return f["key"] == "tape_speed"; });
    EXPECT_EQ((*speeds)["relation"], "differ");
    EXPECT_DOUBLE_EQ((*speeds)["values"][0][0]["value"].template get<double>(), 33.35);
    EXPECT_EQ((*speeds)["values"][1][0]["source"], "lamp-log");
    EXPECT_EQ(json["sources"].back()["id"], "lamp-log");
}

}  // namespace
}  // namespace guardband::report
