// How sure the time base is of clips without fault whose scene moves up or down: what shifts an edge goes along the
// edge with it, so that a short clip holds but a few dozen independent errors.
#include "measure/clip/pair_errors.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "measure/clip/measured_lines.h"
#include "support/displaced_recipe.h"

namespace guardband::measure {
namespace {

using support::displaced;
using testsignal::Recipe;

/// How many times its uncertainty a mean square is.
double square_in_errors(const quantity::Figure& root) {
    const double value = *root.number(), error = *root.uncertainty();
    return value * value / (error * std::max(error, 2 * value));
}

TEST(PairErrors, SayHowLittleIsKnownWhereThePictureMovesAlongTheEdges) {
    constexpr int clips = 6;
    double squares = 0;
    for (std::uint64_t seed = 1; seed <= clips; ++seed) {
        const auto m = measure_lines(displaced([&](Recipe& r) {
            r.noise.snr_db = 30, r.duration_s = 0.6, r.seed = seed;
            r.picture.motion_px = 0.4, r.picture.direction_deg = 90, r.blanking->rise_ns = 300;
        }));
        const double off = square_in_errors(*m.figures.find("time_base_error_rms"));
        EXPECT_LE(off, 3) << seed;
        squares += off * off;
    }
    EXPECT_LE(std::sqrt(squares / clips), 1.45) << "one in twenty sets of six would have more if the errors were right";
}

}  // namespace
}  // namespace guardband::measure
