#include "judge/judge.h"

#include <gmock/gmock.h>

namespace guardband::judge {
namespace {

using quantity::Figure;
using quantity::Figures;
using quantity::Verdict;

table::Fact number(double value, std::string_view unit) {
    table::Fact fact;
    fact.value = value;
    fact.unit = &quantity::unit_named(unit);
    return fact;
}

table::LimitRule rule(const std::string& figure, std::optional<double> low, std::optional<double> high,
                      std::string_view unit = "Hz") {
    table::LimitRule limit;
    limit.figure = figure;
    if (low) limit.low = number(*low, unit);
    if (high) limit.high = number(*high, unit);
    limit.source = "practice";
    return limit;
}

Verdict verdict_on(Figure figure, const std::vector<table::LimitRule>& rules, const Recording& recording = {}) {
    table::Table table;
    table.limits = rules;
    Figures figures;
    figures.add("rate", std::move(figure));
    judge(figures, table, recording);
    return figures.find("rate")->verdict();
}

TEST(Judge, HoldsANumberAgainstBothEnds) {
    const auto limits = {rule("rate", 24.9, 25.1)};
    EXPECT_EQ(verdict_on(Figure::measured(25, 0, "Hz"), limits), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(24.8, 0, "Hz"), limits), Verdict::Outside);
    EXPECT_EQ(verdict_on(Figure::measured(25.2, 0, "Hz"), limits), Verdict::Outside);
    EXPECT_EQ(verdict_on(Figure::measured(24.9, 0, "Hz"), limits), Verdict::Within) << "the end itself is within";
}

TEST(Judge, ConvertsUnits) {
    EXPECT_EQ(verdict_on(Figure::measured(25, 0, "Hz"), {rule("rate", 0.0249, 0.0251, "kHz")}), Verdict::Within);
}

TEST(Judge, RejectsOnlyWhatIsOutsideBeyondItsExpandedUncertainty) {
    const auto limits = {rule("rate", std::nullopt, 25.0)};
    EXPECT_EQ(verdict_on(Figure::measured(25.1, 0.06, "Hz"), limits), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(25.1, 0.04, "Hz"), limits), Verdict::Outside);
}

TEST(Judge, TakesTheClosestRuleAndAmongEqualsTheLast) {
    auto of_system = rule("rate", 59, 60);
    of_system.scanning = "525/60";
    auto of_format = rule("rate", 40, 41);
    of_format.format = "vhs";
    const std::vector<table::LimitRule> limits{of_format, of_system, rule("rate", 0, 1), rule("rate", 24, 26)};
    EXPECT_EQ(verdict_on(Figure::measured(25, 0, "Hz"), limits), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(59.9, 0, "Hz"), limits, {"525/60", ""}), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(40.5, 0, "Hz"), limits, {"525/60", "vhs"}), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(25, 0, "Hz"), limits, {"525/60", "vhs"}), Verdict::Outside);
}

TEST(Judge, AppliesAConditionalRuleOnlyWhereTheNoteCarriesItsWord) {
    auto conditional = rule("rate", 10, 20);
    conditional.condition = "true black";
    const std::vector<table::LimitRule> limits{rule("rate", 10, std::nullopt), conditional};
    EXPECT_EQ(verdict_on(Figure::measured(32, 0, "Hz"), limits), Verdict::Within);
    EXPECT_EQ(verdict_on(Figure::measured(32, 0, "Hz").with_note("a true black"), limits), Verdict::Outside);
}

TEST(Judge, LeavesOutARuleWhereTheNoteCarriesTheWordOfItsException) {
    auto rule_for_tape = rule("rate", std::nullopt, 0.0);
    rule_for_tape.unless = "pull-down";
    EXPECT_EQ(verdict_on(Figure::measured(2, 0, "Hz"), {rule_for_tape}), Verdict::Outside);
    EXPECT_EQ(verdict_on(Figure::measured(2, 0, "Hz").with_note("2:3 pull-down"), {rule_for_tape}), Verdict::NoLimit);
}

TEST(Judge, HoldsATextAgainstAnotherFigure) {
    table::LimitRule agreement;
    agreement.figure = "declared";
    agreement.equals_figure = "measured";
    agreement.source = "practice";
    table::Table table;
    table.limits = {agreement};
    const auto verdict = [&](Figure declared, Figure measured) {
        Figures figures;
        figures.add("declared", std::move(declared));
        figures.add("measured", std::move(measured));
        judge(figures, table, {});
        return figures.find("declared")->verdict();
    };
    EXPECT_EQ(verdict(Figure::text("top first"), Figure::text("top first")), Verdict::Within);
    EXPECT_EQ(verdict(Figure::text("top first"), Figure::text("bottom first")), Verdict::Outside);
    EXPECT_EQ(verdict(Figure::text("top first"), Figure::unknown("stands still")), Verdict::NoLimit);
    EXPECT_EQ(verdict(Figure::unknown("says nothing"), Figure::text("top first")), Verdict::NoLimit);
}

// Each count in the unit that its measurement gives it: a limit in another kind of unit can't be held against it.
TEST(Judge, HoldsCountsAgainstTheBuiltInLimits) {
    const table::Table table = table::load_table();
    Figures figures;
    figures.add("missing_frames", Figure::counted(0, "frames"));
    figures.add("repeated_fields", Figure::counted(3, "fields"));
    figures.add("black_level", Figure::measured(16, 0.1, ""));
    figures.add("clipped_white", Figure::measured(0, 0, "share"));
    judge(figures, table, {"625/50", ""});
    EXPECT_EQ(figures.find("missing_frames")->verdict(), Verdict::Within);
    EXPECT_EQ(figures.find("repeated_fields")->verdict(), Verdict::Outside);
    EXPECT_EQ(figures.find("black_level")->verdict(), Verdict::Within);
    EXPECT_EQ(figures.find("clipped_white")->verdict(), Verdict::Within);
}

TEST(Judge, LeavesUnknownFiguresAlone) {
    EXPECT_EQ(verdict_on(Figure::unknown("no stamps"), {rule("rate", 0, 1)}), Verdict::NoLimit);
}

}  // namespace
}  // namespace guardband::judge
