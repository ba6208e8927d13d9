#pragma once

#include <cstdint>
#include <set>
#include <string>

#include "measure/waveform/data_slicer.h"

namespace guardband::measure {

/// How many of some bytes or lines pass their check.
struct CheckCount {
    std::int64_t right = 0, all = 0;
    void add(bool is_right) { ++all, right += is_right ? 1 : 0; }
    double share() const { return all > 0 ? static_cast<double>(right) / static_cast<double>(all) : 0; }
};

/// Pages and header of teletext (system B; ETS 300 706, from memory), and how many of its bytes pass their check:
/// odd parity in the rows of a page, Hamming's code in addresses. Text is printable ASCII, whatever was sent.
class TeletextText {
public:
    /// @param packet_bytes  42 on 625 lines, 34 on 525
    explicit TeletextText(std::size_t packet_bytes) : packet_bytes_(packet_bytes) {}

    void see(const SlicedLine& packet);
    const CheckCount& bytes() const { return bytes_; }
    /// `pages 100, 101; "LIGHTHOUSE MUSEUM"`, shortened where there are many.
    std::string words() const;

private:
    void see_header(const SlicedLine& packet, unsigned magazine);

    std::size_t packet_bytes_;
    CheckCount bytes_;
    std::set<unsigned> pages_;
    std::string header_;
};

/// The text of captions (CTA-608, from memory): of one field, channel 1. Text is printable ASCII, whatever was sent.
class CaptionText {
public:
    void see(const SlicedLine& pair);
    const CheckCount& bytes() const { return bytes_; }
    /// The first few words.
    std::string words() const;

private:
    CheckCount bytes_;
    std::string text_;
    bool other_channel_ = false;  ///< what follows belongs to channel 2, or is no caption
};

}  // namespace guardband::measure
