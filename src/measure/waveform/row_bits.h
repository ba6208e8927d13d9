#pragma once

#include <vector>

#include "measure/waveform/data_row.h"

namespace guardband::measure {

/// Means over stretches of a row, had from sums that run on: the bits of slow services are read by them.
class RowMeans {
public:
    explicit RowMeans(const DataRow& row);

    /// Mean level between two places, to whole samples. @returns 0 where nothing of it lies in the row
    double between(double from, double to) const;

private:
    std::vector<double> sums_;
};

}  // namespace guardband::measure
