#pragma once

#include <optional>
#include <span>

namespace guardband::measure {

/// Where a channel's roll-off stands in the mean spectrum of pictures.
struct RollOff {
    double half_amplitude = 0;  ///< where its response is halved, cycles per sample
    double uncertainty = 0;     ///< one standard uncertainty
    double width = 0;           ///< of the fall, 84 % to 16 % of the amplitude, as a share of the frequency
    double misfit = 0;          ///< RMS of what the fit leaves over, natural logarithm of the power
    double gain = 0;            ///< by how much the roll-off betters the fit: a likelihood ratio's logarithm
    double above_floor = 0;     ///< power of the pictures over that of the floor where the fall begins
};

/// Fits a roll-off to a power spectrum.
///
/// Model: pictures whose power follows a power law of the frequency, softened by a lens as a Gaussian is, times the
/// square of a channel's response that falls as an error function does; plus a floor that is the same at all
/// frequencies. Least squares on the logarithm (Levenberg and Marquardt) from ten starts, with mild expectations of the
/// law's exponent and of the softness, as edges and natural pictures have them. Against it stands the same fit
/// without the channel, in which pictures fade into the floor by themselves.
/// @param power      of bins 0, 1 … at equal distances up to half the sampling rate
/// @param windows    how many independent spectra it is the mean of
/// @returns nothing if the spectrum is too short or empty
std::optional<RollOff> fit_roll_off(std::span<const double> power, double windows);

/// Where pictures sink into the floor by the fit without a channel, cycles per sample; ½ if they don't.
double drowning_frequency(std::span<const double> power, double windows);

}  // namespace guardband::measure
