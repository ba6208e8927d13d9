#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calc/closure_makers.h"
#include "calc/pack.h"
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

/// How the packs lie in a shell.
enum class Arrangement { OneReel, OneAboveTheOther, SideBySide };

struct Room {
    double width_mm, depth_mm;
    Arrangement arrangement;
};

/// A round reel is as deep as it is wide. Of the cassettes those with reels on one axis are nearly square and more than
/// two tapes high; the others, where the reels lie side by side, are a half to twice as wide as deep.
Arrangement arrangement_of(double width_mm, double depth_mm, const Fact* height, const Fact* tape_width) {
    constexpr double nearly_square =
        1.25;  // the coaxial cassette of the table has 1.14, the squarest of the others 1.37
    if (width_mm == depth_mm) return Arrangement::OneReel;
    const bool holds_two_tapes =
        height != nullptr && tape_width != nullptr && height->in("mm") > 2 * tape_width->in("mm");
    return width_mm < nearly_square * depth_mm && holds_two_tapes ? Arrangement::OneAboveTheOther
                                                                  : Arrangement::SideBySide;
}

std::string_view assumption_of(Arrangement arrangement) {
    switch (arrangement) {
        case Arrangement::OneReel:
            return "a single reel: the pack stays within its flanges";
        case Arrangement::OneAboveTheOther:
            return "taken as reels on one axis: the pack must stay within the shell; walls not counted";
        case Arrangement::SideBySide:
            return "taken as packs side by side: full pack and half packs must share the width; walls not counted";
    }
    return "";
}

/// Side by side: the full pack must stay off the wall on its side, so the hubs are no further apart than the width less
/// the full pack; and the packs are widest together when each holds half, so the hubs are no nearer than that pack.
/// Full and half-full diameter together must fit the width.
double width_needed_mm(double length_m, double hub_mm, double thickness_um, Arrangement arrangement) {
    const double full = pack_outer_mm(length_m, hub_mm, thickness_um);
    return arrangement == Arrangement::SideBySide ? full + pack_outer_mm(length_m / 2, hub_mm, thickness_um) : full;
}

/// The dimension that is tighter.
void compare_pack(Comparison& c, const Room& room, double length_m, double hub_mm, double thickness_um) {
    const double across = width_needed_mm(length_m, hub_mm, thickness_um, room.arrangement);
    const double deep = pack_outer_mm(length_m, hub_mm, thickness_um);
    const bool width_is_tighter = across / room.width_mm >= deep / room.depth_mm;
    c.derived = width_is_tighter ? across : deep;
    c.printed = width_is_tighter ? room.width_mm : room.depth_mm;
    c.agrees = *c.derived <= *c.printed;
}

const table::Shell* shell_of(const ClosurePlace& place) {
    const auto shell = std::ranges::find(place.format.shells, place.grade->shell, &table::Shell::id);
    return place.grade->shell.empty() || shell == place.format.shells.end() ? nullptr : &*shell;
}

Closure full_pack_closure(const ClosurePlace& place) {
    Comparison c{ClosureKind::FullPack, "length", "mm", "at most"};
    const table::Facts& grade = place.grade->facts;
    const Fact *length = grade.known("length"), *thickness = grade.known("thickness"),
               *hub = grade.known("hub_diameter");
    if (thickness == nullptr) thickness = place.format.tape.known("thickness");
    const table::Shell* shell = shell_of(place);
    const Fact* width = shell == nullptr ? nullptr : shell->facts.known("width");
    const Fact* depth = shell == nullptr ? nullptr : shell->facts.known("depth");
    if (length == nullptr) add_missing(c.missing, "tape length");
    if (thickness == nullptr) add_missing(c.missing, "tape thickness");
    if (hub == nullptr) add_missing(c.missing, "hub diameter");
    if (width == nullptr || depth == nullptr) add_missing(c.missing, "size of the shell");
    c.bearer = length;
    const bool lacks_only_hub = c.missing == "hub diameter";
    if (!c.missing.empty() && !lacks_only_hub) return judged(c, place);
    const double width_mm = width->in("mm"), depth_mm = depth->in("mm");
    const Room room{width_mm, depth_mm,
                    arrangement_of(width_mm, depth_mm, shell->facts.known("height"), place.format.tape.known("width"))};
    compare_pack(c, room, length->in("m"), hub == nullptr ? no_hub_mm : hub->in("mm"), thickness->in("µm"));
    c.printed_side.facts = {width, depth};
    c.derived_side.facts = {length, thickness};
    if (hub != nullptr) c.derived_side.facts.push_back(hub);
    c.remark = assumption_of(room.arrangement);
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
