#pragma once

#include <cstddef>
#include <vector>

#include "measure/clip/light_spectra.h"

namespace guardband::measure {

/// Depth for which `Sensitivity::slowest_cycles` is given.
inline constexpr double slow_depth = 0.05;

/// What a search for flicker could have seen.
struct Sensitivity {
    double depth = 1;             ///< smallest depth that would have stood out at nine tenths of the frequencies
    double slowest_cycles = 0.5;  ///< slowest cycles per frame at which `slow_depth` would have stood out
};

/// A place on the map: a wave and how far it stands out.
struct MapPeak {
    std::size_t bin = 0;
    double bands = 0;     ///< per picture height, to a quarter
    double contrast = 0;  ///< power over the noise around
    double noise = 0;     ///< power of noise there
    double depth = 0;     ///< of the light, roughly
};

/// Power of all waves of light through the picture: frequency by bands per picture height, −4 … 4; and the noise under
/// it.
class PowerMap {
public:
    PowerMap(const LightSpectra& spectra, const FieldTiming& timing);

    /// Contrast from which a wave is no chance. The chance that normal noise reaches it somewhere on the map of a clip
    /// of two minutes is 1e-8; the margin is for picture motion, which is not normal. It rises towards slow waves, of
    /// which the noise is known less well and motion is more like them.
    double least_contrast(std::size_t bin) const;

    /// The waves that stand out by `share` of the least contrast, the one furthest above it first; one per frequency.
    std::vector<MapPeak> peaks(double share = 1) const;

    /// Slow waves that most of the picture follows, the most common one first. Their neighbourhood is not wide enough
    /// to show the noise under them; whether they stand out must be seen when they have been taken out.
    std::vector<MapPeak> slow_peaks() const;

    /// The wave nearest to a frequency and number of bands. @param cycles  0 … ½ (1 if interlaced)
    MapPeak at(double cycles, double bands) const;

    Sensitivity sensitivity() const;

private:
    MapPeak peak_of(std::size_t wave, std::size_t bin) const;
    MapPeak best_of(std::size_t bin) const;
    double depth_of(double power, std::size_t bin) const;

    const LightSpectra& spectra_;
    bool interlaced_;
    std::size_t first_, last_;                       // bins that count
    std::vector<std::vector<float>> power_, noise_;  // by wave, bin
};

/// Depth of a change from frame to frame over that of the light itself: |1 − e^(−2πi cycles)|.
double change_response(double cycles);

/// Noise under a spectrum; of fields, from either end on its own, since both ends are slow.
std::vector<float> noise_under(const std::vector<float>& log_power, std::size_t first, bool interlaced);

}  // namespace guardband::measure
