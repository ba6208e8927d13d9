// By how much neighbouring lines are found to lie aside, against rows of a scene without displacement: what is found is
// error alone, by what slants and grows from line to line.
#include "measure/clip/row_shift.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <utility>
#include <vector>

#include "measure/clip/field_shifts.h"
#include "support/displaced_recipe.h"
#include "support/made_clip.h"

namespace guardband::measure {
namespace {

using testsignal::Recipe;

constexpr double ns_per_px = 1e9 / 13.5e6;

/// RMS over all lines of steps found in one field: by all of the picture, and by its fine detail.
std::pair<double, double> step_errors(std::uint64_t seed) {
    support::MadeClip clip(support::displaced([seed](Recipe& r) { r.seed = seed, r.duration_s = 0.04; }));
    const auto frame = clip.next();
    RowShifts shifts(clip.format());
    std::array<FilteredRow, 2> rows;
    const auto lines = static_cast<std::size_t>(frame->format.height / 2);
    std::array<FieldShifts, 2> found;
    for (FieldShifts& one : found) one.begin(shifts.cells(), lines);
    for (std::size_t line = 0; line < lines; ++line) {
        FilteredRow &row = rows[line % 2], &above = rows[1 - line % 2];
        shifts.filter(*frame, static_cast<int>(2 * line), row);
        if (line == 0) continue;
        CellShifts cells;
        int guess = 0;
        shifts.compare(row, above, guess, true, cells);
        found[0].put(line, cells);
        shifts.compare_detail(row, above, guess, cells);
        found[1].put(line, cells);
    }
    std::array<double, 2> rms{};
    for (std::size_t i = 0; i < 2; ++i) {
        std::vector<ShiftMean> means;
        found[i].means(0.001F, means);
        double squares = 0, count = 0;
        for (const ShiftMean& one : means)
            if (one.weight > 0) squares += static_cast<double>(one.samples * one.samples), ++count;
        EXPECT_GT(count, 0.9 * static_cast<double>(lines));
        rms[i] = std::sqrt(squares / count) * ns_per_px;
    }
    return {rms[0], rms[1]};
}

TEST(RowShifts, FineDetailTellsStepsBetter) {
    for (const std::uint64_t seed : {1U, 5U, 9U}) {
        const auto [all, detail] = step_errors(seed);
        EXPECT_LE(detail, 0.8 * all) << seed;
        EXPECT_LE(detail, 9) << seed;
    }
}

}  // namespace
}  // namespace guardband::measure
