#include "calc/track_geometry.h"
#include "support/built_in_table.h"

#include <gmock/gmock.h>

#include <cmath>

namespace guardband::calc {
namespace {

using quantity::Rational;
using testing::HasSubstr;

using support::built_in;

struct Place {
    const table::TapeFormat* format;
    const table::Mode* mode;

    TrackFacts facts() const { return track_facts(built_in(), *format, *mode); }
    TrackGeometry tracks() const { return track_geometry(built_in(), *format, *mode); }
};

Place at(const char* address) {
    const auto [format, mode] = built_in().at(address, "test");
    return {format, mode};
}

template <typename See>
void for_each_mode(See see) {
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Mode& mode : format.modes) {
            SCOPED_TRACE(address_of(format, mode));
            see(Place{&format, &mode});
        }
}

TEST(TrackFacts, TakesTheRateOfTracksFromWhateverTheFileGives) {
    EXPECT_EQ(at("vhs:525/60:SP").facts().tracks_per_s, Rational(60000, 1001)) << "a track a field";
    EXPECT_EQ(at("quadruplex:625/50:HB-15").facts().tracks_per_s, Rational(1000)) << "tracks a second";
    EXPECT_EQ(at("type-b:625/50:standard").facts().tracks_per_s, Rational(300)) << "six tracks a field";
    EXPECT_EQ(at("cartridge-1972:525/60:standard").facts().tracks_per_s, Rational(20000, 1001)) << "one field in three";
    const TrackFacts by_drum = at("d-vhs:525/60:HS").facts();
    EXPECT_EQ(by_drum.tracks_per_s, Rational(120)) << "four heads, thirty turns";
    EXPECT_THAT(by_drum.track_rate_assumption, HasSubstr("each head"));
}

TEST(TrackFacts, KnowWhichWayTheHeadsRun) {
    EXPECT_EQ(at("vhs:625/50:SP").facts().motion, HeadMotion::WithTape);
    EXPECT_EQ(at("type-c:625/50:standard").facts().motion, HeadMotion::AgainstTape);
    EXPECT_FALSE(at("d-3:625/50:standard").facts().motion);
    EXPECT_TRUE(at("quadruplex:525/60:HB-15").facts().is_transverse);
    EXPECT_TRUE(at("fixed-head-405:405/50:standard").facts().heads_stand_still);
}

// The whole table: figures that are known must hang together, whatever the formulae behind them.
TEST(TrackGeometry, HangsTogetherInEveryMode) {
    int whole = 0;
    for_each_mode([&](const Place& place) {
        const TrackGeometry t = place.tracks();
        const auto speed = place.facts().tape_speed;
        if (t.length_mm.is_known()) {
            EXPECT_NEAR(*t.length_mm.number() * *t.tracks_per_s.number() / 1e3, *t.writing_speed_m_s.number(),
                        1e-9 * *t.writing_speed_m_s.number());
            EXPECT_NEAR(*t.tracks_per_mm.number() * speed->in("mm/s"), *t.tracks_per_s.number(),
                        1e-9 * *t.tracks_per_s.number());
        }
        if (!t.height_mm.is_known() || !t.pitch_um.is_known()) return;
        // Pitch across the track and spacing along the edge are sides of one triangle with the track's angle, and so
        // are length and height.
        EXPECT_NEAR(*t.pitch_um.number() * *t.tracks_per_mm.number() / 1e3,
                    *t.height_mm.number() / *t.length_mm.number(), 1e-9);
        ++whole;
    });
    EXPECT_GT(whole, 80);
}

TEST(TrackGeometry, GivesEveryKnownFigureAnUncertaintyAndEveryOtherAReason) {
    for_each_mode([](const Place& place) {
        const TrackGeometry t = place.tracks();
        for (const quantity::Figure* figure :
             {&t.tip_speed_m_s, &t.writing_speed_m_s, &t.angle_still_deg, &t.angle_moving_deg, &t.pitch_um,
              &t.length_mm, &t.height_mm, &t.tracks_per_mm, &t.tracks_per_s}) {
            EXPECT_TRUE(figure->is_known() || figure->reason().starts_with("the table does not give: "))
                << figure->reason();
            EXPECT_GT(figure->is_known() ? *figure->number() : 1, 0);
            EXPECT_TRUE(!figure->is_known() || std::isfinite(figure->uncertainty().value()));
        }
    });
}

TEST(TrackGeometry, TakesItsUncertaintyFromTheTolerances) {
    const TrackGeometry vhs = at("vhs:625/50:SP").tracks();
    // ± 0.5 % of speed, and half of 0.01° in 5.96°, each spread evenly: 0.005/√3 and (0.005/5.96)/√3 of the pitch.
    const double expected = *vhs.pitch_um.number() * std::hypot(0.005, 0.005 / 5.96) / std::sqrt(3.0);
    EXPECT_NEAR(vhs.pitch_um.uncertainty().value(), expected, 0.005 * expected);
    EXPECT_LT(vhs.writing_speed_m_s.uncertainty().value(), 0.001) << "drum to 0.01 mm in 62, drum speed exact";
}

TEST(TrackGeometry, WorksOutTheAngleThatTheFileDoesNotGive) {
    // The file gives only the moving angle; heads that run with the tape write more steeply than they are set.
    const TrackGeometry moving_only = at("d-9:625/50:standard").tracks();
    EXPECT_LT(*moving_only.angle_still_deg.number(), *moving_only.angle_moving_deg.number());
}

TEST(TrackGeometry, TakesTheTapesSpeedAsUncertaintyWhereNobodySaysWhichWayTheHeadsRun) {
    const TrackGeometry d3 = at("d-3:625/50:standard").tracks();
    EXPECT_NEAR(*d3.writing_speed_m_s.number(), *d3.tip_speed_m_s.number(), 1e-12);
    EXPECT_GE(d3.writing_speed_m_s.uncertainty().value(), 0.08388 / std::sqrt(3.0));
    EXPECT_THAT(d3.writing_speed_m_s.note(), HasSubstr("which way"));
}

TEST(TrackGeometry, SaysWhatIsMissing) {
    EXPECT_THAT(at("micromv:625/50:standard").tracks().writing_speed_m_s.reason(), HasSubstr("drum diameter"));
    EXPECT_THAT(at("m-ii:625/50:standard").tracks().pitch_um.reason(), HasSubstr("track angle"));
    EXPECT_THAT(at("fixed-head-405:405/50:standard").tracks().tip_speed_m_s.reason(), HasSubstr("heads stand still"));
    EXPECT_NEAR(*at("fixed-head-405:405/50:standard").tracks().writing_speed_m_s.number(), 5.08, 1e-12);
}

// Source: common practice, no source. The compact cassette's small drum must leave the tracks of the full one: two
// thirds of the diameter, one and a half times the speed, so the same tip speed to the last digit.
TEST(TrackGeometry, OfTheCompactCassetteIsThatOfTheFullOne) {
    for (const char* mode : {"525/60:SP", "525/60:EP", "625/50:SP", "625/50:LP"}) {
        const TrackGeometry full = at((std::string("vhs:") + mode).c_str()).tracks(),
                            compact = at((std::string("vhs-c:") + mode).c_str()).tracks();
        EXPECT_NEAR(*full.tip_speed_m_s.number(), *compact.tip_speed_m_s.number(), 1e-12);
        EXPECT_NEAR(*full.pitch_um.number(), *compact.pitch_um.number(), 1e-9);
        EXPECT_NEAR(*full.length_mm.number(), *compact.length_mm.number(), 1e-9);
    }
}

}  // namespace
}  // namespace guardband::calc
