#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "calc/counter_fit.h"
#include "calc/pack_query.h"
#include "calc/propagation.h"
#include "calc/working.h"
#include "table/table.h"

namespace guardband::calc {

/// What is asked of a counter.
struct CounterQuery : TapeQuery {  // its outer diameter is not asked for
    CountedReel reel = CountedReel::TakeUp;
    std::optional<double> counts_per_turn;  ///< where no pair tells it
    std::vector<CounterPair> pairs;
    std::optional<Input> reading;  ///< to be turned into a time, or
    std::optional<Input> time_s;   ///< to be turned into a reading
};

/// A reading and the time that belongs to it, with the standard uncertainty of both sides as they follow from each
/// other.
struct CounterPoint {
    double reading = 0, seconds = 0;
    double reading_uncertainty = 0, seconds_uncertainty = 0;
};

/// What a counter on a reel says.
struct CounterAnswer {
    table::GradeOfFormat grade{nullptr, nullptr};
    const table::Mode* mode = nullptr;      ///< whose tape speed was used; nullptr if none was needed
    bool mode_is_assumed = false;           ///< it is the mode that the grade's label counts
    PerSize<PackFigure> reel;               ///< length, hub and thickness where known
    PerSize<bool> is_known{};               ///< which of these are
    const table::Fact* speed = nullptr;     ///< of `mode`
    std::optional<Spread> known_bend{};     ///< by hub, thickness and speed
    std::optional<double> counts_per_turn;  ///< as given or assumed (no pairs), else as fitted where the hub is known
    bool ratio_is_assumed = false;
    std::optional<double> fitted_thickness_um;  ///< that the pairs' curve means, on the known hub
    CounterFit fit;
    std::optional<CounterPoint> answer;  ///< to what was asked; nothing if neither reading nor time was
    /// What the pairs give without the doubtful one: the time, or the reading, that was asked for.
    std::optional<double> answer_without_doubtful;
    std::optional<CounterPoint> end;  ///< of the tape, where its length and speed are known
    double end_uncertainty_s = 0;     ///< of that time, from the tolerances of length and speed
    Working working;
};

/// Answers a query. Without pairs: the reel's curve for the given counts a turn, or one, from hub, thickness and speed.
/// With pairs: `fit_counter`; hub, thickness and speed help where they are known and are needed with a single pair.
/// Where no mode is named, a format's only mode is taken, or the first of the grade's own system, whose minutes its
/// label counts.
/// @throws InputError if something needed is not known (in one line what to give), if what was given can't be, or if
/// reading or time lie beyond the end of the tape by more than its length may be off
CounterAnswer answer_of(const table::Table& table, const CounterQuery& query);

/// How it was got.
Working working_of(const CounterAnswer& answer, const CounterQuery& query);

/// The same for a reading, and for a time: on the curve of an answer.
/// @param half_width  of the rounding of what is given
CounterPoint point_at_reading(const CounterFit& fit, double reading, double half_width);
CounterPoint point_at_time(const CounterFit& fit, double seconds, double half_width_s);

/// A lookup card: time at round readings, and reading at round times.
struct CounterCard {
    std::vector<CounterPoint> by_reading, by_time;
    std::array<CounterPoint, 3> quality{};  ///< at a quarter of the card, at half, at its end: to say how good it is
};

/// The card of an answer: round steps of 1, 2 or 5 and of round minutes, at most `most_rows` rows each, up to the end
/// of the tape or, where that is not known, the last pair. Starts at the first step, since 0 is 0.
/// @throws InputError if neither end is known
CounterCard card_of(const CounterAnswer& answer, const CounterQuery& query, std::size_t most_rows);

}  // namespace guardband::calc
