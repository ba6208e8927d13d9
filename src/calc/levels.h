#pragma once

#include <optional>
#include <string>

#include "table/table.h"

namespace guardband::calc {

/// What a capture did with a signal's set-up.
enum class CapturedSetup {
    Removed,  ///< black lies at the raster's black code, as ITU-R BT.601 has it
    Kept,     ///< blanking lies there, and black above it
};

/// What codes stand for.
enum class CodedSignal {
    Luma,       ///< luma of a component raster, ITU-R BT.601
    Composite,  ///< the whole composite signal with sync and burst, sampled at four times the subcarrier
};

/// The luma levels of a colour system, beside the codes that they become. IRE count from blanking, 100 at white; mV
/// count from blanking too. Codes are straight between two levels: code = zero code + (white code − zero code) (v − v0)
/// / (white − v0). Of luma, v0 is black with the set-up removed and blanking with it kept, the zero code the raster's
/// black; of composite, v0 is blanking and the zero code its own, the set-up always kept.
struct LevelScale {
    const table::Colour* colour = nullptr;
    const table::Fact *zero = nullptr, *white = nullptr;  ///< the table's 8-bit codes of v0 and of white
    double white_mv = 0, setup_ire = 0, sync_mv = 0;
    double zero_code = 0, white_code = 0;  ///< 8 bit
    CapturedSetup setup = CapturedSetup::Removed;
    CodedSignal signal = CodedSignal::Luma;

    double zero_mv() const { return setup == CapturedSetup::Removed ? black_mv() : 0; }  ///< v0
    double black_mv() const { return setup_ire * white_mv / 100; }
};

/// Whether the table knows codes of this signal on this colour system.
bool has_codes(const table::Table& table, const table::Colour& colour, CodedSignal signal);

/// The scale of one colour system, from the table.
/// @param setup  of luma; composite samples always keep it
/// @throws DomainError if the table has no such codes of it
LevelScale level_scale(const table::Table& table, const table::Colour& colour, CapturedSetup setup,
                       CodedSignal signal = CodedSignal::Luma);

/// Whether two systems put the same numbers on the same levels.
bool same_levels(const LevelScale& a, const LevelScale& b);

double mv_of_ire(const LevelScale& scale, double ire);
double ire_of_mv(const LevelScale& scale, double mv);
/// In steps of 10-bit code, of which four make a step of 8-bit code; not rounded, and not held within what a raster can
/// carry.
double code10_of_mv(const LevelScale& scale, double mv);
double mv_of_code10(const LevelScale& scale, double code10);

/// What a level is, where it is no plain picture level: `Below black`, `Above white`, `Below the sync tip …`, or codes
/// that are kept for timing (0 and 255 of 8 bits, 0 to 3 and 1020 to 1023 of 10: ITU-R BT.601); empty for a picture
/// level.
/// @param as_code  whether it stands as a code at either end
std::string level_remark(const LevelScale& scale, double mv, bool as_code);

}  // namespace guardband::calc
