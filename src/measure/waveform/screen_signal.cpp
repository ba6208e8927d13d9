#include "measure/waveform/screen_signal.h"

#include <array>
#include <bit>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr int data_bits = 14, check_bits = 6, lead_bits = 2;
constexpr double bit_us = 8 / 3.579545;  // from memory, as the generator polynomial below
constexpr double earliest_us = 9.5, latest_us = 13;
constexpr double read_share = 0.6, clear_share = 0.25, half_level = 0.5;

/// First place at which the row passes half of its high level and stays above it.
std::optional<double> first_rise(const DataRow& row) {
    constexpr std::size_t stays = 15;
    for (auto i = static_cast<std::size_t>(DataRow::place(earliest_us));
         i < static_cast<std::size_t>(DataRow::place(latest_us)); ++i) {
        if (row.levels[i] < half_level || row.levels[i - 1] >= half_level) continue;
        bool up = true;
        for (std::size_t k = 0; k < stays; ++k) up = up && row.levels[i + k] >= half_level;
        if (up) return static_cast<double>(i);
    }
    return std::nullopt;
}

unsigned check_of(unsigned word) {
    unsigned check = 0x3F;
    for (unsigned bit = data_bits; bit-- > 0;) {
        const bool out = ((check >> 5U) ^ (word >> bit)) & 1U;
        check = (check << 1U & 0x3FU) ^ (out ? 0b000011U : 0U);
    }
    return check;
}

/// By the first three bits; the fourth is their parity.
std::string shape_625(unsigned aspect) {
    constexpr std::array<const char*, 8> shapes{"4:3, full",
                                                "14:9, letterbox in the middle",
                                                "14:9, letterbox at the top",
                                                "16:9, letterbox in the middle",
                                                "16:9, letterbox at the top",
                                                "wider than 16:9, letterbox",
                                                "14:9 within a full 4:3",
                                                "16:9, full (anamorphic)"};
    return shapes[aspect & 7U];
}

}  // namespace

ScreenSignal screen_signal_625(std::uint8_t low, std::uint8_t high) {
    const unsigned word = (low | static_cast<unsigned>(high) << 8U) & 0x3FFFU;
    return {static_cast<int>(word), std::popcount(word & 0xFU) % 2 == 1};
}

std::optional<ScreenSignal> read_screen_signal_525(const DataRow& row, const RowMeans& means) {
    const auto start = first_rise(row);
    if (!start) return std::nullopt;
    const double bit = bit_us * DataRow::rate_hz / 1e6;
    const auto level = [&](int n) {
        const double centre = *start + (n + 0.5) * bit;
        return means.between(centre - read_share / 2 * bit, centre + read_share / 2 * bit);
    };
    const double high = level(0);
    unsigned word = 0;
    for (int n = 0; n < lead_bits + data_bits + check_bits; ++n) {
        const double share = level(n) / high;
        if (!(std::abs(share - half_level) > clear_share)) return std::nullopt;
        word = word << 1U | (share > half_level ? 1U : 0U);
    }
    constexpr unsigned lead = 0b10;
    if (word >> (data_bits + check_bits) != lead) return std::nullopt;
    const unsigned data = word >> check_bits & 0x3FFFU;
    return ScreenSignal{static_cast<int>(data), check_of(data) == (word & 0x3FU)};
}

std::string screen_words(int word, bool lines_525) {
    const auto bits = static_cast<unsigned>(word);
    if (lines_525) {
        if ((bits & 0x2000U) != 0) return "16:9, full (anamorphic)";
        return (bits & 0x1000U) != 0 ? "16:9, letterbox" : "4:3, full";
    }
    return shape_625(bits & 0xFU) + ((bits & 0x10U) != 0 ? "; film" : "; camera");
}

}  // namespace guardband::measure
