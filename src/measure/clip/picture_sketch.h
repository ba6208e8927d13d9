#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// A picture in some 54 cells of mean brightness, from the top field's column sums.
inline void sketch_picture(const FrameFeatures& features, std::vector<float>& cells) {
    const auto& columns = features.column_sums[0];
    const int width = std::max(1, columns.width / CombEnergy::cell_samples);
    cells.assign(static_cast<std::size_t>(width * columns.height), 0);
    const int samples = columns.width / width;
    for (int y = 0; y < columns.height; ++y)
        for (int x = 0; x < width * samples; ++x)
            cells[static_cast<std::size_t>(y * width + x / samples)] += static_cast<float>(columns.at(x, y));
    for (float& cell : cells) cell /= static_cast<float>(samples * FrameFeatures::column_rows);
}

/// How alike two rows of numbers are, −1 to 1; 0 if one is flat or they differ in length.
/// @param less_means  their means are taken out first
inline double likeness(const std::vector<float>& a, const std::vector<float>& b, bool less_means = true) {
    if (a.size() != b.size() || a.empty()) return 0;
    double mean_a = 0, mean_b = 0;
    if (less_means) {
        for (std::size_t i = 0; i < a.size(); ++i)
            mean_a += static_cast<double>(a[i]), mean_b += static_cast<double>(b[i]);
        mean_a /= static_cast<double>(a.size()), mean_b /= static_cast<double>(b.size());
    }
    double aa = 0, ab = 0, bb = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        const double x = static_cast<double>(a[i]) - mean_a, y = static_cast<double>(b[i]) - mean_b;
        aa += x * x, ab += x * y, bb += y * y;
    }
    return aa > 0 && bb > 0 ? ab / std::sqrt(aa * bb) : 0;
}

}  // namespace guardband::measure
