#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "measure/waveform/data_row.h"

namespace guardband::measure {

/// Services whose bits libzvbi reads. Systems of teletext as ITU-R BT.653 letters them.
enum class DataService { TeletextA, TeletextB, TeletextC, TeletextD, Captions, WideScreen, Label };

/// The bytes of one line of data.
struct SlicedLine {
    DataService service = DataService::TeletextB;
    std::array<std::uint8_t, 56> bytes{};
};

/// What a programme label says (ETS 300 231).
struct ProgrammeLabel {
    unsigned network = 0;  ///< 12 bits; 0: not said
    int day = 0, month = 0, hour = 0, minute = 0;

    friend bool operator==(const ProgrammeLabel&, const ProgrammeLabel&) = default;
};

/// Reads the bits of a line through libzvbi; the one place that knows that library. It is given levels and a place for
/// the bytes, both of fixed size, so that nothing in a recording can lead it astray.
///
/// It finds the clock by the run-in and checks the framing code. On noise it finds a packet of teletext in one line of
/// 1500 at most, and a caption in two of five; a caption therefore counts only if its run-in stands out from the rest.
class DataSlicer {
public:
    explicit DataSlicer(bool lines_525);
    ~DataSlicer();
    DataSlicer(const DataSlicer&) = delete;
    DataSlicer& operator=(const DataSlicer&) = delete;

    /// @param service  to look for; on a line that it may stand on
    std::optional<SlicedLine> read(const DataRow& row, DataService service);

private:
    struct Decoders;
    bool lines_525_;
    std::unique_ptr<Decoders> decoders_;
};

/// Four bits protected by four; one wrong bit is put right. @returns nothing where two are wrong
std::optional<unsigned> hamming_8_4(std::uint8_t byte);

ProgrammeLabel programme_label(const SlicedLine& line);

}  // namespace guardband::measure
