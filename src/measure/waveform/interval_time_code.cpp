#include "measure/waveform/interval_time_code.h"

#include <algorithm>

namespace guardband::measure {
namespace {

constexpr std::size_t bit_count = 90, checked_bits = 82;
constexpr int pairs = 9, bits_per_pair = 10;
constexpr double bits_per_line = 115;
constexpr double slowest = 0.98, fastest = 1.02;
constexpr double earliest_us = 9.3, latest_us = 13;
constexpr double coarse_rate = 0.005, coarse_start = 4;  ///< steps of the search; of starts, in samples
constexpr double fine_rate = 0.001, fine_start = 1;
constexpr double read_share = 0.6;    ///< of a bit's time
constexpr double clear_share = 0.25;  ///< of the swing: how far every sync bit lies from the half-way level
constexpr double least_swing = 0.3;   ///< of the row's high level
/// Between the steps of the coarse search half of the swing is lost at most; rows that show less than half of that hold
/// no code, and are not looked at more closely.
constexpr double least_coarse_contrast = least_swing / 4;

/// Where the code begins and how long its bits are, in samples.
struct Clock {
    double start = 0, bit = 0;
    double centre(std::size_t n) const { return start + (static_cast<double>(n) + 0.5) * bit; }
};

double contrast(const RowMeans& means, const Clock& clock) {
    double sum = 0;
    for (int pair = 0; pair < pairs; ++pair) {
        const double at = clock.start + bits_per_pair * pair * clock.bit;
        sum += means.between(at, at + clock.bit) - means.between(at + clock.bit, at + 2 * clock.bit);
    }
    return sum / pairs;
}

/// A clock and how well the row shows its sync bits.
struct Match {
    Clock clock;
    double contrast = -1;
};

/// The best clock of a range of starts and rates.
Match best_clock(const RowMeans& means, double nominal_bit, std::array<double, 3> starts, std::array<double, 3> rates) {
    Match best;
    const auto steps = [](const std::array<double, 3>& range) {
        return static_cast<int>((range[1] - range[0]) / range[2] + 0.5);
    };
    for (int r = 0; r <= steps(rates); ++r)
        for (int s = 0; s <= steps(starts); ++s) {
            const Clock clock{starts[0] + s * starts[2], nominal_bit / (rates[0] + r * rates[2])};
            if (const double found = contrast(means, clock); found > best.contrast) best = {clock, found};
        }
    return best;
}

std::optional<Clock> find_clock(const DataRow& row, const RowMeans& means) {
    const double nominal = row.line_us / bits_per_line * DataRow::rate_hz / 1e6;
    const auto [about, coarse_contrast] =
        best_clock(means, nominal, {DataRow::place(earliest_us), DataRow::place(latest_us), coarse_start},
                   {slowest, fastest, coarse_rate});
    if (coarse_contrast < least_coarse_contrast) return std::nullopt;
    const double rate = nominal / about.bit;
    return best_clock(means, nominal, {about.start - coarse_start, about.start + coarse_start, fine_start},
                      {rate - coarse_rate, rate + coarse_rate, fine_rate})
        .clock;
}

int number(const std::array<bool, bit_count>& bits, std::size_t first, int count) {
    int value = 0;
    for (int k = 0; k < count; ++k) value |= (bits[first + static_cast<std::size_t>(k)] ? 1 : 0) << k;
    return value;
}

bool check_bits_are_right(const std::array<bool, bit_count>& bits) {
    std::array<bool, 8> sums{};
    for (std::size_t i = 0; i < bit_count; ++i) sums[i % 8] = sums[i % 8] != bits[i];
    return std::ranges::none_of(sums, [](bool odd) { return odd; });
}

}  // namespace

std::optional<IntervalTimeCode> read_interval_time_code(const DataRow& row, const RowMeans& means, int counted) {
    const auto found_clock = find_clock(row, means);
    if (!found_clock) return std::nullopt;
    const Clock& clock = *found_clock;
    std::array<double, bit_count> levels{};
    for (std::size_t n = 0; n < bit_count; ++n)
        levels[n] =
            means.between(clock.centre(n) - read_share / 2 * clock.bit, clock.centre(n) + read_share / 2 * clock.bit);
    double ones = 0, noughts = 0;
    for (std::size_t n = 0; n < checked_bits; n += bits_per_pair)
        ones += levels[n] / pairs, noughts += levels[n + 1] / pairs;
    const double swing = ones - noughts, half = (ones + noughts) / 2;
    if (swing < least_swing) return std::nullopt;
    for (std::size_t n = 0; n < checked_bits; n += bits_per_pair)
        if (levels[n] < half + clear_share * swing || levels[n + 1] > half - clear_share * swing) return std::nullopt;

    std::array<bool, bit_count> bits{};
    for (std::size_t n = 0; n < bit_count; ++n) bits[n] = levels[n] > half;
    IntervalTimeCode found;
    const int frames = number(bits, 2, 4), seconds = number(bits, 22, 4), minutes = number(bits, 42, 4),
              hours = number(bits, 62, 4);
    found.code.frames = frames + 10 * number(bits, 12, 2);
    found.code.seconds = seconds + 10 * number(bits, 32, 3);
    found.code.minutes = minutes + 10 * number(bits, 52, 3);
    found.code.hours = hours + 10 * number(bits, 72, 2);
    found.code.drop = counted == 30 && bits[14];
    found.second_field = counted == 30 ? bits[35] : bits[75];
    const bool decimal = frames < 10 && seconds < 10 && minutes < 10 && hours < 10;
    found.right = check_bits_are_right(bits) && decimal && found.code.frames < counted && found.code.seconds < 60 &&
                  found.code.minutes < 60 && found.code.hours < 24;
    return found;
}

}  // namespace guardband::measure
