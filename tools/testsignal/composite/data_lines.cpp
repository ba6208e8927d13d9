#include "testsignal/composite/data_lines.h"

#include <bit>

namespace guardband::testsignal {
namespace {

constexpr int rows_of_a_page = 24;
constexpr std::size_t row_characters = 40, header_characters = 32;

std::uint8_t with_odd_parity(int character) {
    const auto low = static_cast<unsigned>(character) & 0x7FU;
    return static_cast<std::uint8_t>(std::popcount(low) % 2 == 0 ? low | 0x80U : low);
}

/// Four bits protected by four: P1 D1 P2 D2 P3 D3 P4 D4, the first lowest.
std::uint8_t hamming_8_4(unsigned value) {
    const unsigned d1 = value & 1U, d2 = value >> 1U & 1U, d3 = value >> 2U & 1U, d4 = value >> 3U & 1U;
    const unsigned p1 = 1 ^ d1 ^ d3 ^ d4, p2 = 1 ^ d1 ^ d2 ^ d4, p3 = 1 ^ d1 ^ d2 ^ d3;
    const unsigned p4 = 1 ^ p1 ^ d1 ^ p2 ^ d2 ^ p3 ^ d3 ^ d4;
    return static_cast<std::uint8_t>(p1 | d1 << 1U | p2 << 2U | d2 << 3U | p3 << 4U | d3 << 5U | p4 << 6U | d4 << 7U);
}

std::string padded(std::string text, std::size_t length) {
    text.resize(length, ' ');
    return text;
}

std::string row_text(std::int64_t row) { return "ROW " + std::to_string(row) + "  INVENTED: THE KEEPER'S LOG"; }

bool bit_of(int value, int bit) { return ((static_cast<unsigned>(value) >> static_cast<unsigned>(bit)) & 1U) != 0; }

/// Group n of the time code: the low four bits, then the high four.
int time_code_group(const MadeTimeCode& code, std::size_t group, bool drop, bool second_field, bool lines_525) {
    switch (group) {
        case 0:
            return code.frames % 10;
        case 1:
            return code.frames / 10 | (drop ? 4 : 0);
        case 2:
            return code.seconds % 10;
        case 3:
            return code.seconds / 10 | (lines_525 && second_field ? 8 : 0);
        case 4:
            return code.minutes % 10;
        case 5:
            return code.minutes / 10;
        case 6:
            return code.hours % 10;
        default:
            return code.hours / 10 | (!lines_525 && second_field ? 8 : 0);
    }
}

}  // namespace

TeletextPacket teletext_packet(const DataLines& data, std::int64_t n) {
    const auto row = static_cast<unsigned>(n % (rows_of_a_page + 1)), magazine = static_cast<unsigned>(data.page) >> 8U;
    TeletextPacket packet{};
    packet[0] = hamming_8_4((magazine & 7U) | (row & 1U) << 3U);
    packet[1] = hamming_8_4(row >> 1U);
    std::string text = padded(row_text(row), row_characters);
    std::size_t at = 2;
    if (row == 0) {
        packet[at++] = hamming_8_4(static_cast<unsigned>(data.page) & 15U);
        packet[at++] = hamming_8_4(static_cast<unsigned>(data.page) >> 4U & 15U);
        for (int k = 0; k < 6; ++k) packet[at++] = hamming_8_4(0);  // subcode and control bits
        text = padded(data.page_header, header_characters);
    }
    for (const char c : text) packet[at++] = with_odd_parity(c);
    return packet;
}

std::array<std::uint8_t, 2> caption_pair(const DataLines& data, std::int64_t n) {
    // Roll-up of two rows, twice; a carriage return, twice; the text; a pause of a field.
    constexpr std::array<std::array<int, 2>, 4> lead{{{0x14, 0x25}, {0x14, 0x25}, {0x14, 0x2D}, {0x14, 0x2D}}};
    const auto pairs = static_cast<std::int64_t>((data.caption_text.size() + 1) / 2);
    const auto at = static_cast<std::size_t>(n % (static_cast<std::int64_t>(lead.size()) + pairs + 1));
    std::array<int, 2> pair{};
    if (at < lead.size()) {
        pair = lead[at];
    } else if (at < lead.size() + static_cast<std::size_t>(pairs)) {
        const std::size_t from = 2 * (at - lead.size());
        pair = {data.caption_text[from], from + 1 < data.caption_text.size() ? data.caption_text[from + 1] : 0};
    }
    return {with_odd_parity(pair[0]), with_odd_parity(pair[1])};
}

MadeTimeCode time_code_at(const DataLines& data, std::int64_t frame, bool lines_525) {
    MadeTimeCode code = data.time_code_start;
    const int counted = lines_525 ? 30 : 25;
    if (data.jump_at_frame >= 0 && frame >= data.jump_at_frame) frame += data.jump_by_frames;
    // Counting on, as the generator of a recorder does: what is skipped is skipped where it comes.
    for (; frame > 0; --frame) {
        if (++code.frames < counted) continue;
        code.frames = 0;
        if (++code.seconds < 60) continue;
        code.seconds = 0;
        if (++code.minutes == 60) code.minutes = 0, code.hours = (code.hours + 1) % 24;
        if (data.drop_frame && code.minutes % 10 != 0) code.frames = 2;
    }
    return code;
}

std::vector<bool> time_code_bits(const MadeTimeCode& code, bool drop, bool second_field, bool lines_525) {
    std::vector<bool> bits;
    for (std::size_t group = 0; group < 8; ++group) {
        bits.push_back(true), bits.push_back(false);
        const int value = time_code_group(code, group, drop, second_field, lines_525);
        for (int bit = 0; bit < 4; ++bit) bits.push_back(bit_of(value, bit));
        for (int bit = 0; bit < 4; ++bit) bits.push_back(false);  // the user's
    }
    bits.push_back(true), bits.push_back(false);
    for (std::size_t k = 0; k < 8; ++k) {
        bool sum = false;
        for (std::size_t i = (bits.size()) % 8; i < bits.size(); i += 8) sum = sum != bits[i];
        bits.push_back(sum);
    }
    return bits;
}

std::vector<bool> wide_screen_bits_525(int word) {
    std::vector<bool> bits;
    unsigned check = 0x3F;
    for (int bit = 13; bit >= 0; --bit) {
        bits.push_back(bit_of(word, bit));
        const unsigned out = (check >> 5U & 1U) ^ (bits.back() ? 1U : 0U);
        check = (check << 1U & 0x3FU) ^ (out != 0 ? 3U : 0U);
    }
    for (int bit = 5; bit >= 0; --bit) bits.push_back(bit_of(static_cast<int>(check), bit));
    return bits;
}

std::vector<bool> label_elements(const DataLines& data) {
    const auto day = static_cast<unsigned>(data.label_day), month = static_cast<unsigned>(data.label_month),
               hour = static_cast<unsigned>(data.label_hour), minute = static_cast<unsigned>(data.label_minute),
               network = static_cast<unsigned>(data.label_network);
    std::array<unsigned, 13> bytes{};  // the line's bytes 3 to 15
    bytes[2] = 0x80;                   // sound: not said
    bytes[8] = (network >> 6U & 3U) << 6U | day << 1U | month >> 3U;
    bytes[9] = (month & 7U) << 5U | hour;
    bytes[10] = minute << 2U | network >> 10U;
    bytes[11] = (network >> 8U & 3U) << 6U | (network & 0x3FU);
    std::vector<bool> elements;
    for (const unsigned byte : bytes)
        for (int bit = 7; bit >= 0; --bit) {
            const bool one = bit_of(static_cast<int>(byte), bit);
            elements.push_back(one), elements.push_back(!one);
        }
    return elements;
}

}  // namespace guardband::testsignal
