#include "calc/track_geometry.h"

#include <array>
#include <cmath>
#include <functional>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Figure;
using quantity::Rational;
using table::Fact;

class NoNames : public quantity::Names {
    Rational value(std::string_view name) const override {
        throw quantity::DomainError("no name " + std::string(name) + " stands in a printed number");
    }
};

/// The number that a fact gives, to the last digit; a rate is turned into 1/s.
Rational exact_of(const Fact& fact) {
    const Rational value = fact.exact ? *fact.exact : quantity::evaluate(fact.printed, NoNames{});
    return fact.unit->to_base < 1 ? value / Rational(std::llround(1 / fact.unit->to_base)) : value;
}

bool reads(const Fact* fact, std::string_view text) { return fact != nullptr && fact->printed == text; }

void add_track_rate(TrackFacts& facts, const table::Scanning& scanning, const table::TapeFormat& format,
                    const table::Mode& mode) {
    if (const Fact* rate = format.fact_in(mode, "tracks_per_second")) {
        facts.tracks_per_s = exact_of(*rate);
        facts.track_rate_facts = {rate};
    } else if (const Fact* per_field = format.fact_in(mode, "tracks_per_field")) {
        facts.tracks_per_s = exact_of(*per_field) * scanning.field_rate();
        facts.track_rate_facts = {per_field};
    } else if (facts.drum_speed != nullptr && facts.heads != nullptr && !facts.heads_stand_still) {
        facts.tracks_per_s = exact_of(*facts.drum_speed) * exact_of(*facts.heads);
        facts.track_rate_facts = {facts.drum_speed, facts.heads};
        facts.track_rate_assumption = "each head writes one track a turn";
    }
}

/// Names of the facts that are not there.
std::string missing_of(std::initializer_list<std::pair<const Fact*, const char*>> facts) {
    std::string names;
    for (const auto& [fact, name] : facts)
        if (fact == nullptr) names += (names.empty() ? "" : ", ") + std::string(name);
    return names;
}

Worked missing(std::string what) { return {{}, {}, std::move(what), {}}; }

/// A fact as it stands in the table.
Worked given(const Fact& fact, std::string_view unit) {
    return {spread_of([](std::span<const double> x) { return x[0]; }, {input_of(fact, unit)}), {&fact}, {}, {}};
}

/// The angle that the file itself gives, if one of the two is no computation; else any.
const Fact* angle_of(const TrackFacts& facts) {
    const std::array<const Fact*, 2> angles{facts.angle_moving, facts.angle_still};
    for (const Fact* angle : angles)
        if (angle != nullptr && angle->standing != table::Standing::Computed) return angle;
    return facts.angle_moving != nullptr ? facts.angle_moving : facts.angle_still;
}

std::string missing_for_tip(const TrackFacts& facts) {
    if (facts.heads_stand_still) return "a drum: the heads stand still";
    return missing_of({{facts.diameter, "drum diameter"}, {facts.drum_speed, "drum speed"}});
}

/// Both ends of what the tape's speed can do when nobody says which way the heads run.
Worked writing_speed_either_way(const TrackFacts& facts) {
    Worked worked = tip_speed(facts);
    const double tape_m_s = facts.tape_speed->in("m/s");
    worked.spread->worst += tape_m_s;
    worked.spread->standard_uncertainty = std::hypot(worked.spread->standard_uncertainty, tape_m_s / std::sqrt(3.0));
    worked.assumption = "which way the heads run is not known: the tip speed, give or take the tape’s";
    return worked;
}

/// Below it the sum of the speeds is that along the edge to a part in a thousand, so a writing speed does not rest on
/// the angle's figure.
constexpr double shallow_deg = 20;

using SpeedAtAngle = double (*)(double, double, double, HeadMotion);

/// A result that takes the tip speed, the tape's speed and one angle.
Worked from_angle(const TrackFacts& facts, const Fact* angle, const char* angle_name, HeadMotion motion,
                  SpeedAtAngle formula) {
    std::string lacking = missing_for_tip(facts);
    const std::string more = missing_of({{facts.tape_speed, "tape speed"}, {angle, angle_name}});
    if (!lacking.empty() && !more.empty()) lacking += ", ";
    lacking += more;
    if (!lacking.empty()) return missing(lacking);
    const auto at = [=](std::span<const double> x) { return formula(tip_speed_m_s(x[0], x[1]), x[2], x[3], motion); };
    return {spread_of(at, {input_of(*facts.diameter, "mm"), input_of(*facts.drum_speed, "rev/s"),
                           input_of(*facts.tape_speed, "mm/s"), input_of(*angle, "deg")}),
            {facts.diameter, facts.drum_speed, facts.tape_speed, angle},
            {},
            {}};
}

Worked writing_speed_without_angle(const TrackFacts& facts) {
    const double angle_deg = facts.is_transverse ? 90 : 0;
    const auto at = [&](std::span<const double> x) {
        return writing_speed_m_s(tip_speed_m_s(x[0], x[1]), x[2], angle_deg, *facts.motion);
    };
    return {spread_of(at, {input_of(*facts.diameter, "mm"), input_of(*facts.drum_speed, "rev/s"),
                           input_of(*facts.tape_speed, "mm/s")}),
            {facts.diameter, facts.drum_speed, facts.tape_speed},
            {},
            "the angle is not known: taken as shallow"};
}

Worked angle_moving(const TrackFacts& facts) {
    if (facts.angle_moving != nullptr) return given(*facts.angle_moving, "deg");
    if (facts.angle_still == nullptr) return missing("track angle");
    return facts.motion ? angle_moving_from_still(facts, *facts.motion) : missing("which way the heads run");
}

Worked angle_still(const TrackFacts& facts) {
    if (facts.angle_still != nullptr) return given(*facts.angle_still, "deg");
    if (facts.angle_moving == nullptr) return missing("track angle");
    return facts.motion ? angle_still_from_moving(facts, *facts.motion) : missing("which way the heads run");
}

/// A result as an input of the next: the half-width that has its standard uncertainty, so that uncertainties keep
/// adding in quadrature.
Input input_of(const Spread& spread) { return {spread.value, spread.standard_uncertainty * std::sqrt(3.0)}; }

/// A result of two others, each known or not.
Figure combined(const Worked& a, const Worked& b, std::string_view unit,
                const std::function<double(double, double)>& formula) {
    if (!a.spread || !b.spread)
        return Figure::unknown("the table does not give: " + (a.spread ? b.missing : a.missing));
    return figure_of(spread_of([&](std::span<const double> x) { return formula(x[0], x[1]); },
                               {input_of(*a.spread), input_of(*b.spread)}),
                     unit);
}

Worked track_rate(const TrackFacts& facts) {
    if (!facts.tracks_per_s) return missing("rate of tracks");
    return {Spread{facts.tracks_per_s->value()}, facts.track_rate_facts, {}, facts.track_rate_assumption};
}

}  // namespace

Figure Worked::figure(std::string_view unit) const {
    if (!spread) return Figure::unknown("the table does not give: " + missing);
    Figure figure = figure_of(*spread, unit);
    return assumption.empty() ? figure : figure.with_note(assumption);
}

TrackFacts track_facts(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    TrackFacts facts;
    facts.diameter = format.fact_in(mode, "diameter");
    facts.drum_speed = format.fact_in(mode, "drum_speed");
    facts.heads = format.fact_in(mode, "heads");
    facts.tape_speed = format.fact_in(mode, "tape_speed");
    facts.angle_still = format.fact_in(mode, "track_angle_still");
    facts.angle_moving = format.fact_in(mode, "track_angle_moving");
    const Fact* motion = format.facts.known("head_motion");
    if (reads(motion, "with the tape")) facts.motion = HeadMotion::WithTape;
    if (reads(motion, "against the tape")) facts.motion = HeadMotion::AgainstTape;
    facts.heads_stand_still = reads(format.facts.known("recording"), "fixed head");
    facts.is_transverse = reads(format.facts.known("recording"), "transverse");
    if (const table::Scanning* scanning = table.find_scanning(mode.system))
        add_track_rate(facts, *scanning, format, mode);
    return facts;
}

Worked tip_speed(const TrackFacts& facts) {
    if (std::string lacking = missing_for_tip(facts); !lacking.empty()) return missing(std::move(lacking));
    const auto at = [](std::span<const double> x) { return tip_speed_m_s(x[0], x[1]); };
    return {spread_of(at, {input_of(*facts.diameter, "mm"), input_of(*facts.drum_speed, "rev/s")}),
            {facts.diameter, facts.drum_speed},
            {},
            {}};
}

Worked writing_speed(const TrackFacts& facts) {
    if (facts.tape_speed == nullptr) return missing("tape speed");
    if (facts.heads_stand_still) {
        Worked worked = given(*facts.tape_speed, "m/s");
        worked.assumption = "the heads stand still";
        return worked;
    }
    if (std::string lacking = missing_for_tip(facts); !lacking.empty()) return missing(std::move(lacking));
    const Fact* angle = angle_of(facts);
    if (!facts.motion) return writing_speed_either_way(facts);
    if (angle == nullptr) return writing_speed_without_angle(facts);
    Worked worked = from_angle(facts, angle, "", *facts.motion,
                               angle == facts.angle_still ? writing_speed_m_s : writing_speed_on_track_m_s);
    if (angle->in("deg") < shallow_deg) worked.facts.pop_back();
    return worked;
}

Worked angle_moving_from_still(const TrackFacts& facts, HeadMotion motion) {
    return from_angle(facts, facts.angle_still, "track angle with the tape still", motion, track_angle_moving_deg);
}

Worked angle_still_from_moving(const TrackFacts& facts, HeadMotion motion) {
    return from_angle(facts, facts.angle_moving, "track angle with the tape moving", motion, track_angle_still_deg);
}

Worked track_pitch(const TrackFacts& facts) {
    if (facts.tape_speed == nullptr) return missing("tape speed");
    if (!facts.tracks_per_s) return missing("rate of tracks");
    Worked worked = angle_moving(facts);
    if (!worked.spread) return worked;
    const auto at = [&](std::span<const double> x) { return track_pitch_um(x[0], *facts.tracks_per_s, x[1]); };
    worked.spread = spread_of(at, {input_of(*facts.tape_speed, "mm/s"), input_of(*worked.spread)});
    worked.facts.push_back(facts.tape_speed);
    worked.facts.insert(worked.facts.end(), facts.track_rate_facts.begin(), facts.track_rate_facts.end());
    worked.assumption = facts.track_rate_assumption;
    return worked;
}

TrackGeometry track_geometry(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const TrackFacts facts = track_facts(table, format, mode);
    const Worked rate = track_rate(facts), writing = writing_speed(facts), moving = angle_moving(facts);
    const Worked speed = facts.tape_speed == nullptr ? missing("tape speed") : given(*facts.tape_speed, "mm/s");
    TrackGeometry tracks{
        rate.figure("Hz"),    tip_speed(facts).figure("m/s"),  writing.figure("m/s"), angle_still(facts).figure("deg"),
        moving.figure("deg"), track_pitch(facts).figure("µm"), Figure::unknown(""),   Figure::unknown(""),
        Figure::unknown("")};
    tracks.length_mm =
        combined(writing, rate, "mm", [&](double w, double) { return track_length_mm(w, *facts.tracks_per_s); });
    tracks.tracks_per_mm =
        combined(speed, rate, "", [&](double v, double) { return tracks_per_mm(v, *facts.tracks_per_s); });
    if (writing.spread && facts.tracks_per_s)
        tracks.height_mm = combined(writing, moving, "mm", [&](double w, double angle) {
            return track_height_mm(track_length_mm(w, *facts.tracks_per_s), angle);
        });
    else
        tracks.height_mm = Figure::unknown(tracks.length_mm.reason());
    return tracks;
}

}  // namespace guardband::calc
