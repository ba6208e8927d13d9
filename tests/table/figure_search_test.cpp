// What a search by figures finds: ranges, roundings, units, texts, and how widely a place is named.
#include "table/figure_search.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "table/document.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::ThrowsMessage;

using support::built_in;

std::vector<std::string> found(std::initializer_list<const char*> conditions, std::string_view system = {}) {
    std::vector<Condition> read;
    for (const char* condition : conditions) read.push_back(parse_condition(condition, "--where"));
    std::vector<std::string> places;
    for (const Finding& finding : search(built_in(), read, system)) places.push_back(place_of(finding));
    return places;
}

/// A fact of 20 mm/s or as given.
Fact speed(const std::string& printed, const char* unit = "mm/s") {
    Fact fact;
    fact.key = "tape_speed";
    fact.printed = printed;
    fact.value = std::stod(printed);
    fact.unit = &quantity::unit_named(unit);
    return fact;
}

bool is_met(const Fact& fact, const std::string& wanted) {
    return meets(fact, parse_condition("tape_speed=" + wanted, "--where"));
}

TEST(Condition, IsMetWithinTheRoundingOfEither) {
    EXPECT_TRUE(is_met(speed("20"), "20"));
    EXPECT_TRUE(is_met(speed("20"), "20.4")) << "20 may stand for 20.4";
    EXPECT_FALSE(is_met(speed("20"), "20.5")) << "which is as near to 21";
    EXPECT_TRUE(is_met(speed("20.4"), "20")) << "and who says 20 may mean it";
    EXPECT_FALSE(is_met(speed("20.6"), "20"));
    EXPECT_TRUE(is_met(speed("20.00"), "20.00"));
    EXPECT_FALSE(is_met(speed("20.02"), "20.00"));
}

TEST(Condition, IsMetWithinTheToleranceOfTheTable) {
    Fact fact = speed("20.00");
    fact.low = 19.9, fact.high = 20.1;
    EXPECT_TRUE(is_met(fact, "20.10")) << "its ends included";
    EXPECT_FALSE(is_met(fact, "20.11"));
    EXPECT_TRUE(is_met(fact, "20.30±0.20")) << "the ranges meet";
    EXPECT_FALSE(is_met(fact, "20.30±0.15"));
    fact.high.reset();
    EXPECT_FALSE(is_met(fact, "20.10")) << "open above: no promise";
}

TEST(Condition, TakesPlusMinusRangesAndUnits) {
    EXPECT_TRUE(is_met(speed("20.3"), "20±0.5"));
    EXPECT_FALSE(is_met(speed("20.6"), "20±0.5"));
    EXPECT_TRUE(is_met(speed("20.5"), "20±0.5")) << "its ends included";
    EXPECT_TRUE(is_met(speed("22.0"), "20-24"));
    EXPECT_FALSE(is_met(speed("24.5"), "20-24"));
    EXPECT_TRUE(is_met(speed("2", "cm/s"), "20.0"));
    EXPECT_TRUE(is_met(speed("95.25"), "3.75in/s"));
    EXPECT_FALSE(is_met(speed("95.25"), "3.8125in/s"));
    EXPECT_FALSE(is_met(speed("0.5", "in/s"), "13.5"))
        << "12.7, a nominal speed, not anything that rounds to half an inch";
}

TEST(Condition, IsMetByWhatAnotherSourceSays) {
    Fact fact = speed("20.0");
    EXPECT_FALSE(is_met(fact, "30.0"));
    fact.also = {speed("30.0")};
    EXPECT_TRUE(is_met(fact, "30.0"));
}

TEST(Condition, IsNotMetByWhatIsNotKnown) {
    Fact fact;
    fact.unknown = "no source";
    EXPECT_FALSE(is_met(fact, "20"));
}

TEST(Condition, IsReadStrictly) {
    const auto complains = [](const char* text, const char* what, const char* cure) {
        EXPECT_THAT([&] { parse_condition(text, "--where"); },
                    ThrowsMessage<InputError>(
                        AllOf(HasSubstr(std::string("--where ") + text), HasSubstr(what), HasSubstr(cure))));
    };
    complains("tape_width", "no KEY=VALUE", "tape_width=12.65");
    complains("tape_width=", "no KEY=VALUE", "tape_width=12.65");
    complains("tape_widht=12.65", "no figure goes by the name", "did you mean \"tape_width\"?");
    complains("nonsense=1", "no figure goes by the name", "formats --keys");
    complains("width=12.65", "several figures", "tape_width or shell_width");
    complains("tape_width=12.65Hz", "unit of another kind", "mm");
    complains("tape_width=wide", "not a number", "25.0");
    EXPECT_EQ(parse_condition("DIAMETER = 62", "--where").rule->key, "diameter")
        << "one key reads so; letter case and blanks don't matter";
}

TEST(SearchNames, AreEachTheNameOfOneFigure) {
    std::vector<std::string> names;
    for (const KeyRule* rule : searchable_rules()) {
        const std::string name = search_name(*rule);
        EXPECT_THAT(names, Not(Contains(name)));
        names.push_back(name);
        const std::string condition = name + (rule->kind == KeyRule::Kind::Text ? "=x" : "=1");
        EXPECT_EQ(parse_condition(condition, "--where").rule, rule) << name;
    }
    for (const char* name : {"tape_width", "shell_width", "drum_diameter", "grade_length", "tape_speed"})
        EXPECT_THAT(names, Contains(name));
}

TEST(Search, NamesAPlaceAsWidelyAsItHolds) {
    EXPECT_THAT(found({"drum_diameter=62", "drum_azimuth=6"}), Contains("vhs")) << "alike in all modes";
    EXPECT_THAT(found({"colour_under_carrier=629kHz"}), Contains("vhs:525/60")) << "in all modes of a system";
    EXPECT_THAT(found({"tape_speed=23.39"}), AllOf(Contains("vhs:625/50:SP"), Not(Contains("vhs"))));
    EXPECT_THAT(found({"shell_width=188"}), Contains("vhs, VHS cassette"));
    EXPECT_THAT(found({"grade_length=258", "tape_speed=23.39"}), ElementsAre("vhs:625/50:SP, E-180"));
}

TEST(Search, WantsAllConditionsMetInOnePlace) {
    EXPECT_THAT(found({"tape_speed=33.35", "luma_carrier_white=4.8"}), Not(Contains(HasSubstr("vhs:"))))
        << "each is met by a mode of VHS, but of two systems";
    EXPECT_THAT(found({"tape_width=12.65", "drum_diameter=30"}), IsEmpty());
}

TEST(Search, FindsTextsByAPart) { EXPECT_THAT(found({"coating=METAL"}), AllOf(Contains("8mm"), Not(Contains("vhs")))); }

TEST(Search, KeepsToASystem) {
    EXPECT_THAT(found({"tape_speed=33.35"}, "625/50"), Not(Contains(HasSubstr("525/60"))));
    EXPECT_THAT(found({"tape_speed=23.39"}, "525/60"), Not(Contains(HasSubstr("vhs"))));
}

TEST(Search, FindsEveryPrintedFigureByItself) {
    for (const TapeFormat& format : built_in().formats) {
        for (const Mode& mode : format.modes) {
            const Fact* speed = format.fact_in(mode, "tape_speed");
            if (speed == nullptr) continue;
            const std::string wanted =
                "tape_speed=" + quantity::shortest(*speed->value) + std::string(speed->unit->name);
            EXPECT_TRUE(meets(*speed, parse_condition(wanted, "--where"))) << address_of(format, mode) << " " << wanted;
        }
    }
}

}  // namespace
}  // namespace guardband::table
