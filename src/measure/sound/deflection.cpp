#include "measure/sound/deflection.h"

#include <algorithm>
#include <cmath>
#include <complex>

#include "dsp/fft.h"
#include "dsp/minimum_phase.h"

namespace guardband::measure {
namespace {

constexpr double lead_s = 20;     ///< what stands before each stretch; the networks ring for less
constexpr double stretch_s = 40;  ///< read at a time
constexpr std::size_t finer = 4;  ///< values of the output for each of the input
constexpr double part_s = 1.25;   ///< shortest stretch whose own reading means something
constexpr int most_parts = 20;
constexpr double numeric_share = 0.005;  ///< bias that the tests allow

/// Index into a series mirrored in front of its start, and behind its end, as often as needed.
std::size_t mirrored(std::int64_t index, std::size_t count) {
    if (count == 1) return 0;
    const auto period = static_cast<std::int64_t>(2 * (count - 1));
    std::int64_t place = index % period;
    if (place < 0) place += period;
    return static_cast<std::size_t>(std::min(place, period - place));
}

/// A meter's network, a stretch at a time.
class Network {
public:
    Network(double rate_hz, FlutterBand band)
        : lead_(static_cast<std::size_t>(lead_s * rate_hz)),
          forward_(dsp::fast_length(lead_ + static_cast<std::size_t>(stretch_s * rate_hz))),
          inverse_(finer * forward_.length()),
          series_(forward_.length()),
          spectrum_(forward_.bins()),
          fine_spectrum_(inverse_.bins()),
          fine_(inverse_.length()) {
        std::vector<double> magnitude;
        for (std::size_t k = 0; k < forward_.bins(); ++k)
            magnitude.push_back(
                flutter_response(band, static_cast<double>(k) * rate_hz / static_cast<double>(forward_.length())));
        response_ = dsp::minimum_phase(magnitude);
    }

    std::size_t stretch() const { return forward_.length() - lead_; }

    /// The output from `start` on, up to `stretch()` values of the input, at the finer rate.
    std::span<const float> run(std::span<const float> input, std::size_t start) {
        for (std::size_t i = 0; i < series_.size(); ++i)
            series_[i] =
                input[mirrored(static_cast<std::int64_t>(start + i) - static_cast<std::int64_t>(lead_), input.size())];
        forward_.forward(series_, spectrum_);
        const auto scale = 1 / static_cast<float>(forward_.length());
        std::ranges::fill(fine_spectrum_, 0);
        for (std::size_t k = 0; k < spectrum_.size(); ++k) fine_spectrum_[k] = scale * spectrum_[k] * response_[k];
        inverse_.inverse(fine_spectrum_, fine_);
        const std::size_t count = std::min(stretch(), input.size() - start);
        return {&fine_[finer * lead_], finer * count};
    }

private:
    std::size_t lead_;
    dsp::RealFft forward_, inverse_;
    std::vector<std::complex<float>> response_;
    std::vector<float> series_;
    std::vector<std::complex<float>> spectrum_, fine_spectrum_;
    std::vector<float> fine_;
};

}  // namespace

DeflectionReading read_deflection(std::span<const float> deviation, double rate_hz, FlutterBand band,
                                  Detector detector) {
    const double seconds = static_cast<double>(deviation.size()) / rate_hz;
    const int parts = std::clamp(static_cast<int>(seconds / part_s), 1, most_parts);
    DeflectionMeter meter(detector, rate_hz * finer, seconds, parts);
    Network network(rate_hz, band);
    for (std::size_t start = 0; start < deviation.size(); start += network.stretch())
        meter.see(network.run(deviation, start));
    const double reading = meter.reading();
    return {reading, std::hypot(meter.scatter(), numeric_share * reading)};
}

}  // namespace guardband::measure
