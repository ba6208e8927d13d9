#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// A picture in cells of 32 samples by 96 lines of brightness, each less the mean of those beside it: skies lie above
/// grounds in all pictures. From the top field's column sums.
inline void sketch_picture(const FrameFeatures& features, std::vector<float>& cells) {
    constexpr int cell = 32;
    const auto& columns = features.column_sums[0];
    const int width = columns.width / cell;
    cells.assign(static_cast<std::size_t>(width * columns.height), 0);
    for (int y = 0; y < columns.height; ++y) {
        float* row = cells.data() + static_cast<std::ptrdiff_t>(y) * width;
        float mean = 0;
        for (int x = 0; x < width * cell; ++x) row[x / cell] += static_cast<float>(columns.at(x, y));
        for (int x = 0; x < width; ++x)
            row[x] /= static_cast<float>(cell * FrameFeatures::column_rows), mean += row[x] / static_cast<float>(width);
        for (int x = 0; x < width; ++x) row[x] -= mean;
    }
}

/// How alike two rows of numbers about zero are, −1 to 1; 0 if one is empty of them or they differ in length.
inline double likeness(const std::vector<float>& a, const std::vector<float>& b) {
    if (a.size() != b.size()) return 0;
    double aa = 0, ab = 0, bb = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        const auto x = static_cast<double>(a[i]), y = static_cast<double>(b[i]);
        aa += x * x, ab += x * y, bb += y * y;
    }
    return aa > 0 && bb > 0 ? ab / std::sqrt(aa * bb) : 0;
}

/// Their root mean square.
inline double rms(const std::vector<float>& values) {
    double sum = 0;
    for (const float v : values) sum += static_cast<double>(v) * static_cast<double>(v);
    return values.empty() ? 0 : std::sqrt(sum / static_cast<double>(values.size()));
}

}  // namespace guardband::measure
