#include "calc/track.h"

#include <cmath>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

double radians(double degrees) { return degrees * std::numbers::pi / 180; }
double degrees(double radians) { return radians * 180 / std::numbers::pi; }

/// The tape's own speed as it adds to the head's along the edge: -v when both run the same way. In m/s.
double added_m_s(double tape_speed_mm_s, HeadMotion motion) {
    return (motion == HeadMotion::WithTape ? -1 : 1) * tape_speed_mm_s / 1e3;
}

void require_possible(double tip_speed_m_s, double tape_speed_mm_s, double angle_deg) {
    require(tip_speed_m_s > 0, "the speed of the heads must be above 0");
    require(tape_speed_mm_s >= 0, "the speed of the tape can't be negative");
    require(0 <= angle_deg && angle_deg <= 180, "a track's angle lies between 0 and 180 degrees");
}

void require_track_rate(const quantity::Rational& tracks_per_s) {
    require(tracks_per_s.numerator() > 0, "the rate of tracks must be above 0");
}

}  // namespace

double tip_speed_m_s(double diameter_mm, double drum_speed_rev_s) {
    require(diameter_mm > 0 && drum_speed_rev_s > 0, "a drum's diameter and speed must be above 0");
    return std::numbers::pi * diameter_mm / 1e3 * drum_speed_rev_s;
}

double writing_speed_m_s(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion) {
    require_possible(tip_speed_m_s, tape_speed_mm_s, angle_still_deg);
    const double phi = radians(angle_still_deg);
    return std::hypot(tip_speed_m_s * std::sin(phi),
                      tip_speed_m_s * std::cos(phi) + added_m_s(tape_speed_mm_s, motion));
}

double writing_speed_on_track_m_s(double tip_speed_m_s, double tape_speed_mm_s, double angle_moving_deg,
                                  HeadMotion motion) {
    require_possible(tip_speed_m_s, tape_speed_mm_s, angle_moving_deg);
    require(tape_speed_mm_s / 1e3 < tip_speed_m_s, "the tape must be slower than the heads");
    const double theta = radians(angle_moving_deg);
    const double across = tape_speed_mm_s / 1e3 * std::sin(theta);
    const double along_the_path = std::sqrt((tip_speed_m_s - across) * (tip_speed_m_s + across));
    return along_the_path + added_m_s(tape_speed_mm_s, motion) * std::cos(theta);
}

double track_angle_moving_deg(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion) {
    require_possible(tip_speed_m_s, tape_speed_mm_s, angle_still_deg);
    const double phi = radians(angle_still_deg);
    return degrees(
        std::atan2(tip_speed_m_s * std::sin(phi), tip_speed_m_s * std::cos(phi) + added_m_s(tape_speed_mm_s, motion)));
}

double track_angle_still_deg(double tip_speed_m_s, double tape_speed_mm_s, double angle_moving_deg, HeadMotion motion) {
    const double writing = writing_speed_on_track_m_s(tip_speed_m_s, tape_speed_mm_s, angle_moving_deg, motion);
    const double theta = radians(angle_moving_deg);
    return degrees(
        std::atan2(writing * std::sin(theta), writing * std::cos(theta) - added_m_s(tape_speed_mm_s, motion)));
}

double track_pitch_um(double tape_speed_mm_s, const quantity::Rational& tracks_per_s, double angle_moving_deg) {
    require_track_rate(tracks_per_s);
    const double advance_um = 1e3 * tape_speed_mm_s * static_cast<double>(tracks_per_s.denominator()) /
                              static_cast<double>(tracks_per_s.numerator());
    return advance_um * std::sin(radians(angle_moving_deg));
}

double tape_speed_of_pitch_mm_s(double pitch_um, const quantity::Rational& tracks_per_s, double angle_moving_deg) {
    require_track_rate(tracks_per_s);
    require(0 < angle_moving_deg && angle_moving_deg < 180, "tracks along the edge have no pitch");
    return pitch_um / 1e3 * tracks_per_s.value() / std::sin(radians(angle_moving_deg));
}

double tracks_per_mm(double tape_speed_mm_s, const quantity::Rational& tracks_per_s) {
    require(tape_speed_mm_s > 0, "the speed of the tape must be above 0");
    return tracks_per_s.value() / tape_speed_mm_s;
}

double track_length_mm(double writing_speed_m_s, const quantity::Rational& tracks_per_s) {
    require_track_rate(tracks_per_s);
    return 1e3 * writing_speed_m_s / tracks_per_s.value();
}

double track_height_mm(double track_length_mm, double angle_moving_deg) {
    return track_length_mm * std::sin(radians(angle_moving_deg));
}

}  // namespace guardband::calc
