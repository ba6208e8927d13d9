#pragma once

#include <optional>
#include <vector>

#include "testsignal/picture.h"
#include "testsignal/recipe.h"

namespace guardband::testsignal {

/// Light of a phosphor that flashes at times 0, period, 2 period … and decays exponentially, averaged over an exposure.
/// In units of its own mean over time, so that a long exposure gives 1. Closed form: with C(t) the integral from 0 to
/// t, n whole periods and the rest r,
///     C(t) = period (n + (1 - exp(-r / decay)) / (1 - exp(-period / decay))),   result = (C(start + exposure) -
///     C(start)) / exposure.
/// @param exposure_s, period_s, decay_s  above 0
double flash_exposure(double start_s, double exposure_s, double period_s, double decay_s);

/// Light 1 + ripple cos(2 pi (rate t + phase)) averaged over an exposure, closed form.
double ripple_exposure(double start_s, double exposure_s, double rate_hz, double ripple, double phase);

/// What the light does to a clip, for the truth.
struct FlickerTruth {
    double rate_hz;             ///< of the tube's refresh or of the lamp's ripple
    double sampling_hz;         ///< pictures per second of the camera
    double apparent_signed_hz;  ///< rate less the nearest multiple of the sampling rate; negative: the pattern runs
                                ///< backwards
    double light_depth;         ///< m of the fundamental 1 + m cos in the exposed light
    double
        signal_depth;  ///< the same in the signal, after the camera's gamma: amplitude of the fundamental over the mean
    double steady_share;  ///< share of steady light mixed in to get the depth that was asked for
    double bands;         ///< periods of the pattern over the picture's height, by screen scan and read-out (signed)
};

/// The light in front of the camera: gain of the signal for each moment and height.
///
/// Model. The tube is refreshed `rate_hz` times a second; the spot passes height h (0 top, 1 bottom of the screen) at
/// (n + phase + scan_share h) / rate. Row y of a picture is exposed from t + readout y / rows on. The picture on the
/// tube and the room are the scene's; steady light acts as a second, steady projection of the same picture, so that the
/// depth is the same in bright and dark parts. The camera's exponent turns light into signal: a factor g in light is
/// g^gamma in the signal. The iris is set so that the brightest moment gives a factor of 1. Not modelled: the tube's
/// lines and its interlace, spread of light in the glass.
class FilmedLight {
public:
    /// @param recipe  has a screen or a lamp
    /// @throws quantity::InputError if the depth asked for is more than the light has
    explicit FilmedLight(const Recipe& recipe);

    /// Applies the light to a picture of a field or frame whose first row is exposed from `time_s` on.
    void apply(double time_s, Rows rows, Picture& picture);
    FlickerTruth truth() const;

    /// The exposed light in units of its mean, for the exposure that begins at `start_s` at height 0 to 1 of the
    /// screen.
    double light(double start_s, double height) const;

private:
    double own_depth() const;
    double signal_gain(double start_s, double height) const;
    double frame_height_of_row(int frame_row) const;
    double screen_height_of_row(int frame_row) const;
    void set_iris();

    Recipe recipe_;
    double rate_hz_, exposure_s_;
    double moving_share_ = 1;
    double iris_ = 1;
};

}  // namespace guardband::testsignal
