#pragma once

#include <cstdint>
#include <vector>

#include "measure/waveform/field_layout.h"
#include "measure/waveform/line_clock.h"

namespace guardband::measure {

/// A stretch of picture in cells of half a microsecond.
struct Cells {
    std::vector<float> level;  ///< mean of each
    std::vector<float> rough;  ///< mean square of the step from one sample to the next
};

/// The picture of one line.
struct PictureLine {
    std::int64_t number = 0;  ///< of the line, as `VideoLine` counts
    double place = 0;         ///< where its sync begins or was due, samples
    std::int64_t field = -1;
    bool half_line = false;
    int in_field = -1;
    bool synced = true;  ///< its sync was there
    Cells cells;         ///< above blanking
};

/// Cuts lines into cells.
class CellReader {
public:
    /// @param line_samples  length of a line
    CellReader(const FieldLayout& layout, double rate_hz, double line_samples);

    std::size_t cells() const { return cells_; }
    double cell_us() const { return length_ / samples_per_us_; }
    /// Time of a cell's beginning after the leading edge of sync.
    double start_us(std::size_t cell) const { return from_us_ + static_cast<double>(cell) * cell_us(); }
    /// Reads the cells of the line whose sync begins at `line.place`. @param blanking  to be taken off
    /// @returns false if the window does not hold it
    bool read(const SampleWindow& window, float blanking, PictureLine& line) const;

private:
    double samples_per_us_, from_us_;
    int length_;  ///< samples in a cell
    std::size_t cells_;
};

}  // namespace guardband::measure
