#pragma once

#include <ostream>
#include <string>
#include <vector>

#include "support/built_in_table.h"
#include "table/table.h"

namespace guardband {

/// One worked example: what a source prints, and from which figures of the table it must follow.
struct Check {
    std::string label, what;
    struct Given {
        std::string address, grade, format, shell;           ///< places of the table
        std::string id, key, times, plus;                    ///< of a rate
        std::string length, thickness, hub;                  ///< of a pack, where the table has none such
        std::string wavelength, spacing, gap, width, angle;  ///< of a head's losses
        std::string screen, camera, exposure, readout;       ///< of a filmed screen
        std::string value, from, to, system, setup, signal;  ///< of a conversion
        std::string rate, fps;                               ///< of one of times
        std::string codec, raster, sound_bits;               ///< of an hour of storage; no sound if no bits
    } given;
    std::string expect, exact, unit;
    std::string allow, below, above;
    std::string disagrees;  ///< why a print does not follow; then it must not (of conversions)
    std::string source, where, standing, note;
};

std::ostream& operator<<(std::ostream& out, const Check& check);

/// The checks of every file of this folder.
std::vector<Check> all_checks();

using support::built_in;

/// How far a result may be off, in the check's unit: nothing, half the last digit printed (`rounding`), a share of the
/// value (`1 %`), or an amount.
double allowance(const Check& check);

// What the checks ask for, by subject; each returns false if it does not know the word.
bool holds_rate(const Check& check);
bool holds_time(const Check& check);
bool holds_track(const Check& check);
bool holds_pack(const Check& check);
bool holds_loss(const Check& check);
bool holds_beat(const Check& check);
bool holds_conversion(const Check& check);
bool holds_storage(const Check& check);

}  // namespace guardband
