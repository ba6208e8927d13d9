#include "measure/waveform/data_row.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

constexpr double band_hz = 6.2e6, band_share = 0.45;  ///< of the sampling rate
constexpr double slope_hz = 2.4e6;                    ///< from pass to stop
constexpr int fractions = 128;                        ///< of a sample
constexpr int group = 8;                              ///< taps that are summed side by side
constexpr double kernel_beta = 5;
constexpr double look_from_us = 10, look_to_us = 61;  ///< where data must show
constexpr float least_high = 0.4F;                    ///< depths of sync: 120 mV, half of the lowest data's level
constexpr float high_share = 0.1F;

std::vector<float> make_kernel(double rate_hz, int taps) {
    const double cut = 2 * std::min(band_hz, band_share * rate_hz) / rate_hz;
    std::vector<float> kernel;
    std::vector<double> exact(static_cast<std::size_t>(taps));
    for (int f = 0; f < fractions; ++f) {
        double sum = 0;
        for (int k = 0; k < taps; ++k) {
            const int from_middle = k - (taps / 2 - 1);
            const double x = from_middle - (f + 0.5) / fractions, place = 2 * x / taps;
            const double window =
                std::abs(place) >= 1 ? 0 : std::cyl_bessel_i(0.0, kernel_beta * std::sqrt(1 - place * place));
            const double angle = std::numbers::pi * cut * x;
            sum += exact[static_cast<std::size_t>(k)] = window * (angle == 0 ? 1 : std::sin(angle) / angle);
        }
        for (const double tap : exact) kernel.push_back(static_cast<float>(tap / sum));
    }
    return kernel;
}

float weighted(const float* x, const float* taps, int count) {
    float sums[group] = {};
    for (int k = 0; k < count; k += group)
        for (int j = 0; j < group; ++j) sums[j] += x[k + j] * taps[k + j];
    float sum = 0;
    for (const float part : sums) sum += part;
    return sum;
}

}  // namespace

DataRows::DataRows(double rate_hz, double line_us, float depth)
    : line_us_(line_us),
      depth_(depth),
      taps_(group * static_cast<int>(std::ceil(2.5 * std::max(rate_hz, 16e6) / slope_hz / group))),
      kernel_(make_kernel(rate_hz, taps_)),
      row_(DataRow::length) {}

std::optional<DataRow> DataRows::read(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || !line.field || !(depth_ > 0)) return std::nullopt;
    const double samples_per_us = line.period / line_us_;
    const double step = samples_per_us * 1e6 / DataRow::rate_hz, start = line.sync.lead + DataRow::first_sample * step;
    const auto first = static_cast<std::int64_t>(std::floor(start)) - taps_;
    const auto count = static_cast<std::int64_t>(DataRow::length * step) + 2 * taps_ + 2;
    if (!window.holds(first, first + count)) return std::nullopt;
    const std::span<const float> samples = window.at(first, count);

    const auto look_from = static_cast<std::size_t>(line.sync.lead + look_from_us * samples_per_us) -
                           static_cast<std::size_t>(first),
               look_count = static_cast<std::size_t>((look_to_us - look_from_us) * samples_per_us);
    if (look_from + look_count > samples.size()) return std::nullopt;
    scratch_.assign(samples.begin() + static_cast<std::ptrdiff_t>(look_from),
                    samples.begin() + static_cast<std::ptrdiff_t>(look_from + look_count));
    const auto tenth =
        scratch_.begin() + static_cast<std::ptrdiff_t>((1 - high_share) * static_cast<float>(look_count));
    std::nth_element(scratch_.begin(), tenth, scratch_.end());
    const float high = *tenth - line.sync.back;
    if (!(high > least_high * depth_)) return std::nullopt;

    for (int i = 0; i < DataRow::length; ++i) {
        const double place = start + i * step, whole = std::floor(place);
        const auto fraction = static_cast<std::size_t>((place - whole) * fractions);
        const auto at = static_cast<std::size_t>(static_cast<std::int64_t>(whole) - first) -
                        static_cast<std::size_t>(taps_ / 2 - 1);
        const float value = weighted(&samples[at], &kernel_[fraction * static_cast<std::size_t>(taps_)], taps_);
        row_[static_cast<std::size_t>(i)] = (value - line.sync.back) / high;
    }
    DataRow row;
    row.second_field = line.field->half_line;
    row.in_field = line.in_field;
    row.line_us = line_us_;
    row.high = high / depth_;
    row.levels = row_;
    return row;
}

}  // namespace guardband::measure
