#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/track.h"
#include "table/table.h"

namespace guardband::report::drawing {

/// A track along an edge of the tape.
struct EdgeTrack {
    std::string name;
    double width_mm = 0;  ///< of one
    int count = 1;        ///< side by side
    bool at_upper_edge = false;
    const table::Fact* width = nullptr;

    double height_mm() const { return width_mm * count; }
};

/// What a drawing needs of a mode's tracks, from the table and from nowhere else. What is not known is empty, and
/// `missing` says so; what a drawing must settle to be drawn at all stands in `assumed`.
struct Footprint {
    enum class Layout { Slanted, Across, Along };

    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;
    Layout layout = Layout::Slanted;
    double tape_width_mm = 0;
    int sides = 1;  ///< each on its share of the width
    double tape_speed_mm_s = 0;
    double angle_deg = 0;            ///< of the recorded tracks to the tape's edge; 0 for tracks along it
    std::optional<double> pitch_um;  ///< nothing for tracks along the edge
    std::optional<double> track_width_um, colour_track_width_um, guard_band_um, azimuth_deg;
    std::optional<double> writing_speed_m_s, track_length_mm;
    std::optional<double> tracks_per_mm;  ///< along the edge
    std::optional<double> tracks_per_field;
    std::optional<calc::HeadMotion> motion;
    std::optional<int> heads;  ///< that take turns
    std::vector<EdgeTrack> edge_tracks;
    double low_mm = 0, high_mm = 0;  ///< the video tracks' ends, from the lower edge
    std::vector<std::string> missing, assumed;

    double side_width_mm() const { return tape_width_mm / sides; }
    /// From one track to the next along the edge, mm.
    double advance_mm() const;
    /// The way a head takes along the edge and across the tape from its lower to its upper edge, of length 1; the tape
    /// runs to the left.
    double along() const;
    double across() const;
};

/// @throws InputError naming `input` if the table lacks what nothing can be drawn without: width and speed of the tape,
/// angle and pitch of the tracks; or if its figures can't be true together
Footprint footprint_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
                       const std::string& input);

}  // namespace guardband::report::drawing
