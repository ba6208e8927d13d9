#pragma once

#include <complex>
#include <span>
#include <vector>

namespace guardband::dsp {

/// The response of the network of least delay that has a given magnitude, as circuits of resistors, coils and
/// capacitors mostly are: its phase follows from its magnitude by the Hilbert transform of the logarithm, here by way
/// of the cepstrum. Magnitudes are kept exactly; the phase is as good as the grid is fine against the curve's features.
/// @param magnitude  at the frequencies 0, 1/N … ½ cycles per sample, N/2 + 1 values, none negative; values below a
/// millionth of the greatest count as that, for the phase only
/// @throws DomainError for fewer than 3 values or if all are 0
std::vector<std::complex<float>> minimum_phase(std::span<const double> magnitude);

}  // namespace guardband::dsp
