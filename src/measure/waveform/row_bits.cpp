#include "measure/waveform/row_bits.h"

#include <algorithm>

namespace guardband::measure {

RowMeans::RowMeans(const DataRow& row) : sums_(row.levels.size() + 1) {
    for (std::size_t i = 0; i < row.levels.size(); ++i) sums_[i + 1] = sums_[i] + row.levels[i];
}

double RowMeans::between(double from, double to) const {
    const int last = static_cast<int>(sums_.size()) - 1;
    const int begin = std::clamp(static_cast<int>(from + 0.5), 0, last),
              end = std::clamp(static_cast<int>(to + 0.5), 0, last);
    return end > begin ? (sums_[static_cast<std::size_t>(end)] - sums_[static_cast<std::size_t>(begin)]) / (end - begin)
                       : 0;
}

}  // namespace guardband::measure
