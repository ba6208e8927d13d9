#include "calc/full_pack.h"

#include <algorithm>

#include "calc/pack.h"

namespace guardband::calc {
namespace {

using table::Fact;

Arrangement arrangement_of(const Fact& width, const Fact& depth, const Fact* height, const Fact* tape_width) {
    constexpr double nearly_square =
        1.25;  // the coaxial cassette of the table has 1.14, the squarest of the others 1.37
    const double width_mm = width.in("mm"), depth_mm = depth.in("mm");
    if (width_mm == depth_mm) return Arrangement::OneReel;
    const bool holds_two_tapes =
        height != nullptr && tape_width != nullptr && height->in("mm") > 2 * tape_width->in("mm");
    return width_mm < nearly_square * depth_mm && holds_two_tapes ? Arrangement::OneAboveTheOther
                                                                  : Arrangement::SideBySide;
}

}  // namespace

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

const table::Shell* shell_of(const table::TapeFormat& format, const table::Grade& grade) {
    const auto shell = std::ranges::find(format.shells, grade.shell, &table::Shell::id);
    return grade.shell.empty() || shell == format.shells.end() ? nullptr : &*shell;
}

std::optional<ShellRoom> room_in(const table::TapeFormat& format, const table::Shell* shell) {
    if (shell == nullptr) return std::nullopt;
    const Fact *width = shell->facts.known("width"), *depth = shell->facts.known("depth");
    if (width == nullptr || depth == nullptr) return std::nullopt;
    return ShellRoom{width, depth,
                     arrangement_of(*width, *depth, shell->facts.known("height"), format.tape.known("width"))};
}

PackFit fit_in(const ShellRoom& room, double length_m, double hub_mm, double thickness_um) {
    const double full = pack_outer_mm(length_m, hub_mm, thickness_um);
    const double across =
        room.arrangement == Arrangement::SideBySide ? full + pack_outer_mm(length_m / 2, hub_mm, thickness_um) : full;
    const double width_mm = room.width->in("mm"), depth_mm = room.depth->in("mm");
    const bool width_is_tighter = across / width_mm >= full / depth_mm;
    return width_is_tighter ? PackFit{across, width_mm, true} : PackFit{full, depth_mm, false};
}

}  // namespace guardband::calc
