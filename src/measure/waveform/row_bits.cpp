#include "measure/waveform/row_bits.h"

namespace guardband::measure {

RowMeans::RowMeans(const DataRow& row) : sums_(row.levels.size() + 1) {
    for (std::size_t i = 0; i < row.levels.size(); ++i) sums_[i + 1] = sums_[i] + row.levels[i];
}

}  // namespace guardband::measure
