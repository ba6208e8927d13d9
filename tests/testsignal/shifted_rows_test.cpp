#include "testsignal/shifted_rows.h"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

TEST(ShiftedRows, AreExactAtWholeShiftsAndRepeat) {
    FloatPlane plane(40, 30);
    Random(1).fill_gaussian(plane.samples);
    ShiftedRows rows;
    rows.set(plane, 7, -11);
    std::vector<float> row(100);
    for (const int y : {0, 5, 29, 63}) {
        rows.row(y, 3, row);
        for (int x = 0; x < 100; ++x)
            EXPECT_NEAR(row[static_cast<std::size_t>(x)], plane.row((y + 11) % 30)[(x + 3 - 7 + 40) % 40], 1e-5);
    }
}

/// A sine along the row (or down the column), shifted by a fraction: its gain and the error of its place in samples.
std::pair<double, double> gain_and_error(int cycles, double shift, bool down) {
    constexpr int size = 200;
    FloatPlane plane(size, size);
    const double omega = 2 * std::numbers::pi * cycles / size;
    for (int y = 0; y < size; ++y)
        for (int x = 0; x < size; ++x) plane.row(y)[x] = static_cast<float>(std::cos(omega * (down ? y : x)));
    ShiftedRows rows;
    rows.set(plane, down ? 0 : shift, down ? shift : 0);
    std::complex<double> sum = 0;
    std::vector<float> row(size);
    for (int i = 0; i < size; ++i) {
        if (down || i == 0) rows.row(down ? i : 0, 0, row);
        sum += std::polar(2.0 / size, -omega * i) * static_cast<double>(row[down ? 0U : static_cast<std::size_t>(i)]);
    }
    return {std::abs(sum), -std::arg(sum * std::polar(1.0, omega * shift)) / omega};
}

/// The worst over shifts of all sizes and frequencies up to `highest` cycles per sample.
std::pair<double, double> worst_gain_and_place(double highest, bool down) {
    double gain_error = 0, place_error = 0;
    for (const double shift : {0.02, 0.1, 0.25, 0.5, 0.77, 0.98, -3.4})
        for (int cycles = 1; cycles <= highest * 200; ++cycles) {
            const auto [gain, error] = gain_and_error(cycles, shift, down);
            gain_error = std::max(gain_error, std::abs(gain - 1)), place_error = std::max(place_error, std::abs(error));
        }
    return {gain_error, place_error};
}

// The bounds are those that the header claims.
TEST(ShiftedRows, KeepGainAndPlaceAlongTheRow) {
    const auto [gain, place] = worst_gain_and_place(0.37, false);
    EXPECT_LT(gain, 0.012);
    EXPECT_LT(place, 0.0025);
    EXPECT_LT(worst_gain_and_place(0.2, false).second, 0.0013);
}

TEST(ShiftedRows, KeepGainAndPlaceDownTheColumn) {
    const auto [gain, place] = worst_gain_and_place(0.35, true);
    EXPECT_LT(gain, 0.031);
    EXPECT_LT(place, 0.005);
    EXPECT_LT(worst_gain_and_place(0.2, true).second, 0.0013);
}

}  // namespace
}  // namespace guardband::testsignal
