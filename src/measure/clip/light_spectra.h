#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <vector>

#include "measure/clip/flicker_series.h"

namespace guardband::measure {

/// When the two fields of a frame were taken, in frames after the frame's own time.
struct FieldTiming {
    std::array<double, 2> delay{0, 0};  ///< of top and bottom field
    bool is_interlaced() const { return delay[0] != delay[1]; }

    static FieldTiming progressive() { return {}; }
    static FieldTiming top_first() { return {{0, 0.5}}; }
    static FieldTiming bottom_first() { return {{0.5, 0}}; }
};

/// e^(2πi turns).
std::complex<double> turned(double turns);

/// Spectra of the changes of light in a stretch of a clip, added up over the columns of each band with the weight that
/// each cell's own noise at each frequency deserves. Bands stay apart so that waves can be fitted over the height, and
/// parities so that the order of the fields can be chosen later.
class LightSpectra {
public:
    static constexpr std::size_t series = static_cast<std::size_t>(BrightnessGrid::parities) * BrightnessGrid::bands;

    /// @param change  must outlive the spectra
    LightSpectra(const LightChange& change, const BrightnessGrid& grid);

    /// Nothing could be used.
    bool is_empty() const { return window_sum_ == 0; }
    std::size_t length() const { return change_.length; }
    /// Bins are ½ cycle over the stretch apart and reach to ½ cycle per frame; of fields they reach to 1.
    std::size_t bins(const FieldTiming& timing) const { return timing.is_interlaced() ? transform_length_ + 1 : bins_; }
    double cycles(std::size_t bin) const { return static_cast<double>(bin) / static_cast<double>(transform_length_); }

    /// Power of a wave with so many bands per picture height at each bin: |Σ weight · spectrum · e^(−wave)|².
    std::vector<float> power(double bands, const FieldTiming& timing) const;
    /// Power of all cells, as weighted, without regard to phase: what `power` would be if they all had the wave's.
    float cell_power(std::size_t bin) const { return cell_power_[folded(bin)]; }
    /// The same after a line of one wave has been taken out.
    /// @param line  its contribution to the sum at each bin, of `bins(timing)`
    std::vector<float> power_without(double bands, const FieldTiming& timing,
                                     const std::vector<std::complex<float>>& line) const;

    /// Hann's window over time, times the weights of time.
    const std::vector<float>& window() const { return window_; }
    double window_sum() const { return window_sum_; }
    double window_square_sum() const { return window_square_sum_; }

    double height(std::size_t s) const { return heights_[s]; }
    static std::size_t parity(std::size_t s) { return s / BrightnessGrid::bands; }
    std::size_t transform_length() const { return transform_length_; }

    /// A lit cell: its series, its usual noise power at a bin, and its windowed change.
    struct Cell {
        std::size_t index, series;
        double noise;
    };
    std::vector<Cell> cells_at(std::size_t bin) const;
    std::vector<float> windowed(std::size_t cell) const;

private:
    std::size_t folded(std::size_t bin) const { return bin < bins_ ? bin : transform_length_ - bin; }
    std::vector<std::complex<float>> sums(double bands, const FieldTiming& timing) const;
    void find_noise();
    void weigh();
    void add_up();

    const LightChange& change_;
    std::size_t transform_length_, bins_;
    std::vector<float> window_;
    double window_sum_ = 0, window_square_sum_ = 0;
    std::array<double, series> heights_{};
    std::vector<std::vector<float>> noise_, weights_;  // of each cell at each bin
    std::array<std::vector<std::complex<float>>, series> spectra_;
    std::vector<float> cell_power_;
};

}  // namespace guardband::measure
