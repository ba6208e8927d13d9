#include "calc/closure.h"

#include <algorithm>
#include <array>
#include <utility>

#include "calc/closure_makers.h"

namespace guardband::calc {
namespace {

struct KindText {
    ClosureKind kind;
    std::string_view name, claim;
};

constexpr std::array kinds{
    KindText{ClosureKind::TrackRate, "track rate",
             "heads times drum speed is a whole multiple of the rate of tracks, to 0.05 %"},
    KindText{ClosureKind::TrackPitch, "track pitch",
             "tape speed over rate of tracks, times the sine of the angle, to 2 %"},
    KindText{ClosureKind::WritingSpeed, "writing speed", "tip speed and tape speed added as vectors, to 2 %"},
    KindText{ClosureKind::MovingAngle, "moving angle",
             "the angle with the tape still, turned by the tape’s motion, to rounding (3.6″ if given in minutes and "
             "seconds)"},
    KindText{ClosureKind::GuardBand, "guard band", "pitch less the widths of the tracks, to rounding"},
    KindText{ClosureKind::TrackHeight, "track height", "the tracks reach no further across than the tape is wide"},
    KindText{ClosureKind::ColourUnder, "colour-under",
             "the carrier is a multiple of an eighth of the line rate, to rounding"},
    KindText{ClosureKind::BlankingCarrier, "blanking carrier",
             "sync, blanking and white lie as far apart as in the signal, to rounding"},
    KindText{ClosureKind::Sideband, "lower sideband",
             "white carrier less bandwidth stays above the colour-under carrier"},
    KindText{ClosureKind::Wavelength, "shortest wavelength",
             "between writing speed over the white carrier and over its upper sideband, to 2 %"},
    KindText{
        ClosureKind::RunningTime, "running time",
        "length over speed is the nominal time to 0.5 %, or up to 6 % over it: a label promises its minutes at least"},
    KindText{ClosureKind::FullPack, "full pack",
             "all of the tape on one hub fits the shell, and so do both packs when half is wound"},
};

constexpr std::array<std::pair<Outcome, std::string_view>, 7> outcomes{{{Outcome::Holds, "holds"},
                                                                        {Outcome::OverLabel, "over the label"},
                                                                        {Outcome::DiffersAsNoted, "differs as noted"},
                                                                        {Outcome::Differs, "differs"},
                                                                        {Outcome::NotedInVain, "noted in vain"},
                                                                        {Outcome::Circular, "circular"},
                                                                        {Outcome::CannotTell, "can't tell"}}};

std::string joined(const std::string& first, const std::string& second) {
    return first + (first.empty() || second.empty() ? "" : "; ") + second;
}

void conclude(Closure& closure, Outcome outcome, std::string reason) {
    closure.outcome = outcome;
    closure.reason = std::move(reason);
}

/// Decides, and says why. A figure that was computed from the other side proves nothing when it agrees, but it must
/// still agree.
void judge(Closure& closure, const Comparison& comparison, const std::string& why_circular) {
    const std::string disagrees = comparison.bearer == nullptr ? "" : comparison.bearer->disagrees;
    if (!comparison.missing.empty())
        conclude(closure, Outcome::CannotTell, "missing: " + comparison.missing);
    else if (!comparison.agrees && !disagrees.empty())
        conclude(closure, Outcome::DiffersAsNoted, disagrees);
    else if (!comparison.agrees)
        conclude(closure, Outcome::Differs, joined(comparison.remark, why_circular));
    else if (!disagrees.empty())
        conclude(closure, Outcome::NotedInVain, "agrees, though the file says: " + disagrees);
    else if (!why_circular.empty())
        conclude(closure, Outcome::Circular, why_circular);
    else
        conclude(closure, comparison.over_label ? Outcome::OverLabel : Outcome::Holds, comparison.remark);
}

bool is_taken_over(const Comparison& comparison) {
    const auto inherited = [](const table::Fact* fact) { return !fact->inherited_from.empty(); };
    const auto &printed = comparison.printed_side.facts, &derived = comparison.derived_side.facts;
    return printed.size() + derived.size() > 0 && std::ranges::all_of(printed, inherited) &&
           std::ranges::all_of(derived, inherited);
}

void append(std::vector<Closure>& all, std::vector<Closure> more) {
    all.insert(all.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

}  // namespace

std::vector<ClosureKind> all_closure_kinds() {
    std::vector<ClosureKind> all;
    for (const KindText& text : kinds) all.push_back(text.kind);
    return all;
}

std::string_view to_string(ClosureKind kind) { return kinds.at(static_cast<std::size_t>(kind)).name; }
std::string_view claim_of(ClosureKind kind) { return kinds.at(static_cast<std::size_t>(kind)).claim; }

std::string_view to_string(Outcome outcome) { return outcomes.at(static_cast<std::size_t>(outcome)).second; }

std::vector<Outcome> all_outcomes() {
    std::vector<Outcome> all;
    for (const auto& [outcome, name] : outcomes) all.push_back(outcome);
    return all;
}

std::string place_of(const Closure& closure) {
    return closure.address + (closure.grade.empty() ? "" : " " + closure.grade);
}

void add_missing(std::string& missing, const std::string& what) {
    if (!what.empty()) missing += (missing.empty() ? "" : ", ") + what;
}

Closure judged(const Comparison& comparison, const ClosurePlace& place) {
    const Scope scope(place.table, place.format, place.mode, place.grade);
    Closure closure{comparison.kind,
                    place.mode == nullptr ? place.format.id : address_of(place.format, *place.mode),
                    place.grade == nullptr ? "" : place.grade->id,
                    comparison.figure,
                    comparison.derived,
                    comparison.printed,
                    comparison.unit,
                    comparison.tolerance,
                    Outcome::CannotTell,
                    {},
                    {},
                    is_taken_over(comparison)};
    closure.rests_on = weakest_standing(comparison.printed_side, comparison.derived_side, scope);
    judge(closure, comparison,
          comparison.circular.empty() ? circularity(comparison.printed_side, comparison.derived_side, scope)
                                      : comparison.circular);
    return closure;
}

std::vector<Closure> closures_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const ClosurePlace place{table, format, &mode, nullptr};
    std::vector<Closure> all = track_closures(place);
    append(all, carrier_closures(place));
    return all;
}

std::vector<Closure> closures_of(const table::Table& table, const table::TapeFormat& format) {
    std::vector<Closure> all;
    for (const table::Mode& mode : format.modes) append(all, closures_of(table, format, mode));
    for (const table::Grade& grade : format.grades) append(all, grade_closures({table, format, nullptr, &grade}));
    return all;
}

std::vector<Closure> all_closures(const table::Table& table) {
    std::vector<Closure> all;
    for (const table::TapeFormat& format : table.formats) append(all, closures_of(table, format));
    return all;
}

}  // namespace guardband::calc
