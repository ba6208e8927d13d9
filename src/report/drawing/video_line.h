#pragma once

#include <optional>
#include <string>
#include <vector>

#include "table/table.h"

namespace guardband::report::drawing {

/// A pulse of the composite signal below blanking, from its leading edge.
struct Pulse {
    double start_us = 0, width_us = 0;
};

/// The pulses of field blanking. Places are counted in half lines from the beginning of line 1.
struct FieldInterval {
    int equalising = 0;  ///< on each side
    double equalising_us = 0;
    int broad = 0;
    double broad_us = 0;
    double blanking_lines = 0;
    bool numbered = false;    ///< the table says which pulse begins line 1
    int first_half_line = 0;  ///< of the first field's first pulse
};

/// Burst of the subcarrier on the back porch.
struct Burst {
    double start_us = 0, cycles = 0, amplitude_mv = 0, subcarrier_hz = 0;

    double length_us() const { return cycles / subcarrier_hz * 1e6; }
};

/// Levels against blanking, mV.
struct Levels {
    double sync_mv = 0, black_mv = 0, white_mv = 0;

    double ire(double mv) const { return 100 * mv / white_mv; }
};

/// One line and the field blanking of a system, as the table has them. What it does not have is empty, and `missing`
/// says so.
struct VideoLine {
    const table::Scanning* scanning = nullptr;
    const table::Colour* colour = nullptr;  ///< nullptr: the scanning standard alone
    double period_us = 0, porch_us = 0, sync_us = 0;
    double picture_us = 0;                          ///< from the sync edge to the beginning of the picture
    double blanking_edge_us = 0, sync_edge_us = 0;  ///< 0 where the table has none
    std::optional<Levels> levels;
    std::optional<Burst> burst;
    std::optional<FieldInterval> field;
    std::vector<std::string> missing, remarks;

    double blanking_us() const { return porch_us + picture_us; }
    double end_us() const { return period_us - porch_us; }  ///< of the picture
    int lines() const;

    /// The first half line of a field's (0, 1) pulses and of its picture.
    int first_pulse(int field_number) const;
    int first_picture(int field_number) const;
    /// The number of the line that a half line belongs to.
    int line_number(int half_line) const;
    /// All pulses that begin in the half lines [from, to), their times from the beginning of half line `from`, around
    /// the pulses of one field.
    std::vector<Pulse> pulses(int field_number, int from, int to) const;
};

/// @param system  a colour system or scanning standard  @throws InputError naming `input` if there is none or the table
/// lacks its timing
VideoLine video_line_of(const table::Table& table, const std::string& system, const std::string& input);

}  // namespace guardband::report::drawing
