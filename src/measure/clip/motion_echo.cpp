#include "measure/clip/motion_echo.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

/// Bins of the lowest frequencies, which the window smears, are left out.
constexpr std::size_t first_bin = 2;
/// Power over noise up to which bins are looked at, and how much of the noise is added so that no null is too deep.
constexpr float least_over_noise = 8, noise_added = 2;
constexpr float rounding = 1e-4F;  ///< squared codes, far below that of any clip
constexpr std::size_t fewest_bins = 12;
/// Periods of the cosine that the bins hold, and bins to a period: fewer can't be resolved.
constexpr double least_periods = 1.5, least_bins_to_period = 4;
constexpr double fewest_blocks = 40;
/// What stands out: of its own scatter, and of what pictures show that hold one moment.
constexpr double significant = 6;
constexpr double least_of_frames = 0.1, agreeing_frames = 0.65;
constexpr double least_of_fields = 0.4, agreeing_fields = 0.9;
/// Two moments that are equally strong leave an echo at twice their distance as well, of the other sign. Where it can't
/// be resolved the first must be as strong as this.
constexpr double least_of_double = 0.12, least_alone = 0.55;
/// Up to here pictures surely show one moment; from there on they are smeared over the way of a frame.
constexpr double most_of_one = 0.15, smeared = 0.35;

constexpr std::size_t terms = 5;
using Row = std::array<double, terms>;

/// The last unknown of a least-squares fit. @param m  its normal equations
double last_of_fit(std::array<Row, terms> m, Row right) {
    constexpr std::size_t last = terms - 1;
    const double all = m[last][last];
    for (std::size_t i = 0; i < last; ++i)
        for (std::size_t j = i + 1; j < terms; ++j) {
            const double factor = m[i][i] > 0 ? m[j][i] / m[i][i] : 0;
            for (std::size_t k = i; k < terms; ++k) m[j][k] -= factor * m[i][k];
            right[j] -= factor * right[i];
        }
    return m[last][last] > 1e-6 * all ? right[last] / m[last][last] : 0;
}

/// How much of cos(2π f lag) is in the logarithm of the power, beside a smooth course.
double part_of_cosine(std::span<const double> logarithms, double lag) {
    std::array<Row, terms> m{};
    Row right{};
    for (std::size_t i = 0; i < logarithms.size(); ++i) {
        const auto k = static_cast<double>(i + first_bin);
        const double x = k / rows::spectrum_samples;
        const Row row{1, std::log(k), x, x * x, std::cos(2 * std::numbers::pi * lag * x)};
        for (std::size_t a = 0; a < terms; ++a) {
            for (std::size_t b = 0; b < terms; ++b) m[a][b] += row[a] * row[b];
            right[a] += row[a] * logarithms[i];
        }
    }
    return last_of_fit(m, right);
}

bool is_resolved(double lag, std::size_t bins) {
    constexpr auto samples = static_cast<double>(rows::spectrum_samples);
    return static_cast<double>(bins) * lag >= least_periods * samples && lag * least_bins_to_period <= samples;
}

bool stands_out(const EchoReading& reading, double least, double agreeing) {
    return reading.strength >= std::max(least, significant * reading.error) && reading.agreeing >= agreeing;
}

}  // namespace

void MotionEcho::add(std::span<const float, bins> power, std::span<const float, bins> noise, float moved_samples) {
    const double moved = std::abs(static_cast<double>(moved_samples));
    if (!is_resolved(moved, bins) && !is_resolved(moved / 2, bins)) return;
    std::size_t end = bins - 1;
    while (end > first_bin && power[end - 1] < least_over_noise * noise[end - 1] + rounding) --end;
    if (end < first_bin + fewest_bins) return;
    std::array<double, bins> logarithms{};
    const std::size_t count = end - first_bin;
    for (std::size_t i = 0; i < count; ++i) {
        const std::size_t k = i + first_bin;
        logarithms[i] = std::log(static_cast<double>(power[k] + noise_added * noise[k] + rounding));
    }
    for (const Lag lag : {Lag::HalfFrame, Lag::Frame}) {
        const double samples = lag == Lag::Frame ? moved : moved / 2;
        if (!is_resolved(samples, count)) continue;
        const double strength = part_of_cosine({logarithms.data(), count}, samples);
        Sums& sums = sums_[static_cast<std::size_t>(lag)];
        sums.sum += strength, sums.squares += strength * strength, ++sums.count;
        sums.agreeing += strength > 0 ? 1 : 0;
    }
}

std::optional<EchoReading> MotionEcho::reading(Lag lag) const {
    const Sums& sums = sums_[static_cast<std::size_t>(lag)];
    if (sums.count < fewest_blocks) return std::nullopt;
    EchoReading reading;
    reading.strength = sums.sum / sums.count, reading.agreeing = sums.agreeing / sums.count;
    const double variance = sums.squares / sums.count - reading.strength * reading.strength;
    reading.error = std::sqrt(std::max(0.0, variance) / sums.count);
    return reading;
}

MotionEcho::Mixed MotionEcho::mixed() const {
    const auto half = reading(Lag::HalfFrame), frame = reading(Lag::Frame);
    if (frame && stands_out(*frame, least_of_frames, agreeing_frames)) return Mixed::Frames;
    if (!half) return frame && frame->strength < -smeared ? Mixed::Smeared : Mixed::Unknown;
    if (frame ? stands_out(*half, least_of_fields, agreeing_fields) && frame->strength < -least_of_double
              : stands_out(*half, least_alone, agreeing_fields))
        return Mixed::TwoFields;
    return half->strength < most_of_one ? Mixed::Nothing : Mixed::Unknown;
}

}  // namespace guardband::measure
