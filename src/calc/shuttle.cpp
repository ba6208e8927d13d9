#include "calc/shuttle.h"

#include <cmath>
#include <numbers>

#include "calc/track_cross_over.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Figure;

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

/// Tracks from one that a head can read to the next.
double tracks_per_bar(bool azimuths_alternate) { return azimuths_alternate ? 2 : 1; }

/// Tracks of two azimuths, one after the other. A colour track beside each of the luminance makes all of the latter
/// alike.
std::optional<bool> azimuths_alternate(const table::TapeFormat& format, const table::Mode& mode) {
    if (format.fact_in(mode, "colour_track_width") != nullptr) return false;
    const table::Fact* azimuth = format.fact_in(mode, "azimuth");
    if (azimuth == nullptr) return std::nullopt;
    return azimuth->in("deg") > 0;
}

Figure line_rate(const TrackFacts& facts, const TrackGeometry& tracks, double times_play) {
    if (!facts.motion) return Figure::unknown("the table does not give: which way the heads run");
    if (!tracks.tip_speed_m_s.is_known()) return tracks.tip_speed_m_s;
    if (!tracks.angle_still_deg.is_known()) return tracks.angle_still_deg;
    const auto input = [](const Figure& figure) {
        return Input{figure.number().value(), figure.uncertainty().value_or(0) * std::sqrt(3.0)};
    };
    return figure_of(
        spread_of(
            [&](std::span<const double> x) { return line_rate_ratio(x[0], x[1], x[2], *facts.motion, times_play); },
            {input(tracks.tip_speed_m_s), input_of(*facts.tape_speed, "mm/s"), input(tracks.angle_still_deg)}),
        "");
}

}  // namespace

double tracks_crossed_at(double times_play) {
    require(std::isfinite(times_play), "a speed must be finite");
    return std::abs(times_play - 1);
}

double noise_bars_per_field(double times_play, double tracks_per_field, bool azimuths_alternate) {
    require(tracks_per_field > 0, "a field must have tracks");
    return tracks_crossed_at(times_play) * tracks_per_field / tracks_per_bar(azimuths_alternate);
}

double bar_shift_per_sweep(double times_play, bool azimuths_alternate) {
    require(std::isfinite(times_play), "a speed must be finite");
    return std::abs(std::remainder((times_play - 1) / tracks_per_bar(azimuths_alternate), 1.0));
}

double line_rate_ratio(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion,
                       double times_play) {
    require(tape_speed_mm_s > 0, "the tape must run when it is played");
    const bool backwards = times_play < 0;
    const HeadMotion against = motion == HeadMotion::WithTape ? HeadMotion::AgainstTape : HeadMotion::WithTape;
    const double writing = writing_speed_m_s(tip_speed_m_s, tape_speed_mm_s, angle_still_deg, motion);
    const double reading = writing_speed_m_s(tip_speed_m_s, std::abs(times_play) * tape_speed_mm_s, angle_still_deg,
                                             backwards ? against : motion);
    const Sweep recorder{tip_speed_m_s, angle_still_deg, tape_speed_mm_s, 1, motion},
        player{tip_speed_m_s, angle_still_deg, times_play * tape_speed_mm_s, 1, motion};
    return reading / writing * std::cos(path_to_track_deg(recorder, player) * std::numbers::pi / 180);
}

Shuttle shuttle(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
                double times_play) {
    const TrackFacts facts = track_facts(table, format, mode);
    Shuttle answer{times_play,
                   tracks_crossed_at(times_play),
                   azimuths_alternate(format, mode),
                   false,
                   Figure::unknown("the table does not give: tape speed"),
                   Figure::unknown(""),
                   Figure::unknown(""),
                   Figure::unknown("the table does not give: tape speed"),
                   {}};
    const table::Fact* data_rate = format.fact_in(mode, "data_rate");
    answer.is_digital = data_rate != nullptr && format.fact_in(mode, "luma_carrier_white") == nullptr;
    if (facts.tape_speed != nullptr) {
        answer.tape_speed_mm_s =
            figure_of(spread_of([&](std::span<const double> x) { return std::abs(times_play) * x[0]; },
                                {input_of(*facts.tape_speed, "mm/s")}),
                      "mm/s");
        answer.line_rate_ratio = line_rate(facts, track_geometry(table, format, mode), times_play);
    }
    if (facts.tracks_per_s)
        answer.tracks_per_field = (*facts.tracks_per_s / table.scanning(mode.system, "system").field_rate()).value();
    if (!answer.azimuths_alternate)
        answer.bars_per_field = answer.shift_per_sweep = Figure::unknown("the table does not give: azimuth");
    else if (!answer.tracks_per_field)
        answer.bars_per_field = answer.shift_per_sweep = Figure::unknown("the table does not give: rate of tracks");
    else {
        const bool alternate = *answer.azimuths_alternate;
        answer.bars_per_field =
            Figure::measured(noise_bars_per_field(times_play, *answer.tracks_per_field, alternate), 0, "");
        answer.shift_per_sweep = Figure::measured(bar_shift_per_sweep(times_play, alternate), 0, "");
    }
    return answer;
}

}  // namespace guardband::calc
