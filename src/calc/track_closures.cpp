#include <cmath>

#include "calc/closure_makers.h"
#include "calc/track_geometry.h"

namespace guardband::calc {
namespace {

using table::Fact;

constexpr double track_rate_share = 0.0005;  // claim: rates are exact; printed ones are rounded to five digits at worst
constexpr double speed_share = 0.02;         // claim of the table: pitch and writing speed to 2 %
constexpr double angle_in_seconds_deg =
    0.001;  // allowed for an angle given in minutes and seconds, an exact expression without rounding: 3.6″

/// A figure against what it follows from, within a share of itself.
Closure within_share(ClosureKind kind, const char* key, const char* unit, const Worked& worked,
                     const ClosurePlace& place) {
    Comparison c{kind, key, unit, "2 %"};
    c.bearer = place.fact(key);
    if (c.bearer == nullptr)
        add_missing(c.missing, std::string(to_string(kind)));
    else
        c.printed = c.bearer->in(unit), c.printed_side.facts = {c.bearer};
    add_missing(c.missing, worked.missing);
    c.derived_side.facts = worked.facts;
    if (worked.spread) c.derived = worked.spread->value;
    c.remark = worked.assumption;
    c.agrees = c.missing.empty() && std::abs(*c.derived - *c.printed) <= speed_share * *c.printed;
    return judged(c, place);
}

std::vector<const Fact*> field_rate_of(const ClosurePlace& place) {
    const table::Scanning* scanning = place.table.find_scanning(place.mode->system);
    return scanning == nullptr ? std::vector<const Fact*>{}
                               : std::vector<const Fact*>{scanning->facts.known("field_rate")};
}

/// Heads may pass more often than they write: a drum can carry heads that rest, or more heads than tracks in a turn.
Closure track_rate_closure(const TrackFacts& facts, const ClosurePlace& place) {
    Comparison c{ClosureKind::TrackRate, "drum_speed", "Hz", "0.05 %"};
    c.bearer = facts.drum_speed;
    if (facts.heads == nullptr) add_missing(c.missing, "video heads");
    if (facts.drum_speed == nullptr) add_missing(c.missing, "drum speed");
    if (!facts.tracks_per_s) add_missing(c.missing, "rate of tracks");
    if (c.missing.empty()) {
        c.derived = facts.heads->in("") * facts.drum_speed->in("rev/s");
        const double tracks = facts.tracks_per_s->value();
        const double passes_per_track = std::max(1.0, std::round(*c.derived / tracks));
        c.printed = passes_per_track * tracks;
        c.printed_side = {facts.track_rate_facts, field_rate_of(place)};
        c.derived_side.facts = {facts.heads, facts.drum_speed};
        if (passes_per_track > 1) c.remark = "tracks a second times " + quantity::shortest(passes_per_track);
        c.agrees = std::abs(*c.derived - *c.printed) <= track_rate_share * *c.printed;
    }
    return judged(c, place);
}

/// The angle that follows, whichever way the heads run: the given one, or if the file gives none, the one that comes
/// nearer to the printed angle.
Worked nearest_moving_angle(const TrackFacts& facts, double printed_deg) {
    if (facts.motion) return angle_moving_from_still(facts, *facts.motion);
    Worked with = angle_moving_from_still(facts, HeadMotion::WithTape),
           against = angle_moving_from_still(facts, HeadMotion::AgainstTape);
    if (!with.spread) return with;
    const bool with_is_nearer =
        std::abs(with.spread->value - printed_deg) <= std::abs(against.spread->value - printed_deg);
    Worked& nearest = with_is_nearer ? with : against;
    nearest.assumption = "the file does not say which way the heads run; with one of the two ways";
    return nearest;
}

Closure moving_angle_closure(const TrackFacts& facts, const ClosurePlace& place) {
    Comparison c{ClosureKind::MovingAngle, "track_angle_moving", "deg", ""};
    c.bearer = facts.angle_moving;
    const Input printed = c.bearer == nullptr ? Input{} : input_of(*c.bearer, "deg");
    if (c.bearer == nullptr)
        add_missing(c.missing, "track angle, tape moving");
    else
        c.printed = printed.value, c.printed_side.facts = {c.bearer};
    const Worked worked = nearest_moving_angle(facts, printed.value);
    add_missing(c.missing, worked.missing);
    c.derived_side.facts = worked.facts;
    c.remark = worked.assumption;
    if (worked.spread) c.derived = worked.spread->value;
    if (c.missing.empty()) {
        const double allowed =
            (printed.half_width > 0 ? printed.half_width : angle_in_seconds_deg) + worked.spread->worst;
        c.tolerance = quantity::shortest(std::round(allowed * 1e4) / 1e4) + " deg";
        c.agrees = std::abs(*c.derived - *c.printed) <= allowed;
    }
    return judged(c, place);
}

Closure guard_band_closure(const Fact& guard, const ClosurePlace& place) {
    Comparison c{ClosureKind::GuardBand, "guard_band", "µm", ""};
    c.bearer = &guard;
    const Input printed = input_of(guard, "µm");
    c.printed = printed.value, c.printed_side.facts = {&guard};
    const Fact *pitch = place.fact("track_pitch"), *width = place.fact("track_width"),
               *colour = place.fact("colour_track_width");
    if (pitch == nullptr) add_missing(c.missing, "track pitch");
    if (width == nullptr) add_missing(c.missing, "track width");
    if (!c.missing.empty()) return judged(c, place);
    double allowed = printed.half_width;
    double left = 0;
    for (const auto& [fact, sign] : {std::pair{pitch, 1}, std::pair{width, -1}, std::pair{colour, -1}}) {
        if (fact == nullptr) continue;
        const Input input = input_of(*fact, "µm");
        left += sign * input.value, allowed += input.half_width;
        c.derived_side.facts.push_back(fact);
    }
    c.derived = left;
    c.tolerance = quantity::shortest(std::round(allowed * 1e2) / 1e2) + " µm";
    c.agrees = std::abs(left - printed.value) <= allowed * (1 + 1e-9);
    return judged(c, place);
}

/// A lower bound where heads write side by side: their tracks are longer than the way from one start to the next.
Closure track_height_closure(const TrackFacts& facts, const ClosurePlace& place) {
    Comparison c{ClosureKind::TrackHeight, "width", "mm", "at most"};
    c.bearer = place.format.tape.known("width");
    const Fact* sides = place.format.tape.known("sides");
    const Worked writing = writing_speed(facts);
    add_missing(c.missing, writing.missing);
    if (!facts.tracks_per_s) add_missing(c.missing, "rate of tracks");
    const Fact* angle = facts.angle_moving != nullptr ? facts.angle_moving : facts.angle_still;
    if (angle == nullptr) add_missing(c.missing, "track angle");
    if (c.bearer == nullptr)
        add_missing(c.missing, "tape width");
    else
        c.printed = c.bearer->in("mm") / (sides == nullptr ? 1 : sides->in("")), c.printed_side.facts = {c.bearer};
    if (!c.missing.empty()) return judged(c, place);
    c.derived = track_height_mm(track_length_mm(writing.spread->value, *facts.tracks_per_s), angle->in("deg"));
    c.derived_side.facts = writing.facts;
    c.derived_side.facts.push_back(angle);
    c.derived_side.facts.insert(c.derived_side.facts.end(), facts.track_rate_facts.begin(),
                                facts.track_rate_facts.end());
    c.remark = writing.assumption;
    c.agrees = *c.derived <= *c.printed;
    return judged(c, place);
}

}  // namespace

std::vector<Closure> track_closures(const ClosurePlace& place) {
    const TrackFacts facts = track_facts(place.table, place.format, *place.mode);
    const Closure writing =
        within_share(ClosureKind::WritingSpeed, "writing_speed", "m/s", writing_speed(facts), place);
    if (facts.heads_stand_still) return {writing};
    std::vector<Closure> all;
    if (facts.track_rate_assumption.empty()) all.push_back(track_rate_closure(facts, place));
    all.push_back(within_share(ClosureKind::TrackPitch, "track_pitch", "µm", track_pitch(facts), place));
    all.push_back(writing);
    all.push_back(moving_angle_closure(facts, place));
    if (const Fact* guard = place.fact("guard_band")) all.push_back(guard_band_closure(*guard, place));
    all.push_back(track_height_closure(facts, place));
    return all;
}

}  // namespace guardband::calc
