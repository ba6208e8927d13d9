#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

#include "measure/waveform/data_row.h"

namespace guardband::measure {

/// Means over stretches of a row, had from sums that run on: the bits of slow services are read by them.
class RowMeans {
public:
    explicit RowMeans(const DataRow& row);

    /// Mean level between two places, to whole samples. @returns 0 where nothing of it lies in the row
    double between(double from, double to) const {
        const int last = static_cast<int>(sums_.size()) - 1;
        const int begin = std::clamp(static_cast<int>(from + 0.5), 0, last),
                  end = std::clamp(static_cast<int>(to + 0.5), 0, last);
        return end > begin
                   ? (sums_[static_cast<std::size_t>(end)] - sums_[static_cast<std::size_t>(begin)]) / (end - begin)
                   : 0;
    }

private:
    std::vector<double> sums_;
};

}  // namespace guardband::measure
