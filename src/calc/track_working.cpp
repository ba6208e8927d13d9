#include "calc/track_working.h"

#include <fmt/format.h>

#include "calc/spread_text.h"
#include "quantity/rational.h"

namespace guardband::calc {
namespace {

using quantity::Figure;
using table::Fact;

constexpr const char* vectors = "plain vector addition";

/// A fact's value in a unit, with what it may be off.
Given given(const char* symbol, const char* meaning, const Fact& fact, const char* unit) {
    return {symbol, meaning, quantity_text(input_of(fact, unit), unit), &fact};
}

Given worked(const char* symbol, const char* meaning, const Figure& figure) {
    return {symbol, meaning, quantity_text(figure), nullptr, "worked out"};
}

std::string number_of(const Figure& figure) { return number_text(figure.number().value_or(0)); }

/// Adds a step if its result is known.
void add(Working& working, const Figure& result, Step step) {
    if (!result.is_known()) return;
    step.result = quantity_text(result);
    working.push_back(std::move(step));
}

Given rate_of(const TrackFacts& facts) {
    const Fact* from = facts.track_rate_facts.empty() ? nullptr : facts.track_rate_facts.front();
    return {"f", "tracks a second", quantity::to_string(*facts.tracks_per_s) + " Hz", from,
            from != nullptr && from->key == "tracks_per_field" ? "times the field rate" : "times the heads"};
}

void add_speeds(Working& working, const TrackFacts& facts, const TrackGeometry& tracks) {
    if (facts.diameter == nullptr || facts.drum_speed == nullptr) return;
    add(working, tracks.tip_speed_m_s,
        {"speed of the heads' tips",
         "s = π D n",
         fmt::format("π × {} mm × {} rev/s", plain_text(facts.diameter->in("mm")),
                     plain_text(facts.drum_speed->in("rev/s"))),
         {},
         {given("D", "drum diameter", *facts.diameter, "mm"), given("n", "drum speed", *facts.drum_speed, "rev/s")},
         "plain geometry"});
    if (!facts.motion || facts.tape_speed == nullptr) return;
    const bool with = *facts.motion == HeadMotion::WithTape;
    Step step{with ? "writing speed, heads running with the tape" : "writing speed, heads running against the tape",
              with ? "w = √(s² + v² − 2 s v cos φ)" : "w = √(s² + v² + 2 s v cos φ)",
              {},
              {},
              {worked("s", "tip speed", tracks.tip_speed_m_s), given("v", "tape speed", *facts.tape_speed, "mm/s")},
              vectors};
    if (tracks.angle_still_deg.is_known()) {
        const std::string s = number_of(tracks.tip_speed_m_s), v = plain_text(facts.tape_speed->in("m/s"));
        step.numbers = fmt::format("√({}² + {}² {} 2 × {} × {} × cos {}°)", s, v, with ? "−" : "+", s, v,
                                   number_of(tracks.angle_still_deg));
        step.givens.push_back(facts.angle_still != nullptr ? given("φ", "angle, tape still", *facts.angle_still, "deg")
                                                           : worked("φ", "angle, tape still", tracks.angle_still_deg));
    }
    add(working, tracks.writing_speed_m_s, std::move(step));
}

void add_angle(Working& working, const TrackFacts& facts, const TrackGeometry& tracks) {
    if (!facts.motion || facts.tape_speed == nullptr || !tracks.tip_speed_m_s.is_known()) return;
    const bool with = *facts.motion == HeadMotion::WithTape;
    const std::string s = number_of(tracks.tip_speed_m_s), v = plain_text(facts.tape_speed->in("m/s"));
    if (facts.angle_moving == nullptr && facts.angle_still != nullptr) {
        const std::string phi = number_of(tracks.angle_still_deg);
        add(working, tracks.angle_moving_deg,
            {"angle of the tracks, from that of the drum",
             with ? "tan θ = s sin φ / (s cos φ − v)" : "tan θ = s sin φ / (s cos φ + v)",
             fmt::format("{} × sin {}° / ({} × cos {}° {} {})", s, phi, s, phi, with ? "−" : "+", v),
             {},
             {worked("s", "tip speed", tracks.tip_speed_m_s), given("v", "tape speed", *facts.tape_speed, "mm/s"),
              given("φ", "angle, tape still", *facts.angle_still, "deg")},
             vectors});
    }
    if (facts.angle_still == nullptr && facts.angle_moving != nullptr) {
        const std::string theta = number_of(tracks.angle_moving_deg), w = number_of(tracks.writing_speed_m_s);
        add(working, tracks.angle_still_deg,
            {"angle of the drum, from that of the tracks",
             with ? "tan φ = w sin θ / (w cos θ + v)" : "tan φ = w sin θ / (w cos θ − v)",
             fmt::format("{} × sin {}° / ({} × cos {}° {} {})", w, theta, w, theta, with ? "+" : "−", v),
             {},
             {worked("w", "writing speed", tracks.writing_speed_m_s),
              given("v", "tape speed", *facts.tape_speed, "mm/s"),
              given("θ", "angle, tape moving", *facts.angle_moving, "deg")},
             vectors});
    }
}

void add_tracks(Working& working, const TrackFacts& facts, const TrackGeometry& tracks) {
    if (!facts.tracks_per_s || facts.tape_speed == nullptr) return;
    const std::string v = plain_text(facts.tape_speed->in("mm/s")), f = number_text(facts.tracks_per_s->value());
    const Given speed = given("v", "tape speed", *facts.tape_speed, "mm/s"), rate = rate_of(facts);
    const Given angle = facts.angle_moving != nullptr ? given("θ", "angle, tape moving", *facts.angle_moving, "deg")
                                                      : worked("θ", "angle, tape moving", tracks.angle_moving_deg);
    add(working, tracks.pitch_um,
        {"track pitch",
         "p = (v / f) sin θ",
         fmt::format("{} mm/s / {} Hz × sin {}°", v, f, number_of(tracks.angle_moving_deg)),
         {},
         {speed, rate, angle},
         "plain geometry"});
    add(working, tracks.length_mm,
        {"length of a track",
         "l = w / f",
         fmt::format("{} m/s / {} Hz", number_of(tracks.writing_speed_m_s), f),
         {},
         {worked("w", "writing speed", tracks.writing_speed_m_s), rate},
         "definition"});
    add(working, tracks.height_mm,
        {"how far it reaches across the tape",
         "h = l sin θ",
         fmt::format("{} mm × sin {}°", number_of(tracks.length_mm), number_of(tracks.angle_moving_deg)),
         {},
         {worked("l", "length of a track", tracks.length_mm), angle},
         "plain geometry"});
    add(working, tracks.tracks_per_mm,
        {"tracks along the edge", "N = f / v", fmt::format("{} Hz / {} mm/s", f, v), {}, {rate, speed}, "definition"});
}

/// One step for all carriers.
Working wavelengths_working(const std::vector<Carrier>& carriers) {
    Step step{"wavelengths of the carriers", "λ = w / f", {}, {}, {}, "definition"};
    for (const Carrier& carrier : carriers) {
        if (!carrier.wavelength.spread) continue;
        const double w = carrier.wavelength.spread->value * carrier.frequency_mhz();
        if (step.result.empty()) {
            step.numbers = number_text(w) + " m/s / f";
            step.givens.push_back({"w", "writing speed", quantity_text(w, 0, "m/s"), nullptr, "worked out"});
            if (!carrier.wavelength.assumption.empty()) step.source += "; " + carrier.wavelength.assumption;
        }
        step.result += (step.result.empty() ? "" : ", ") + number_text(carrier.wavelength.spread->value);
        step.givens.push_back({"f", carrier.name, quantity_text(input_of(*carrier.fact, "MHz"), "MHz"), carrier.fact});
    }
    if (step.result.empty()) return {};
    step.result += " µm";
    return {step};
}

Given width(const char* symbol, const char* meaning, const Width& of) {
    return {symbol, meaning, width_text(of), of.fact, of.origin};
}

void add_pick_up(Working& working, const Playback& answer, const PickUp& at) {
    if (!at.pick_up_db.is_known()) return;
    working.push_back({"pick-up of both neighbours at " + at.carrier.name + ", the most",
                       "P = 20 log₁₀(√2 min(b, λ / (π tan α)) / o)",
                       fmt::format("20 log₁₀(√2 min({}, {} / (π tan {}°)) / {})", number_of(answer.neighbour_um),
                                   number_text(at.carrier.wavelength.spread->value),
                                   number_of(answer.other_azimuth_deg), number_of(answer.own_um)),
                       quantity_text(at.pick_up_db),
                       {worked("b", "width read of a neighbour", answer.neighbour_um),
                        worked("o", "width read of the own track", answer.own_um),
                        worked("λ", "wavelength", at.carrier.wavelength.figure("µm")),
                        worked("α", "between gap and neighbour's lines", answer.other_azimuth_deg)},
                       "mean of the wave along the gap; common practice, no source"});
}

void add_angle_between(Working& working, const Playback& answer) {
    if (!answer.other_azimuth_deg.is_known()) return;
    add(working, answer.other_azimuth_deg,
        {"angle between the head's gap and the neighbour's lines",
         "α = α₁ + α₂",
         fmt::format("{}° + {}°", plain_text(answer.machine_azimuth->in("deg")),
                     plain_text(answer.tape_azimuth->in("deg"))),
         {},
         {given("α₁", "azimuth of the machine's heads", *answer.machine_azimuth, "deg"),
          given("α₂", "azimuth of the recording", *answer.tape_azimuth, "deg")},
         "plain geometry"});
}

/// Of two drums: both paths as they lie on the tape.
Step two_drums_step(const CrossOver& cross, const char* meaning) {
    const auto along = [](const Sweep& sweep) {
        return fmt::format("{} cos {}° {} {}", number_text(sweep.tip_speed_m_s), number_text(sweep.angle_still_deg),
                           sweep.motion == HeadMotion::WithTape ? "−" : "+", number_text(sweep.tape_speed_mm_s / 1e3));
    };
    const auto across = [](const Sweep& sweep) {
        return fmt::format("{} sin {}°", number_text(sweep.tip_speed_m_s), number_text(sweep.angle_still_deg));
    };
    const Sweep &tape = cross.recorder, &player = cross.player;
    return {meaning,
            "c = f / (f′ v) |s′ cos φ′ ∓ v′ − s′ sin φ′ (s cos φ ∓ v) / (s sin φ)|",
            fmt::format("{} / ({} × {}) |{} − {} ({}) / ({})|", number_text(tape.tracks_per_s),
                        number_text(player.tracks_per_s), number_text(tape.tape_speed_mm_s / 1e3), along(player),
                        across(player), along(tape), across(tape)),
            {},
            {{"s′ φ′ v′", "of the machine that plays", "with a stroke", nullptr, "its mode's"},
             {"s φ v", "of the recording", "without", nullptr, "this mode's"}},
            vectors};
}

void add_cross_over(Working& working, const CrossOver& cross, const char* meaning) {
    if (!cross.one_drum) return add(working, cross.tracks_per_sweep, two_drums_step(cross, meaning));
    add(working, cross.tracks_per_sweep,
        {meaning,
         "c = |v′ / v − 1|",
         fmt::format("|{} / {} − 1|", number_of(cross.tape_speed_mm_s), number_of(cross.recorded_mm_s)),
         {},
         {worked("v′", "tape speed as it is played", cross.tape_speed_mm_s),
          worked("v", "tape speed of the recording", cross.recorded_mm_s)},
         vectors});
}

}  // namespace

Working track_working(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const TrackFacts facts = track_facts(table, format, mode);
    const TrackGeometry tracks = track_geometry(table, format, mode);
    Working working;
    add_speeds(working, facts, tracks);
    add_angle(working, facts, tracks);
    add_tracks(working, facts, tracks);
    const Working waves = carriers_working(table, format, mode);
    working.insert(working.end(), waves.begin(), waves.end());
    return working;
}

Working carriers_working(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    return wavelengths_working(carriers_of(table, format, mode));
}

Working playback_working(const Playback& answer) {
    Working working;
    add(working, answer.own_um,
        {"width of its own track that the head reads",
         "o = overlap of h and t about one middle",
         {},
         {},
         {width("h", "head", answer.head), width("t", "track", answer.track)},
         "plain geometry"});
    add(working, answer.neighbour_um,
        {"width that it reads of each neighbour",
         "b = overlap of h with t, p off the middle",
         {},
         {},
         {width("p", "track pitch", answer.pitch)},
         "plain geometry"});
    add_angle_between(working, answer);
    for (const PickUp& at : answer.pick_ups) add_pick_up(working, answer, at);
    if (answer.at_machine_speed)
        add_cross_over(working, *answer.at_machine_speed, "tracks crossed in a sweep at the machine's tape speed");
    if (answer.at_tape_speed) add_cross_over(working, *answer.at_tape_speed, "the same at the recording's tape speed");
    return working;
}

Working shuttle_working(const Shuttle& answer, const TrackFacts& facts) {
    Working working;
    const std::string times = plain_text(answer.times_play);
    working.push_back({"tracks that a head crosses in one sweep",
                       "c = |X − 1|",
                       fmt::format("|{} − 1|", times),
                       number_text(answer.tracks_per_sweep),
                       {{"X", "tape speed, times play", times, nullptr, "given"}},
                       vectors});
    if (!answer.bars_per_field.is_known()) return working;
    const bool alternate = *answer.azimuths_alternate;
    Step bars{alternate ? "noise bars in a field: every second track is of the other azimuth"
                        : "noise bars in a field: one at each change of track",
              alternate ? "B = c F / 2" : "B = c F",
              fmt::format("{} × {}{}", number_text(answer.tracks_per_sweep), number_text(*answer.tracks_per_field),
                          alternate ? " / 2" : ""),
              number_of(answer.bars_per_field),
              {{"F", "tracks a field", number_text(*answer.tracks_per_field),
                facts.track_rate_facts.empty() ? nullptr : facts.track_rate_facts.front()}},
              "geometry; common practice, no source"};
    working.push_back(std::move(bars));
    add(working, answer.line_rate_ratio,
        {"line rate over that of play, drum not corrected",
         "r = w′ cos(θ′ − θ) / w",
         "w′, θ′: speed and angle of the head on the shuttled tape",
         {},
         {},
         vectors});
    return working;
}

}  // namespace guardband::calc
