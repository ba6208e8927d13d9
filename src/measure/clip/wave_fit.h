#pragma once

#include <array>
#include <complex>
#include <span>
#include <vector>

#include "measure/clip/light_spectra.h"
#include "measure/clip/wave_soundness.h"

namespace guardband::measure {

/// One wave of light, fitted to the changes of all cells by least squares: change = Re(amplitude · e^(2πi (cycles n +
/// bands y))) at frame n (plus the field's delay) and height y, in picture heights.
struct FittedWave {
    double cycles = 0, bands = 0;
    std::complex<double> amplitude;
    double gain = 0;  ///< by how much it lowers the weighted sum of squares
};

/// Fits waves around one place on the map.
class WaveFit {
public:
    /// @param line_power  power of the line in one cell. Where it is far above a cell's noise, the cells differ from
    /// the wave by
    ///                    more than their noise, and all get about the same weight
    WaveFit(const LightSpectra& spectra, const FieldTiming& timing, std::size_t bin, double line_power);

    /// The wave that fits best near a frequency and number of bands.
    FittedWave best_near(double cycles, double bands);

    /// Standard uncertainties of a wave.
    struct Uncertainty {
        double cycles = 0, bands = 0;
        double amplitude_share = 0;
    };
    /// The larger one of what noise of this strength does (by linear expansion; without a window the Cramér-Rao bound)
    /// and what the scatter of the rest over 16 parts of time shows, which also knows of bursts and of flicker that
    /// changes.
    /// @param contrast  of the wave to noise in the sum of all cells
    Uncertainty uncertainty(const FittedWave& wave, double contrast) const;

    /// The wave's own part in the sum of all cells at each bin, as in `LightSpectra::power_without`.
    std::vector<std::complex<float>> line_shape(const FittedWave& wave) const;

    /// @param noise  power of noise in the sum of all cells  @param change  what the spectra were made of
    WaveSoundness soundness(const FittedWave& wave, double noise, const LightChange& change) const;

    /// Power of the wave in the sum of all cells.
    double power(const FittedWave& wave);

    /// By what share frames that were bridged lower the amplitude.
    double bridging_loss(const FittedWave& wave, const LightChange& change) const;

private:
    double delay(std::size_t s) const { return timing_.delay[LightSpectra::parity(s)]; }
    void tune(double cycles);
    FittedWave fit(double bands) const;
    std::complex<double> part(const FittedWave& wave, std::size_t from, std::size_t to) const;
    std::vector<std::complex<double>> rest(const FittedWave& wave) const;
    Uncertainty from_noise(double contrast) const;
    Uncertainty from_scatter(const FittedWave& wave) const;
    void explain_cells(const FittedWave& wave, WaveSoundness& result) const;
    double rest_contrast(const FittedWave& wave, double noise) const;

    const LightSpectra& spectra_;
    FieldTiming timing_;
    std::vector<LightSpectra::Cell> cells_;
    std::vector<double> cell_weights_;
    std::array<std::vector<float>, LightSpectra::series> bands_;  // weighted sums of the cells of each band
    std::array<double, LightSpectra::series> band_weights_{};
    double cycles_ = -1;  // what the sums below are of
    std::array<std::complex<double>, LightSpectra::series> sums_;
    std::complex<double> image_;  // of the window at twice the frequency

    // Moments of the window about its middle.
    double middle_ = 0, square_ = 0, square_of_noise_ = 0;
};

}  // namespace guardband::measure
