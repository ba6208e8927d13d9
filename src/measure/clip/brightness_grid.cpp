#include "measure/clip/brightness_grid.h"

#include <cmath>

namespace guardband::measure {
namespace {

constexpr double camera_gamma = 0.45;

/// First row of a field that belongs to a band.
int first_row(int band, int field_rows) { return band * field_rows / BrightnessGrid::bands; }

}  // namespace

BrightnessGrid::BrightnessGrid(int segments, int rows, double black, double range)
    : segments_(segments), rows_(rows), black_(black), range_(range) {
    for (int c = 0; c <= columns; ++c) column_starts_[static_cast<std::size_t>(c)] = c * segments / columns;
}

void BrightnessGrid::read(const FrameFeatures& features, std::span<float> light) const {
    const int field_rows = rows_ / parities;
    std::size_t cell = 0;
    for (int parity = 0; parity < parities; ++parity) {
        for (int band = 0; band < bands; ++band) {
            std::array<std::uint64_t, columns> sums{};
            const int from = first_row(band, field_rows), to = first_row(band + 1, field_rows);
            for (int row = from; row < to; ++row) {
                const std::uint32_t* sum = &features.segment_sums.at(0, parities * row + parity);
                for (std::size_t c = 0; c < columns; ++c) {
                    for (int s = column_starts_[c]; s < column_starts_[c + 1]; ++s) sums[c] += sum[s];
                }
            }
            for (std::size_t c = 0; c < columns; ++c) {
                const double samples =
                    double(FrameFeatures::segment) * (to - from) * (column_starts_[c + 1] - column_starts_[c]);
                const double share = (static_cast<double>(sums[c]) / samples - black_) / range_;
                light[cell++] = share > 0 ? static_cast<float>(std::pow(share, 1 / camera_gamma)) : 0.0F;
            }
        }
    }
}

double BrightnessGrid::height_of(int parity, int band) const {
    const int field_rows = rows_ / parities;
    const double middle = 0.5 * (first_row(band, field_rows) + first_row(band + 1, field_rows) - 1);
    return (parities * middle + parity + 0.5) / rows_;
}

}  // namespace guardband::measure
