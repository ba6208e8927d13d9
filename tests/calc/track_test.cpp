#include "calc/track.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;
using quantity::Rational;

struct Case {
    double tip_m_s, tape_mm_s, angle_deg;
    HeadMotion motion;
};

/// Speeds and angles from the slowest cassette to the widest transverse recorder, both ways.
std::vector<Case> all_cases() {
    std::vector<Case> cases;
    for (const double tip : {3.0, 5.8, 25.0, 41.0})
        for (const double tape : {0.0, 2.4, 40.0, 245.0, 400.0})
            for (const double angle : {1.0, 2.65, 6.0, 14.3, 45.0, 90.0, 90.55})
                for (const HeadMotion motion : {HeadMotion::WithTape, HeadMotion::AgainstTape})
                    cases.push_back({tip, tape, angle, motion});
    return cases;
}

/// Where a head stands over the tape after a time, in mm along the edge and across: the head's own way less the tape's.
struct Point {
    double along, across;
};

Point head_over_tape(const Case& c, double seconds) {
    const double phi = c.angle_deg * std::numbers::pi / 180;
    const double tape = (c.motion == HeadMotion::WithTape ? 1 : -1) * c.tape_mm_s;
    return {(c.tip_m_s * 1e3 * std::cos(phi) - tape) * seconds, c.tip_m_s * 1e3 * std::sin(phi) * seconds};
}

// Independent of the formulae: follow one head for a millisecond and measure the line it drew; then let the next head
// begin where the tape has moved on and measure how far its start lies from that line.
TEST(Track, IsWhatAHeadDrawsOnTheTape) {
    const Rational tracks_per_s(60000, 1001);
    for (const Case& c : all_cases()) {
        const Point end = head_over_tape(c, 1e-3);
        const double drawn_mm = std::hypot(end.along, end.across);
        const double angle = track_angle_moving_deg(c.tip_m_s, c.tape_mm_s, c.angle_deg, c.motion);
        EXPECT_NEAR(writing_speed_m_s(c.tip_m_s, c.tape_mm_s, c.angle_deg, c.motion), drawn_mm, 1e-9 * drawn_mm);
        EXPECT_NEAR(angle, std::atan2(end.across, end.along) * 180 / std::numbers::pi, 1e-9);
        const double moved_on_mm = c.tape_mm_s * 1001 / 60000.0;
        const double off_the_line_um = 1e3 * moved_on_mm * end.across / drawn_mm;
        EXPECT_NEAR(track_pitch_um(c.tape_mm_s, tracks_per_s, angle), off_the_line_um,
                    1e-9 * std::max(1.0, off_the_line_um));
    }
}

TEST(Track, InvertsEveryWay) {
    const Rational tracks_per_s(300);
    for (const Case& c : all_cases()) {
        const double moving = track_angle_moving_deg(c.tip_m_s, c.tape_mm_s, c.angle_deg, c.motion);
        EXPECT_NEAR(track_angle_still_deg(c.tip_m_s, c.tape_mm_s, moving, c.motion), c.angle_deg, 1e-9);
        const double writing = writing_speed_m_s(c.tip_m_s, c.tape_mm_s, c.angle_deg, c.motion);
        EXPECT_NEAR(writing_speed_on_track_m_s(c.tip_m_s, c.tape_mm_s, moving, c.motion), writing, 1e-9 * writing);
        EXPECT_NEAR(tape_speed_of_pitch_mm_s(track_pitch_um(c.tape_mm_s, tracks_per_s, moving), tracks_per_s, moving),
                    c.tape_mm_s, 1e-9 * c.tape_mm_s + 1e-12);
    }
}

TEST(Track, TurnsSteeperWhenTheHeadsRunWithTheTape) {
    double last_angle = 6, last_speed = 5.8;
    for (const double tape : {10.0, 20.0, 40.0, 80.0}) {
        const double angle = track_angle_moving_deg(5.8, tape, 6, HeadMotion::WithTape);
        const double speed = writing_speed_m_s(5.8, tape, 6, HeadMotion::WithTape);
        EXPECT_GT(angle, last_angle);
        EXPECT_LT(speed, last_speed);
        EXPECT_LT(track_angle_moving_deg(5.8, tape, 6, HeadMotion::AgainstTape), 6);
        EXPECT_GT(writing_speed_m_s(5.8, tape, 6, HeadMotion::AgainstTape), 5.8);
        last_angle = angle, last_speed = speed;
    }
}

TEST(Track, OfAStillTapeIsTheHeadsOwnWay) {
    EXPECT_NEAR(track_angle_moving_deg(5.8, 0, 6, HeadMotion::WithTape), 6, 1e-12);
    EXPECT_NEAR(writing_speed_m_s(5.8, 0, 6, HeadMotion::AgainstTape), 5.8, 1e-12);
    EXPECT_EQ(track_pitch_um(0, Rational(50), 6), 0);
}

TEST(TrackLength, IsWritingSpeedOverTracksASecond) {
    EXPECT_DOUBLE_EQ(track_length_mm(5, Rational(50)), 100);
    EXPECT_NEAR(track_height_mm(100, 30), 50, 1e-12);
    EXPECT_DOUBLE_EQ(tracks_per_mm(25, Rational(50)), 2);
}

TEST(TipSpeed, IsThePathOfOneTurnTimesTheTurns) { EXPECT_NEAR(tip_speed_m_s(100, 10), std::numbers::pi, 1e-12); }

TEST(Track, RefusesWhatCannotBe) {
    EXPECT_THROW(tip_speed_m_s(0, 25), DomainError);
    EXPECT_THROW(tip_speed_m_s(62, -1), DomainError);
    EXPECT_THROW(writing_speed_m_s(0, 20, 6, HeadMotion::WithTape), DomainError);
    EXPECT_THROW(writing_speed_m_s(5, -20, 6, HeadMotion::WithTape), DomainError);
    EXPECT_THROW(writing_speed_m_s(5, 20, 181, HeadMotion::WithTape), DomainError);
    EXPECT_THROW(writing_speed_on_track_m_s(0.01, 20, 6, HeadMotion::WithTape), DomainError)
        << "the tape overtakes the heads";
    EXPECT_THROW(track_pitch_um(20, Rational(0), 6), DomainError);
    EXPECT_THROW(tape_speed_of_pitch_mm_s(50, Rational(50), 0), DomainError);
    EXPECT_THROW(tracks_per_mm(0, Rational(50)), DomainError);
    EXPECT_THROW(track_length_mm(5, Rational(-1)), DomainError);
    EXPECT_THROW(track_angle_moving_deg(5, 20, std::nan(""), HeadMotion::WithTape), DomainError);
}

}  // namespace
}  // namespace guardband::calc
