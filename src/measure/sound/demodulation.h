#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

namespace guardband::measure {

/// The speed of a tone as a series: its instantaneous frequency, relative to the carrier it was sought around.
struct SpeedSeries {
    double carrier_hz = 0;         ///< what `deviation` refers to
    double rate_hz = 0;            ///< values a second, 2 to 4 kHz
    double start_s = 0;            ///< of the first value
    std::vector<float> deviation;  ///< frequency over carrier, less 1
    std::vector<float> level;      ///< amplitude of the tone
};

/// Turns samples into a tone's instantaneous frequency: mixes the carrier down to 0, keeps ±450 Hz around it (flat; −80
/// dB from ±900 Hz on, where hum and the tone's own harmonics lie), and takes the step of the phase from one value to
/// the next. The mean over a step reads a sine of 200 Hz 1.6 % low; a filter of three values makes that up to 0.02 %.
/// Bias: none that the tests could find below 0.1 % of a flutter of up to 200 Hz. Scatter: that of the noise within the
/// band. Needs a tone well above the noise in that band; below about 10 dB its phase slips.
class Demodulator {
public:
    /// @param start_s  of the first sample
    Demodulator(double sample_rate_hz, double carrier_hz, double start_s);

    void see(std::span<const float> samples);
    /// Values so far; memory grows by 8 bytes for each.
    std::size_t size() const { return series_.deviation.size(); }
    double rate_hz() const { return series_.rate_hz; }
    SpeedSeries finish();

private:
    void mix(std::span<const float> samples);
    void filter();

    double sample_rate_hz_;
    std::size_t decimation_;
    std::vector<float> taps_;
    std::complex<double> turn_, phase_{1, 0};
    int since_exact_ = 0;
    std::int64_t mixed_ = 0;
    std::vector<float> real_, imaginary_;  ///< mixed samples that the filter still needs
    std::size_t next_ = 0;                 ///< where the filter's next output begins in them
    std::complex<double> last_{0, 0};
    bool has_last_ = false;
    SpeedSeries series_;
};

}  // namespace guardband::measure
