#pragma once

#include <optional>
#include <span>
#include <vector>

namespace guardband::dsp {

/// A steady sine: cosine · cos(2π hz t) + sine · sin(2π hz t).
struct Sine {
    double hz = 0, cosine = 0, sine = 0;
    double hz_error = 0, amplitude_error = 0;  ///< standard errors, by what the fit leaves over

    double amplitude() const;
    double at(double time_s) const;
};

/// Values at times that need not lie evenly: gaps and samples left out are no matter.
struct UnevenSeries {
    std::vector<double> times_s;
    std::vector<double> values;
};

/// Where a sine is looked for.
struct SineSearch {
    double low_hz = 0, high_hz = 0;
    double false_alarm = 1e-3;  ///< chance that noise alone, white or of a smooth spectrum, gives a sine in a search
};

/// The strongest sine that stands out of the noise around its rate; nothing if none does.
///
/// Method: periodogram of the series less its mean, at four times the finest rate and twice the resolution; each
/// sample is shared out between the two nearest places of an even grid, which takes less than a fifth of the power off
/// at `high_hz`. What gaps spread of stronger sines must have been taken out before; so call it again on what
/// `fit_sine` leaves. The noise is that of the neighbouring rates. The rate is then fitted.
std::optional<Sine> strongest_sine(const UnevenSeries& series, const SineSearch& search);

/// Least squares fit of a sine and a mean; rate, amplitude and phase, from a rate close by (half a cycle over the
/// whole series). Exact for a lone sine, however the times lie. @param hz_free  false: the rate stays
Sine fit_sine(const UnevenSeries& series, double hz, bool hz_free = true);

/// Least squares fit of several sines together, from rates close by; leaves what is left over in `left`.
void fit_together(const UnevenSeries& series, std::vector<Sine>& sines, std::vector<double>& left);

}  // namespace guardband::dsp
