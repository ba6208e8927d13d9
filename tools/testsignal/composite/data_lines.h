#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace guardband::testsignal {

/// A label of a frame, as recipes write it.
struct MadeTimeCode {
    int hours = 0, minutes = 0, seconds = 0, frames = 0;
};

/// Data on lines of the field interval. Lines are numbered within the frame, from 1; no lines: not there.
struct DataLines {
    std::vector<int> teletext;  ///< system B, 625 lines
    int page = 0x100;           ///< magazine and page, two hexadecimal digits
    std::string page_header = "LIGHTHOUSE MUSEUM";
    std::vector<int> captions;
    std::string caption_text = "THE LAMP IS LIT";
    std::vector<int> wide_screen;
    int wide_screen_word = 0;  ///< 14 bits, the first sent lowest (625) or highest (525)
    std::vector<int> label;    ///< programme label, 625 lines
    int label_network = 0xD94;
    int label_day = 27, label_month = 11, label_hour = 20, label_minute = 15;
    std::vector<int> time_code;
    MadeTimeCode time_code_start;     ///< of the frame that counts as the first
    bool drop_frame = false;          ///< 525 lines
    std::int64_t jump_at_frame = -1;  ///< from this frame on the code …
    std::int64_t jump_by_frames = 0;  ///< … is so many further
    double level_percent = 100;       ///< of their nominal heights

    bool any() const {
        return !(teletext.empty() && captions.empty() && wide_screen.empty() && label.empty() && time_code.empty());
    }
};

using TeletextPacket = std::array<std::uint8_t, 42>;

/// The packet that goes out as the n-th: a header after each 24 rows. Coding: ETS 300 706, from memory.
TeletextPacket teletext_packet(const DataLines& data, std::int64_t n);

/// The two characters that go out as the n-th pair of a line, with parity: a roll-up caption.
/// Coding: CTA-608, from memory.
std::array<std::uint8_t, 2> caption_pair(const DataLines& data, std::int64_t n);

/// The label that the frame carries which follows so many others.
MadeTimeCode time_code_at(const DataLines& data, std::int64_t frame, bool lines_525);

/// The 90 bits of a line of vertical-interval time code, in the order of sending. Coding: SMPTE ST 12-1, from memory.
std::vector<bool> time_code_bits(const MadeTimeCode& code, bool drop, bool second_field, bool lines_525);

/// Six check bits over fourteen, x⁶ + x + 1 from all ones: IEC 61880, from memory. @returns all twenty in order
std::vector<bool> wide_screen_bits_525(int word);

/// Sixteen elements a byte, as the programme label goes out after its start code. Coding: ETS 300 231, from memory.
std::vector<bool> label_elements(const DataLines& data);

}  // namespace guardband::testsignal
