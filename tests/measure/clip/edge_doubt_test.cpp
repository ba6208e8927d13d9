// Edges under which an outline of the picture stands: told from others, and no longer trusted.
#include "measure/clip/edge_doubt.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "measure/clip/displacement_track.h"
#include "measure/clip/edge_filter.h"
#include "support/displaced_recipe.h"
#include "support/made_clip.h"

namespace guardband::measure {
namespace {

using support::displaced;
using testsignal::Recipe;

constexpr double rise_px = 4.2, noise_codes = 2.2;
constexpr int first = 20;
using Window = std::array<float, EdgeFilter::taps>;

/// A line of a raised cosine's rise, as blanking has, over a picture of `behind` codes that changes by `step` codes
/// outwards of `outline_px` behind the edge.
Window window(std::mt19937& random, double place, double behind, double step, double outline_px, int at_sample) {
    std::normal_distribution<double> noise(0, noise_codes);
    Window out{};
    const double length = rise_px / 0.59;  // 10 % to 90 % of a raised cosine
    for (int i = 0; i < EdgeFilter::taps; ++i) {
        const double at = at_sample - EdgeFilter::before + i - place;
        const double gate = 0.5 + 0.5 * std::sin(std::numbers::pi * std::clamp(at / length, -0.5, 0.5));
        const double picture = behind + step * 0.5 * std::erfc((at - outline_px) / 1.2);
        out[static_cast<std::size_t>(i)] = static_cast<float>(gate * picture + noise(random));
    }
    return out;
}

struct Means {
    double strain = 0, shift_px = 0;
};

/// Of many lines, by a filter for pictures that are flat.
Means means(double step, double outline_px) {
    const EdgeFilter filter(rise_px, {.everywhere = noise_codes}, {4, 4});
    std::mt19937 random(5);
    std::uniform_real_distribution<double> fraction(0.3, 0.7);
    constexpr int lines = 200;
    Means out;
    for (int n = 0; n < lines; ++n) {
        const double place = first + fraction(random);
        auto guess = static_cast<float>(place);
        Window row{};
        int at = first;
        for (int i = 0; i < 4; ++i) {
            at = static_cast<int>(guess);
            row = window(random, place, 200, step, outline_px, at);
            guess = filter.step(row.data(), at, guess).place;
        }
        out.strain += static_cast<double>(filter.strain(row.data(), at, guess)) / lines;
        out.shift_px += (static_cast<double>(guess) - place) / lines;
    }
    return out;
}

TEST(EdgeDoubt, StrainTellsAnOutlineThatShiftsTheEdge) {
    const Means none = means(0, 0);
    EXPECT_LT(none.strain, 5);
    EXPECT_LT(std::abs(none.shift_px), 0.05);
    for (const double step : {-160.0, -110.0, -60.0})
        for (double outline_px = -2; outline_px <= 4; outline_px += 0.5) {
            const Means with = means(step, outline_px);
            if (std::abs(with.shift_px) > 0.4) {
                EXPECT_GT(with.strain, 5) << outline_px << " " << step;
            }
        }
}

EdgeLine line_with(float strain, float variance) {
    EdgeLine line;
    EdgeFit edge;
    edge.variance = variance, edge.strain = strain;
    line.edges = {edge, edge};
    return line;
}

TEST(EdgeDoubt, RaisesARunOfLinesAndNotOneNorAll) {
    EdgeDoubt doubt;
    std::vector<EdgeLine> lines(100, line_with(2, 0.002F));
    for (std::size_t y = 40; y < 60; ++y) lines[y].edges[1]->strain = 30;
    lines[10].edges[0]->strain = 25;
    doubt.see(lines);
    for (std::size_t y = 44; y < 56; ++y) EXPECT_GT(lines[y].edges[1]->variance, 0.2F);
    for (std::size_t y = 0; y < 100; ++y) {
        EXPECT_FLOAT_EQ(lines[y].edges[0]->variance, 0.002F) << y;  // one odd line tells nothing
        EXPECT_EQ(lines[y].doubted[1], lines[y].edges[1]->variance > 0.005F) << y;
    }
    EXPECT_FLOAT_EQ(lines[30].edges[1]->variance, 0.002F);
    // A rise that isn't quite that of the filters strains all lines.
    std::vector<EdgeLine> all(100, line_with(12, 0.002F));
    doubt.see(all);
    for (const EdgeLine& line : all) EXPECT_FALSE(line.doubted[0] || line.doubted[1]);
}

TEST(EdgeDoubt, FewLinesDoNoHarm) {
    EdgeDoubt doubt;
    for (const std::size_t count : {0U, 1U, 2U, 5U, 25U, 26U, 30U}) {
        std::vector<EdgeLine> lines(count, line_with(2, 0.002F));
        if (count > 1) lines[0].edges[0].reset();
        doubt.see(lines), doubt.see_foreseen(lines);
        for (const EdgeLine& line : lines) EXPECT_FALSE(line.doubted[1]);
    }
}

/// RMS error of the lines' places, ns, from the eighth frame on.
double place_error_ns(const Recipe& recipe) {
    support::MadeClip clip(recipe);
    testsignal::ClipMaker maker(recipe);
    DisplacementTrack track(clip.format(), 16);
    double sum = 0, squares = 0, count = 0;
    std::int64_t frame = 0;
    for (auto next = clip.next(); next; next = clip.next(), ++frame) {
        track.see(*next);
        if (frame < 8) continue;
        for (int parity = 0; parity < 2; ++parity) {
            const auto truth = maker.displacements_ns(2 * frame + parity);
            const PlacedLines& lines = track.field(static_cast<std::size_t>(parity));
            for (std::size_t i = 0; i < lines.size(); ++i) {
                if (lines.variance[i] >= placed_variance) continue;
                const double error = static_cast<double>(lines.place_px[i]) * 1000 / 13.5 - truth[i];
                sum += error, squares += error * error, ++count;
            }
        }
    }
    return std::sqrt(squares / count - sum * sum / (count * count));
}

// The white board's right outline stands under the right edge from the 14th frame on. Where that is not seen the error
// is 10 ns.
TEST(EdgeDoubt, LinesAreInPlaceThoughABoardPassesTheEdge) {
    const Recipe recipe = displaced([](Recipe& r) {
        r.seed = 722;
        r.picture.motion_px = 0.7, r.picture.direction_deg = 30;
        r.blanking->left_px = 9, r.blanking->right_px = 9, r.blanking->rise_ns = 200;
        r.time_base->random_ns = 50;
    });
    EXPECT_LT(place_error_ns(recipe), 8);
}

}  // namespace
}  // namespace guardband::measure
