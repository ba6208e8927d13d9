#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "calc/propagation.h"
#include "calc/track_carriers.h"
#include "calc/track_cross_over.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::calc {

// What a head reads of tracks that it was not made for. The head stands with its middle on the middle of its own track;
// a servo does that, by control track or pilots. A voltage is as large as the width that is read. Neighbouring tracks
// hold other moments of the picture, so what is read of them adds as power.

/// How wide something on the tape is, and who says so.
struct Width {
    Input um;
    const table::Fact* fact = nullptr;  ///< nullptr if it is given or worked out
    std::string origin;                 ///< `given`, `worked out`; empty if the fact is it
};

/// `58 ± 2 µm`: as given or printed, or with the standard uncertainty of what is worked out.
std::string width_text(const Width& width);

/// Width of a mode's tracks and of the heads that are made for them: `track_width`, else the pitch. Nothing if neither
/// is known.
std::optional<Width> track_width_of(const table::Table& table, const table::TapeFormat& format,
                                    const table::Mode& mode);
/// The pitch as it follows from the speeds, else as printed.
std::optional<Width> pitch_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

/// Widths across the tracks that matter, µm, and the azimuth angles, degrees.
struct TrackLayout {
    double pitch_um = 0;  ///< from one track to the next
    double track_um = 0;  ///< recorded width of a track
    double other_um = 0;  ///< of a colour track midway between two others; 0 if there is none
    double head_um = 0;
    bool alternates = false;  ///< the next track is written by a head of the other azimuth
};

/// What lies under the head, µm.
struct UnderHead {
    double own_um = 0;  ///< of its own track
    /// Strips of other tracks on one side, the nearest first; as many on the other side.
    std::vector<double> other_azimuth_um, same_azimuth_um;
};

/// Plain geometry of intervals. @throws DomainError for a pitch, track or head that is not above 0
UnderHead under_head(const TrackLayout& layout);

/// The most that strips of other tracks, as many on either side, add to what is read of the own one, dB; −∞ if there
/// are none: 10 log10(2 Σ min(b, λ / (π tan α))²) − 20 log10(own). With an angle between gap and lines, what is read of
/// a strip of width b is b |sin x / x|, x = π b tan α / λ, which never exceeds λ / (π tan α) however wide the strip.
/// @param angle_deg  between the head's gap and the lines of those tracks, 0 to 90, 90 excluded
double most_pick_up_db(std::span<const double> strips_um, double own_um, double angle_deg, double wavelength_um);

/// Pick-up at one carrier.
struct PickUp {
    Carrier carrier;
    quantity::Figure own_loss_db;      ///< azimuth loss on the own track: 0 unless the machine's angle is another
    quantity::Figure azimuth_loss_db;  ///< the least that the angle takes off the nearest neighbours
    quantity::Figure pick_up_db;       ///< the most that both neighbours add, against the own track
    quantity::Figure same_azimuth_db;  ///< from the next tracks of the head's own azimuth, which no angle attenuates
};

struct Playback {
    const table::TapeFormat* machine_format = nullptr;  ///< nullptr if only a head's width was given
    const table::Mode* machine_mode = nullptr;
    Width head, track, pitch;
    std::optional<Width> other_track;  ///< a colour track midway between
    quantity::Figure own_um, own_share, head_share, neighbour_um;
    const table::Fact *tape_azimuth = nullptr, *machine_azimuth = nullptr;
    quantity::Figure own_azimuth_deg, other_azimuth_deg;  ///< between the head's gap and the lines of either kind
    std::vector<PickUp> pick_ups;                         ///< at each carrier of the tape's mode but those of sound
    std::optional<CrossOver> at_machine_speed,
        at_tape_speed;  ///< of a machine: at its own tape speed, and at that of the recording
    std::vector<std::string> remarks;
};

/// What is asked.
struct PlaybackQuery {
    const table::TapeFormat* format = nullptr;  ///< of the recording
    const table::Mode* mode = nullptr;
    const table::TapeFormat* machine_format = nullptr;  ///< that plays it; nullptr: one of the recording's own mode
    const table::Mode* machine_mode = nullptr;
    std::optional<Input> head_um;  ///< instead of the machine's
};

/// @throws InputError, which names `input`, if the tape does not fit the machine or a width or pitch that it takes is
/// not known
Playback playback(const table::Table& table, const PlaybackQuery& query, const std::string& input);

}  // namespace guardband::calc
