#include <fmt/format.h>

#include "calc/closure_makers.h"
#include "calc/full_pack.h"
#include "calc/running_time.h"

namespace guardband::calc {
namespace {

using table::Fact;

constexpr double agreement_share = 0.005;  // claim of the table: 0.5 %
constexpr double surplus_share =
    0.06;  // common practice: leaders and the makers' margin add a few per cent, of a short tape more

Closure running_time_closure(const table::PlayingTime& time, const ClosurePlace& grade_place) {
    ClosurePlace place{grade_place.table, grade_place.format, grade_place.format.find_mode(time.system, time.mode),
                       grade_place.grade};
    Comparison c{ClosureKind::RunningTime, "playing_time", "min", "-0.5 % +6 %"};
    c.bearer = &time.time;
    c.printed = time.time.in("min"), c.printed_side.facts = {&time.time};
    const Fact *length = place.grade->facts.known("length"), *speed = place.fact("tape_speed");
    if (length == nullptr) add_missing(c.missing, "tape length");
    if (speed == nullptr) add_missing(c.missing, "tape speed");
    if (!c.missing.empty()) return judged(c, place);
    c.derived_side.facts = {length, speed};
    const double length_m = length->in("m"), speed_mm_s = speed->in("mm/s");
    c.derived = running_time_s({length_m, length_m, length_m}, {speed_mm_s, speed_mm_s, speed_mm_s}).value / 60;
    const double surplus = *c.derived / *c.printed - 1;
    c.remark = fmt::format("{:+.1f} % against the nominal time", surplus * 100);
    c.agrees = surplus >= -agreement_share && surplus <= surplus_share;
    c.over_label = surplus > agreement_share;
    if (c.over_label && c.agrees) c.remark += ": a label promises its minutes at least";
    return judged(c, place);
}

constexpr double no_hub_mm = 1e-6;  // as good as none, where a hub's diameter is not known

Closure full_pack_closure(const ClosurePlace& place) {
    Comparison c{ClosureKind::FullPack, "length", "mm", "at most"};
    const table::Facts& grade = place.grade->facts;
    const Fact *length = grade.known("length"), *thickness = grade.known("thickness"),
               *hub = grade.known("hub_diameter");
    if (thickness == nullptr) thickness = place.format.tape.known("thickness");
    const auto room = room_in(place.format, shell_of(place.format, *place.grade));
    if (length == nullptr) add_missing(c.missing, "tape length");
    if (thickness == nullptr) add_missing(c.missing, "tape thickness");
    if (hub == nullptr) add_missing(c.missing, "hub diameter");
    if (!room) add_missing(c.missing, "size of the shell");
    c.bearer = length;
    const bool lacks_only_hub = c.missing == "hub diameter";
    if (!c.missing.empty() && !lacks_only_hub) return judged(c, place);
    const PackFit fit = fit_in(*room, length->in("m"), hub == nullptr ? no_hub_mm : hub->in("mm"), thickness->in("µm"));
    c.derived = fit.needed_mm, c.printed = fit.room_mm, c.agrees = fit.holds();
    c.printed_side.facts = {room->width, room->depth};
    c.derived_side.facts = {length, thickness};
    if (hub != nullptr) c.derived_side.facts.push_back(hub);
    c.remark = assumption_of(room->arrangement);
    if (lacks_only_hub && c.agrees) c.derived.reset();
    if (lacks_only_hub && !c.agrees)
        c.missing.clear(), c.remark = "even without a hub; " + c.remark;  // a hub can only make it larger
    return judged(c, place);
}

}  // namespace

std::vector<Closure> grade_closures(const ClosurePlace& place) {
    std::vector<Closure> all;
    for (const table::PlayingTime& time : place.grade->playing_times)
        if (time.time.is_number()) all.push_back(running_time_closure(time, place));
    all.push_back(full_pack_closure(place));
    return all;
}

}  // namespace guardband::calc
