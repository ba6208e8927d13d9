#include "measure/waveform/data_text.h"

#include <fmt/format.h>

#include <bit>
#include <span>

namespace guardband::measure {
namespace {

constexpr std::size_t address_bytes = 2, header_codes = 10;
constexpr std::size_t clock_characters = 8;  ///< at the end of a header
constexpr unsigned last_row_of_a_page = 24;
constexpr std::size_t most_pages_named = 8;
constexpr std::size_t longest_text = 60;

bool has_odd_parity(std::uint8_t byte) { return std::popcount(byte) % 2 == 1; }

char printable(std::uint8_t byte) {
    const auto c = static_cast<unsigned char>(byte & 0x7FU);
    return c > ' ' && c < 0x7F ? static_cast<char>(c) : ' ';
}

/// Runs of spaces become one; none at either end.
std::string tidy(const std::string& text) {
    std::string out;
    for (const char c : text)
        if (c != ' ' || (!out.empty() && out.back() != ' ')) out += c;
    while (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
}

}  // namespace

void TeletextText::see(const SlicedLine& packet) {
    const std::span<const std::uint8_t> bytes = std::span(packet.bytes).first(packet_bytes_);
    const auto low = hamming_8_4(bytes[0]), high = hamming_8_4(bytes[1]);
    bytes_.add(low.has_value()), bytes_.add(high.has_value());
    if (!low || !high) return;
    const unsigned row = *low >> 3U | *high << 1U;
    if (row > last_row_of_a_page) return;  // of another make-up
    if (row == 0) {
        for (const std::uint8_t byte : bytes.subspan(address_bytes, header_codes - address_bytes))
            bytes_.add(hamming_8_4(byte).has_value());
        see_header(packet, *low & 7U);
    }
    for (const std::uint8_t byte : bytes.subspan(row == 0 ? header_codes : address_bytes))
        bytes_.add(has_odd_parity(byte));
}

void TeletextText::see_header(const SlicedLine& packet, unsigned magazine) {
    const auto units = hamming_8_4(packet.bytes[2]), tens = hamming_8_4(packet.bytes[3]);
    if (!units || !tens || *units > 9 || *tens > 9) return;  // others are not for viewers
    pages_.insert((magazine == 0 ? 8 : magazine) * 100 + *tens * 10 + *units);
    if (!header_.empty()) return;
    std::string text;
    for (std::size_t i = header_codes; i < packet_bytes_ - clock_characters; ++i) {
        if (!has_odd_parity(packet.bytes[i])) return;
        text += printable(packet.bytes[i]);
    }
    header_ = tidy(text);
}

std::string TeletextText::words() const {
    if (pages_.empty()) return "no page header";
    std::string text = pages_.size() == 1 ? "page" : "pages";
    std::size_t named = 0;
    for (const unsigned page : pages_) {
        if (named++ == most_pages_named) {
            text += fmt::format(" and {} more", pages_.size() - most_pages_named);
            break;
        }
        text += fmt::format("{} {}", named == 1 ? "" : ",", page);
    }
    return header_.empty() ? text : text + "; \"" + header_ + "\"";
}

void CaptionText::see(const SlicedLine& pair) {
    const std::uint8_t first = pair.bytes[0], second = pair.bytes[1];
    const bool first_right = has_odd_parity(first), second_right = has_odd_parity(second);
    bytes_.add(first_right), bytes_.add(second_right);
    if (!first_right || !second_right) return;
    const unsigned code = first & 0x7FU;
    if (code >= 0x10 && code < 0x20) {  // where captions go, and how: a new word begins
        other_channel_ = (code & 8U) != 0;
        if (!other_channel_) text_ += ' ';
    } else if (code > 0 && code < 0x10) {  // data about programmes, in the second field
        other_channel_ = true;
    } else if (!other_channel_) {
        for (const std::uint8_t byte : {first, second})
            if ((byte & 0x7FU) != 0) text_ += printable(byte);
    }
    // Enough is kept to show; runs of spaces must not fill it up.
    if (text_.size() > 2 * longest_text) text_ = tidy(text_).substr(0, longest_text + 1);
}

std::string CaptionText::words() const {
    const std::string text = tidy(text_);
    if (text.empty()) return "no text";
    return text.size() > longest_text ? "\"" + text.substr(0, longest_text) + "\" and more" : "\"" + text + "\"";
}

}  // namespace guardband::measure
