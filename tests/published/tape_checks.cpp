// Running times and packs of tape against what sources print of them.
#include <gmock/gmock.h>

#include <algorithm>

#include "calc/pack.h"
#include "calc/running_time.h"
#include "published/check.h"

namespace guardband {
namespace {

double share(const std::string& text) {
    return text == "0" ? 0 : quantity::parse_quantity(text, quantity::unit_named("share"), "share").in("share");
}

double number(const std::string& text, const char* unit) {
    return quantity::parse_quantity(text, quantity::unit_named(unit), "given").in(unit);
}

/// Tape, hub and thickness: of a grade of the table, or as the check itself gives them.
struct Pack {
    double length_m, hub_mm, thickness_um;

    double full_mm() const { return calc::pack_outer_mm(length_m, hub_mm, thickness_um); }
    double half_mm() const { return calc::pack_outer_mm(length_m / 2, hub_mm, thickness_um); }
};

Pack pack_of(const table::Grade& grade) {
    return {grade.facts.known("length")->in("m"), grade.facts.known("hub_diameter")->in("mm"),
            grade.facts.known("thickness")->in("µm")};
}

Pack pack_of(const Check& c) {
    if (!c.given.grade.empty()) return pack_of(*built_in().format(c.given.format, c.label).find_grade(c.given.grade));
    return {number(c.given.length, "m"), number(c.given.hub, "mm"), number(c.given.thickness, "µm")};
}

/// Half the difference between the largest and the smallest full pack of a shell's grades.
double half_range_mm(const Check& c) {
    std::vector<double> packs;
    for (const table::Grade& grade : built_in().format(c.given.format, c.label).grades)
        if (grade.shell == c.given.shell) packs.push_back(pack_of(grade).full_mm());
    EXPECT_GE(packs.size(), 2U);
    const auto [smallest, largest] = std::ranges::minmax(packs);
    return (largest - smallest) / 2;
}

}  // namespace

/// A cassette must run at least the time on its label, and not far beyond it.
bool holds_time(const Check& c) {
    if (c.what != "running_time") return false;
    const auto [format, mode] = built_in().at(c.given.address, c.label);
    calc::RunningTimeQuery query;
    query.format = format, query.grade = c.given.grade, query.mode = mode->id,
    query.system = &built_in().scanning(mode->system, "test");
    const auto rows = calc::running_times(built_in(), query);
    EXPECT_EQ(rows.size(), 1U);
    const double nominal_s = quantity::parse_quantity(c.expect, quantity::unit_named(c.unit), "expect").in("s");
    EXPECT_GE(rows.at(0).seconds.value, nominal_s * (1 - share(c.below)));
    EXPECT_LE(rows.at(0).seconds.value, nominal_s * (1 + share(c.above)));
    return true;
}

bool holds_pack(const Check& c) {
    const double expected = std::stod(c.expect);
    if (c.what == "pack_outer")
        EXPECT_NEAR(pack_of(c).full_mm(), expected, allowance(c));
    else if (c.what == "pack_half")
        EXPECT_NEAR(pack_of(c).half_mm(), expected, allowance(c));
    else if (c.what == "pack_turns")
        EXPECT_NEAR(calc::pack_turns(pack_of(c).full_mm(), pack_of(c).hub_mm, pack_of(c).thickness_um), expected,
                    allowance(c));
    else if (c.what == "length_of_turns")
        EXPECT_NEAR(
            calc::turns_length_m(std::stod(c.given.times), number(c.given.hub, "mm"), number(c.given.thickness, "µm")),
            expected, allowance(c));
    else if (c.what == "pack_fits_in")
        EXPECT_LE(pack_of(c).full_mm(), expected);
    else if (c.what == "packs_of_a_shell_within")
        EXPECT_LE(half_range_mm(c), expected + allowance(c));
    else
        return false;
    return true;
}

}  // namespace guardband
