#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace guardband::dsp {

/// How far a line's neighbourhood reaches in `noise_level`.
struct Neighbourhood {
    std::size_t least_bins = 24;  ///< to either side at least
    double ratio = 1.5;           ///< and as far as this ratio of frequencies
    std::size_t most_bins = 256;  ///< but no further
};

/// The mean power of noise at each bin of a power spectrum, as its neighbourhood shows it, whatever lines stand in it.
///
/// Method: the logarithm of the power follows a straight line over the logarithm of the frequency (noise of any power
/// law), fitted by least squares around each bin; bins far above the fit are pulled down to it and the fit is made
/// again. Assumes power distributed exponentially about its mean, as in the spectrum of normal noise. Bias: below 5 %;
/// 20 % where a line stands in the neighbourhood. Scatter: 1.3 / sqrt(independent bins in the neighbourhood); more than
/// twice that at the lowest bins. Bins before `first` get the value of `first`.
/// @param log_power  natural logarithm of the power of bins 0, 1, 2 …; or the mean of the logarithms of several spectra
/// of about the same level
/// @param first      first bin that counts, ≥ 1   @throws DomainError if there is none
std::vector<float> noise_level(std::span<const float> log_power, std::size_t first, const Neighbourhood& reach = {});

/// Natural logarithm of each value, with a floor far below any power of interest in place of −∞.
std::vector<float> logarithms(std::span<const float> power);

}  // namespace guardband::dsp
