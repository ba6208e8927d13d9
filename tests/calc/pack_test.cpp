#include "calc/pack.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "quantity/errors.h"
#include "table/table.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;

struct Tape {
    std::string name;
    double length_m, hub_mm, thickness_um;
};

/// Every cassette and reel of the table whose length and thickness are known; on the hub that the table gives, else on
/// one of 20 mm.
std::vector<Tape> all_tapes() {
    static const table::Table table = table::load_table();
    std::vector<Tape> tapes;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Grade& grade : format.grades) {
            const table::Fact *length = grade.facts.known("length"), *thickness = grade.facts.known("thickness"),
                              *hub = grade.facts.known("hub_diameter");
            if (length == nullptr || thickness == nullptr) continue;
            tapes.push_back({format.id + " " + grade.id, length->in("m"), hub == nullptr ? 20 : hub->in("mm"),
                             thickness->in("µm")});
        }
    return tapes;
}

TEST(Pack, InvertsEveryWayOnEveryTapeOfTheTable) {
    const auto tapes = all_tapes();
    ASSERT_GT(tapes.size(), 80U);
    for (const Tape& t : tapes) {
        SCOPED_TRACE(t.name);
        const double outer = pack_outer_mm(t.length_m, t.hub_mm, t.thickness_um);
        EXPECT_NEAR(pack_length_m(outer, t.hub_mm, t.thickness_um), t.length_m, 1e-12 * t.length_m);
        EXPECT_NEAR(pack_hub_mm(outer, t.length_m, t.thickness_um), t.hub_mm, 1e-12 * outer);
        EXPECT_NEAR(pack_thickness_um(outer, t.hub_mm, t.length_m), t.thickness_um, 1e-12 * t.thickness_um);
        const double turns = pack_turns(outer, t.hub_mm, t.thickness_um);
        EXPECT_NEAR(turns_length_m(turns, t.hub_mm, t.thickness_um), t.length_m, 1e-12 * t.length_m);
        EXPECT_NEAR(turns_of_length(t.length_m, t.hub_mm, t.thickness_um), turns, 1e-12 * turns);
    }
}

// Any tape that could be: thinner and thicker, on smaller and larger hubs, fuller and emptier than those of the table.
TEST(Pack, InvertsEveryWayOnTapesThatCouldBe) {
    std::mt19937 random(4);
    std::uniform_real_distribution<double> factor(0.3, 3);
    for (const Tape& t : all_tapes())
        for (int i = 0; i < 20; ++i) {
            const double length = t.length_m * factor(random), hub = t.hub_mm * factor(random),
                         thickness = t.thickness_um * factor(random);
            const double outer = pack_outer_mm(length, hub, thickness), turns = pack_turns(outer, hub, thickness);
            // A pack's diameter carries the hub's digits too: a thin pack on a large hub loses as many as it is thin.
            const double lost = outer / (outer - hub);
            EXPECT_NEAR(pack_length_m(outer, hub, thickness), length, 1e-12 * length * lost) << t.name;
            EXPECT_NEAR(pack_hub_mm(outer, length, thickness), hub, 1e-12 * outer * outer / hub) << t.name;
            EXPECT_NEAR(pack_thickness_um(outer, hub, length), thickness, 1e-12 * thickness * lost) << t.name;
            EXPECT_NEAR(turns_length_m(turns, hub, thickness), length, 1e-12 * length * lost) << t.name;
            EXPECT_NEAR(pack_outer_of_reel_mm(reel_turns_per_s(outer, 23.39), 23.39), outer, 1e-12 * outer);
        }
}

// Independent of the formula for the reel: the turns that a second of tape makes, counted by the pack's growth.
TEST(Pack, ReelTurnsAsFastAsTapeWindsOn) {
    const double hub_mm = 26, thickness_um = 19.5, speed_mm_s = 23.39;
    for (const double length_m : {10.0, 100.0, 250.0}) {
        const double half_step_m = speed_mm_s / 2e3;
        const double turns = turns_of_length(length_m + half_step_m, hub_mm, thickness_um) -
                             turns_of_length(length_m - half_step_m, hub_mm, thickness_um);
        const double outer = pack_outer_mm(length_m, hub_mm, thickness_um);
        EXPECT_NEAR(reel_turns_per_s(outer, speed_mm_s), turns, 1e-6 * turns);
    }
}

TEST(Pack, GrowsWithLengthThicknessAndHub) {
    for (const Tape& t : all_tapes()) {
        SCOPED_TRACE(t.name);
        const double outer = pack_outer_mm(t.length_m, t.hub_mm, t.thickness_um);
        EXPECT_GT(pack_outer_mm(t.length_m * 1.01, t.hub_mm, t.thickness_um), outer);
        EXPECT_GT(pack_outer_mm(t.length_m, t.hub_mm * 1.01, t.thickness_um), outer);
        EXPECT_GT(pack_outer_mm(t.length_m, t.hub_mm, t.thickness_um * 1.01), outer);
        EXPECT_GT(pack_outer_mm(t.length_m / 2, t.hub_mm, t.thickness_um), outer / 2)
            << "half the tape is more than half the diameter";
    }
}

// Independent of the formula: wind the tape turn by turn, each turn a circle through the middle of the tape. A whole
// number of turns must come out to the last digit that adding a few thousand doubles keeps.
TEST(Pack, IsWhatWindingTurnByTurnMakes) {
    const double hub_mm = 26, thickness_um = 19.5;
    double length_mm = 0, radius_mm = hub_mm / 2;
    for (int turn = 1; turn <= 1500; ++turn) {
        length_mm += 2 * std::numbers::pi * (radius_mm + thickness_um / 2e3);
        radius_mm += thickness_um / 1e3;
        if (turn % 300 != 0) continue;
        EXPECT_NEAR(turns_length_m(turn, hub_mm, thickness_um), length_mm / 1e3, 1e-9);
        EXPECT_NEAR(pack_outer_mm(length_mm / 1e3, hub_mm, thickness_um), 2 * radius_mm, 1e-9);
    }
}

TEST(Pack, KeepsItsDigitsWhenNearlyEmpty) {
    const double outer = pack_outer_mm(0.001, 26, 20);  // one millimetre of tape
    EXPECT_NEAR(pack_length_m(outer, 26, 20), 0.001, 1e-9);
    EXPECT_DOUBLE_EQ(pack_length_m(26, 26, 20), 0);
    EXPECT_DOUBLE_EQ(pack_outer_mm(0, 26, 20), 26);
}

TEST(Pack, RefusesWhatCannotBe) {
    EXPECT_THROW(pack_length_m(20, 26, 20), DomainError);
    EXPECT_THROW(pack_length_m(80, 0, 20), DomainError);
    EXPECT_THROW(pack_outer_mm(-1, 26, 20), DomainError);
    EXPECT_THROW(pack_outer_mm(100, 26, 0), DomainError);
    EXPECT_THROW(pack_hub_mm(50, 1000, 20), DomainError) << "more tape than the pack holds";
    EXPECT_THROW(pack_thickness_um(80, 26, 0), DomainError);
    EXPECT_THROW(pack_turns(20, 26, 20), DomainError);
    EXPECT_THROW(turns_length_m(-1, 26, 20), DomainError);
    EXPECT_THROW(reel_turns_per_s(0, 23.39), DomainError);
    EXPECT_THROW(reel_turns_per_s(84, 0), DomainError);
    EXPECT_THROW(pack_outer_of_reel_mm(0, 23.39), DomainError);
    EXPECT_THROW(pack_outer_mm(std::nan(""), 26, 20), DomainError);
}

}  // namespace
}  // namespace guardband::calc
