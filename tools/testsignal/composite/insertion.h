#pragma once

#include <optional>
#include <string>
#include <vector>

#include "testsignal/composite/recipe.h"

namespace guardband::testsignal {

/// One part of an insertion test signal. Times are on the line from the sync edge, levels above blanking.
struct InsertionElement {
    enum class Kind {
        Bar,        ///< luma between two moments
        Pulse,      ///< sine-squared, luma; width at half height in `width_us`
        Composite,  ///< sine-squared, half luma, half chroma
        Step,       ///< luma that stays up until `to_us`
        Chroma,     ///< subcarrier between two moments, peak to peak in `height_mv`
        Wave,       ///< sine between two moments, peak to peak in `height_mv`
    };
    Kind kind = Kind::Bar;
    double from_us = 0, to_us = 0;  ///< half-way points; of a pulse, its centre twice
    double height_mv = 0;
    double width_us = 0;  ///< of a pulse at half height
    double mhz = 0;       ///< of a wave
};

/// The parts of a signal, after the pattern of ITU-T J.63 for 625 lines and of the usual signals for 525; the places
/// are from memory. Levels follow the system's white: staircases have five equal steps up to it.
std::vector<InsertionElement> insertion_elements(const CompositeSystem& system, InsertionSignal signal);

/// How much a roll-off, 3 dB down at `roll_off_mhz` and Gaussian, leaves of a wave, dB; 0 without one.
double wave_response_db(std::optional<double> roll_off_mhz, double mhz);

/// Half-amplitude width of the T pulse: half of the period of the nominal upper frequency limit.
double t_pulse_us(const CompositeSystem& system);

/// Angle of the test signals' chroma from the U axis, degrees.
double insertion_chroma_deg(const CompositeSystem& system);

/// `bar-pulse-staircase` and so on.
std::string to_string(InsertionSignal signal);
std::string to_string(InsertionElement::Kind kind);

}  // namespace guardband::testsignal
