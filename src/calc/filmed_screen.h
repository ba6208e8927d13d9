#pragma once

#include <string>
#include <vector>

#include "calc/propagation.h"
#include "calc/working.h"
#include "quantity/figure.h"
#include "quantity/rational.h"
#include "table/table.h"

namespace guardband::calc {

/// A screen before a camera.
struct Filming {
    quantity::Rational screen, camera;            ///< Hz; a camera's pictures are its fields if it is interlaced
    double screen_off_hz = 0, camera_off_hz = 0;  ///< what the rates may be off, half-widths
    Input exposure_s, readout_s, decay_s;
    double scan_share = 0;               ///< of a refresh in which the spot goes down the picture; 0 for a lamp
    bool is_lamp = false;                ///< ripples all over at once; depths are then shares of the lamp's own
    double exposure_error = 0;           ///< share by which an exposure that should null the flicker is off
    std::vector<std::string> assumed{};  ///< for people: `no afterglow, the deepest flicker there can be`
    bool exposure_is_given = false, readout_is_given = false, decay_is_given = false;  ///< else assumed
    const table::Fact *screen_fact = nullptr, *blanking_fact = nullptr;                ///< of the table, where used
};

/// An exposure of whole refreshes, which sees no flicker, and what an error of it lets through.
struct NullExposure {
    int refreshes = 0;
    quantity::Figure exposure_s;
    double depth = 0, peak_to_peak = 0;  ///< at the error in the worse direction
};

/// What the pictures show.
struct FilmedScreen {
    quantity::Rational beat;          ///< signed, see `calc::beat`
    quantity::Figure flicker_hz;      ///< its magnitude
    quantity::Figure period_s;        ///< unknown if it stands still
    quantity::Figure share_left;      ///< of the first harmonic, by the exposure
    quantity::Figure depth;           ///< of the first harmonic: 1 + m cos
    quantity::Figure peak_to_peak;    ///< of the whole waveform, over the mean
    quantity::Figure bands;           ///< periods of light and dark down the picture, signed as `bands_per_height`
    quantity::Figure drift_per_s;     ///< picture heights a second; above 0 downwards
    bool has_direction = true;        ///< false half way between two multiples of the camera's rate
    std::vector<NullExposure> nulls;  ///< those that fit into a picture's period, rising
};

/// Works it out. Drift: −beat / bands.
/// @throws DomainError for rates, times or shares out of range
FilmedScreen filmed_screen(const Filming& filming);

/// Share of a refresh in which a tube's spot goes down the picture, from the blanking of the scanning standard whose
/// field rate, or a multiple of it, is the screen's; of 625/50 where there is none. The fact that it rests on is put
/// into `filming`.
void set_scan_share(Filming& filming, const table::Table& table);

/// How it was got.
Working filmed_working(const Filming& filming, const FilmedScreen& answer);

}  // namespace guardband::calc
