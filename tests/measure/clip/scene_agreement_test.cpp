// The time base where the scene moves straight up or down: what the picture under the edges errs by goes along with it,
// so that left and right seem to agree. Of a clip without fault nothing may be left of that, of a fault everything
// must.
#include "measure/clip/scene_agreement.h"

#include <gtest/gtest.h>

#include <functional>

#include "measure/clip/measured_lines.h"
#include "support/displaced_recipe.h"

namespace guardband::measure {
namespace {

using support::displaced;
using testsignal::Recipe;

double rms_where_the_scene_rises(const std::function<void(Recipe&)>& change) {
    return measure_lines(displaced([&](Recipe& r) {
               r.noise.snr_db = 42, r.blanking->rise_ns = 300;
               r.picture.direction_deg = 270;
               change(r);
           }))
        .rms();
}

TEST(SceneAgreement, IsNoTimeBaseError) {
    EXPECT_LE(rms_where_the_scene_rises([](Recipe& r) { r.duration_s = 1.6, r.seed = 7011, r.picture.motion_px = 2; }),
              4);
}

// One period per field, the same in all: it goes along neither with the scene nor, much, against it.
TEST(SceneAgreement, LeavesAnErrorThatStaysWithTheField) {
    EXPECT_NEAR(rms_where_the_scene_rises([](Recipe& r) {
                    r.duration_s = 0.6, r.seed = 3, r.picture.motion_px = 0.5;
                    r.time_base->sine_ns = {30 * 1.41421356}, r.time_base->sine_hz = {50};
                }),
                30, 3);
}

}  // namespace
}  // namespace guardband::measure
