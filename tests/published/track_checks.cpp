// Tracks as they follow from speeds and angles, against what sources print of them.
#include <gmock/gmock.h>

#include <functional>
#include <map>

#include "calc/track_geometry.h"
#include "published/check.h"

namespace guardband {
namespace {

using calc::TrackGeometry;

/// One mode of the table, worked out.
struct Place {
    const table::TapeFormat* format;
    const table::Mode* mode;
    calc::TrackFacts facts;
    TrackGeometry tracks;

    double fact(const char* key, const char* unit) const { return format->fact_in(*mode, key)->in(unit); }
};

Place place_of(const Check& c) {
    const auto [format, mode] = built_in().at(c.given.address, c.label);
    return {format, mode, calc::track_facts(built_in(), *format, *mode),
            calc::track_geometry(built_in(), *format, *mode)};
}

double lines_per_track(const Place& at) {
    return (built_in().scanning(at.mode->system, "test").line_rate() / *at.facts.tracks_per_s).value();
}
double tape_m2_per_min(const Place& at) {
    return at.fact("tape_speed", "m/s") * at.format->tape.known("width")->in("m") * 60;
}
double shortest_wave_mhz(const Place& at) {
    return at.tracks.writing_speed_m_s.number().value() / at.fact("shortest_wavelength", "µm");
}
double angle_from_still_deg(const Place& at) {
    return calc::angle_moving_from_still(at.facts, at.facts.motion.value()).spread.value().value;
}

const std::map<std::string, std::function<double(const Place&)>> results{
    {"track_pitch", [](const Place& at) { return at.tracks.pitch_um.number().value(); }},
    {"writing_speed", [](const Place& at) { return at.tracks.writing_speed_m_s.number().value(); }},
    {"tip_speed", [](const Place& at) { return at.tracks.tip_speed_m_s.number().value(); }},
    {"track_length", [](const Place& at) { return at.tracks.length_mm.number().value(); }},
    {"track_height", [](const Place& at) { return at.tracks.height_mm.number().value(); }},
    {"line_length", [](const Place& at) { return at.tracks.length_mm.number().value() / lines_per_track(at); }},
    {"track_angle_moving", angle_from_still_deg},
    {"lines_per_track", lines_per_track},
    {"tape_area_rate", tape_m2_per_min},
    {"shortest_wave_frequency", shortest_wave_mhz},
};

}  // namespace

bool holds_track(const Check& c) {
    const auto result = results.find(c.what);
    if (result == results.end()) return false;
    EXPECT_NEAR(result->second(place_of(c)), std::stod(c.expect), allowance(c));
    return true;
}

}  // namespace guardband
