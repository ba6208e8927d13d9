#include "testsignal/composite/data_painter.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::testsignal {
namespace {

/// A stream of bits on a line.
struct Stream {
    double first_us = 0;  ///< leading edge of the first bit, half way up
    double bit_us = 0;
    double height_mv = 0;
};

/// Each one a sine-squared pulse as wide at half height as a bit is long: neighbours add up to a flat top.
void add_pulses(LineCanvas& luma, const std::vector<bool>& bits, const Stream& s) {
    for (std::size_t i = 0; i < bits.size(); ++i)
        if (bits[i]) luma.add_pulse(s.first_us + (static_cast<double>(i) + 0.5) * s.bit_us, s.height_mv, s.bit_us);
}

/// Boxes, one for each run of ones.
void add_boxes(LineCanvas& luma, const std::vector<bool>& bits, const Stream& s, double rise_us) {
    for (std::size_t i = 0; i < bits.size(); ++i) {
        if (!bits[i]) continue;
        std::size_t end = i;
        while (end < bits.size() && bits[end]) ++end;
        luma.add_box(s.first_us + static_cast<double>(i) * s.bit_us, s.first_us + static_cast<double>(end) * s.bit_us,
                     s.height_mv, rise_us);
        i = end;
    }
}

/// Lowest bit first, as most services send.
void append_lowest_first(std::vector<bool>& bits, unsigned value, int count) {
    for (int bit = 0; bit < count; ++bit) bits.push_back((value >> static_cast<unsigned>(bit) & 1U) != 0);
}

void append_highest_first(std::vector<bool>& bits, unsigned value, int count) {
    for (int bit = count - 1; bit >= 0; --bit) bits.push_back((value >> static_cast<unsigned>(bit) & 1U) != 0);
}

/// Where a number stands in a list, or −1.
std::int64_t place_in(const std::vector<int>& lines, int number) {
    const auto at = std::ranges::find(lines, number);
    return at == lines.end() ? -1 : at - lines.begin();
}

std::int64_t floor_divided(std::int64_t a, std::int64_t b) { return a / b - (a % b < 0 ? 1 : 0); }

}  // namespace

DataPainter::DataPainter(const DataLines& data, const CompositeSystem& system)
    : data_(data), system_(system), lines_525_(system.lines == 525) {}

/// 444 bits a line, a run-in of two bytes and a framing code; the last one but one of the run-in is 12 µs after sync.
void DataPainter::draw_teletext(std::int64_t n, LineCanvas& luma) const {
    std::vector<bool> bits;
    for (int i = 0; i < 16; ++i) bits.push_back(i % 2 == 0);
    append_highest_first(bits, 0b11100100, 8);
    for (const std::uint8_t byte : teletext_packet(data_, n)) append_lowest_first(bits, byte, 8);
    const double bit_us = system_.line_us / 444;
    add_pulses(luma, bits, {12 - 12.5 * bit_us, bit_us, 0.66 * system_.white_mv * data_.level_percent / 100});
}

/// Six and a half cycles of 32 times the line rate, two bits at blanking, one bit up, sixteen bits.
void DataPainter::draw_caption(std::int64_t n, LineCanvas& luma) const {
    const double bit_us = system_.line_us / 32, height = 0.5 * system_.white_mv * data_.level_percent / 100;
    constexpr double run_in_us = 10.5, cycles = 6.5;
    // Raised cosines, whose half-way points are those of the sine.
    for (int k = 0; k < 7; ++k) luma.add_pulse(run_in_us + (k + 0.25) * bit_us, height, bit_us / 2);
    std::vector<bool> bits{true};
    for (const std::uint8_t byte : caption_pair(data_, n)) append_lowest_first(bits, byte, 8);
    add_boxes(luma, bits, {run_in_us + (cycles + 2) * bit_us, bit_us, height}, 0.24);
}

void DataPainter::draw_wide_screen(LineCanvas& luma) const {
    if (lines_525_) {  // IEC 61880: an eighth of the subcarrier, 70 % of white
        std::vector<bool> bits{true, false};
        const auto rest = wide_screen_bits_525(data_.wide_screen_word);
        bits.insert(bits.end(), rest.begin(), rest.end());
        const double bit_us = 8 / (227.5 / system_.line_us);
        return add_boxes(luma, bits, {11.2, bit_us, 0.7 * system_.white_mv * data_.level_percent / 100}, 0.2);
    }
    // EN 300 294: elements of 0.2 µs, six to a bit.
    std::vector<bool> elements;
    append_highest_first(elements, 0x1F1C71C7, 29);
    append_highest_first(elements, 0x1E3C1F, 24);
    for (int bit = 0; bit < 14; ++bit)
        append_highest_first(elements,
                             (static_cast<unsigned>(data_.wide_screen_word) >> static_cast<unsigned>(bit) & 1U) != 0
                                 ? 0b111000
                                 : 0b000111,
                             6);
    add_pulses(luma, elements, {11.0, 0.2 * system_.line_us / 64, 500 * data_.level_percent / 100});
}

/// 2.5 Mbit/s in two elements each, a run-in and a start code.
void DataPainter::draw_label(LineCanvas& luma) const {
    std::vector<bool> elements;
    append_highest_first(elements, 0xAAAA8A99, 32);
    const auto data = label_elements(data_);
    elements.insert(elements.end(), data.begin(), data.end());
    add_pulses(luma, elements, {12.5, 0.2 * system_.line_us / 64, 500 * data_.level_percent / 100});
}

void DataPainter::draw_time_code(std::int64_t frame, bool second_field, LineCanvas& luma) const {
    const auto bits =
        time_code_bits(time_code_at(data_, frame, lines_525_), data_.drop_frame, second_field, lines_525_);
    const double height = (lines_525_ ? 0.8 * system_.white_mv : 550) * data_.level_percent / 100;
    add_boxes(luma, bits, {lines_525_ ? 10.5 : 11.2, system_.line_us / 115, height}, 0.2);
}

bool DataPainter::draw(std::int64_t line, int number, LineCanvas& luma) const {
    const std::int64_t frame = floor_divided(line, system_.lines);
    const auto count = [&](const std::vector<int>& lines) { return static_cast<std::int64_t>(lines.size()); };
    if (const auto at = place_in(data_.teletext, number); at >= 0)
        draw_teletext(std::max<std::int64_t>(0, frame * count(data_.teletext) + at), luma);
    else if (const auto caption = place_in(data_.captions, number); caption >= 0)
        draw_caption(std::max<std::int64_t>(0, frame), luma);  // each line has a stream of its own
    else if (place_in(data_.wide_screen, number) >= 0)
        draw_wide_screen(luma);
    else if (place_in(data_.label, number) >= 0)
        draw_label(luma);
    else if (place_in(data_.time_code, number) >= 0)
        draw_time_code(std::max<std::int64_t>(0, frame), number > system_.lines / 2, luma);
    else
        return false;
    return true;
}

}  // namespace guardband::testsignal
