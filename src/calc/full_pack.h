#pragma once

#include <optional>
#include <string_view>

#include "table/table.h"

namespace guardband::calc {

/// How the packs lie in a shell.
enum class Arrangement { OneReel, OneAboveTheOther, SideBySide };

/// What is taken for granted of it, in one line.
std::string_view assumption_of(Arrangement arrangement);

/// The shell that a grade comes in; nullptr if the file names none.
const table::Shell* shell_of(const table::TapeFormat& format, const table::Grade& grade);

/// The room for packs in a shell.
struct ShellRoom {
    const table::Fact *width = nullptr, *depth = nullptr;
    Arrangement arrangement{};
};

/// Nothing if the table lacks the size of the shell. A round reel is as deep as it is wide. Of the cassettes those
/// with reels on one axis are nearly square and more than two tapes high; the others, where the reels lie side by side,
/// are a half to twice as wide as deep.
/// @param shell  may be nullptr
std::optional<ShellRoom> room_in(const table::TapeFormat& format, const table::Shell* shell);

/// What a full pack needs of the tighter dimension of its shell, and what there is.
struct PackFit {
    double needed_mm = 0, room_mm = 0;
    bool is_width = false;  ///< else the depth

    bool holds() const { return needed_mm <= room_mm; }
};

/// Side by side: the full pack must stay off the wall on its side, so the hubs are no further apart than the width less
/// the full pack; and the packs are widest together when each holds half, so the hubs are no nearer than that pack.
/// Full and half-full diameter together must fit the width. Walls are not counted.
/// @throws DomainError as `pack_outer_mm`
PackFit fit_in(const ShellRoom& room, double length_m, double hub_mm, double thickness_um);

}  // namespace guardband::calc
