#include "measure/sound/deflection.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

#include "dsp/fft.h"
#include "dsp/minimum_phase.h"

namespace guardband::measure {
namespace {

constexpr double lead_s = 20;     ///< what stands before each stretch; the networks ring for less
constexpr double stretch_s = 40;  ///< read at a time
constexpr std::size_t finer = 4;  ///< values of the output for each of the input
constexpr double longest_settling_s = 10, least_reading_s = 5;  ///< what mirroring leaves dies away in that time
constexpr double smoothing_s = 0.5, latest_turn_s = 6;          ///< a wow of 0.1 Hz turns within 5 s
constexpr double part_s = 1.25;                                 ///< shortest stretch whose own reading means something
constexpr int most_parts = 20;
constexpr double numeric_share = 0.005;  ///< bias that the tests allow

/// A series as it goes on beyond its ends: mirrored there and faded out over its own length, so that neither an edge
/// nor a step rings in the network.
float continued(std::span<const float> series, std::int64_t index, double fade_length) {
    const auto last = static_cast<std::int64_t>(series.size()) - 1;
    if (index >= 0 && index <= last) return series[static_cast<std::size_t>(index)];
    const std::int64_t beyond = index < 0 ? -index : index - last;
    const double length = std::min(fade_length, static_cast<double>(last));
    const double place = 2 * static_cast<double>(beyond) / length - 1;  // full up to half way
    if (place >= 1) return 0;
    const double gain = place <= 0 ? 1 : 0.5 + 0.5 * std::cos(std::numbers::pi * place);
    return static_cast<float>(gain) * series[static_cast<std::size_t>(index < 0 ? beyond : last - beyond)];
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
            series_[i] = continued(input, static_cast<std::int64_t>(start + i) - static_cast<std::int64_t>(lead_),
                                   static_cast<double>(lead_));
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

/// Where the slow part of a speed stands still within the first seconds: mirrored there, a wow goes on as it was, where
/// elsewhere its kink would ring in the network. The place of the greatest mean over half a second.
std::size_t turning_point(std::span<const float> deviation, double rate_hz) {
    const auto width = static_cast<std::size_t>(smoothing_s * rate_hz);
    const double latest_s = std::min(latest_turn_s, static_cast<double>(deviation.size()) / rate_hz / 4);
    const std::size_t places = std::min(deviation.size(), static_cast<std::size_t>(latest_s * rate_hz));
    if (deviation.size() < places + width) return 0;
    double sum = std::accumulate(deviation.begin(), deviation.begin() + static_cast<std::ptrdiff_t>(width), 0.0);
    double greatest = 0;
    std::size_t place = 0;
    for (std::size_t i = 0; i < places; ++i) {
        if (std::abs(sum) > greatest) greatest = std::abs(sum), place = i + width / 2;
        sum += static_cast<double>(deviation[i + width]) - static_cast<double>(deviation[i]);
    }
    return place;
}

}  // namespace

DeflectionReading read_deflection(std::span<const float> deviation, double rate_hz, FlutterBand band,
                                  Detector detector) {
    deviation = deviation.subspan(turning_point(deviation, rate_hz));
    const double seconds = static_cast<double>(deviation.size()) / rate_hz;
    const double settling_s = std::clamp(seconds - least_reading_s, 0.0, longest_settling_s);
    const int parts = std::clamp(static_cast<int>((seconds - settling_s) / part_s), 1, most_parts);
    DeflectionMeter meter(detector, rate_hz * finer, seconds - settling_s, parts);
    Network network(rate_hz, band);
    auto unsettled = static_cast<std::size_t>(settling_s * rate_hz) * finer;
    for (std::size_t start = 0; start < deviation.size(); start += network.stretch()) {
        const std::span<const float> values = network.run(deviation, start);
        const std::size_t left_out = std::min(unsettled, values.size());
        unsettled -= left_out;
        meter.see(values.subspan(left_out));
    }
    const double reading = meter.reading();
    return {reading, std::hypot(meter.scatter(), numeric_share * reading)};
}

}  // namespace guardband::measure
