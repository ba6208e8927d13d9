#include "calc/filmed_screen.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "calc/filmed_picture.h"
#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "testsignal/filmed_light.h"

namespace guardband::calc {
namespace {

using quantity::Rational;
using testing::HasSubstr;

using support::built_in;

Filming filming(Rational screen, Rational camera, double exposure_s, double readout_s = 0, double decay_s = 0) {
    Filming f;
    f.screen = screen, f.camera = camera;
    f.exposure_s.value = exposure_s, f.readout_s.value = readout_s, f.decay_s.value = decay_s;
    f.exposure_error = 0.01;
    set_scan_share(f, built_in());
    return f;
}

/// The same as a recipe of the test signals, which film by code of their own.
testsignal::Recipe recipe_of(const Filming& f) {
    testsignal::Recipe recipe;
    recipe.raster.width = 64, recipe.raster.height = 48;
    recipe.raster.frame_rate = f.camera;
    recipe.scan = testsignal::Scan::Progressive;
    recipe.screen.emplace();
    recipe.screen->rate_hz = f.screen.value();
    recipe.screen->decay_ms = 1e3 * f.decay_s.value;
    recipe.screen->scan_share = f.scan_share;
    recipe.camera.exposure_ms = 1e3 * f.exposure_s.value;
    recipe.camera.readout_ms = 1e3 * f.readout_s.value;
    return recipe;
}

TEST(FilmedScreen, AgreesWithTheTestSignals) {
    std::mt19937 random(21);
    std::uniform_real_distribution<double> share(0.05, 1), decay(1e-4, 3e-3);
    for (const Rational screen : {Rational(50), Rational(60000, 1001), Rational(75), Rational(100)})
        for (const Rational camera : {Rational(24), Rational(25), Rational(30000, 1001), Rational(50)}) {
            const double picture_s = 1 / camera.value();
            const Filming f =
                filming(screen, camera, share(random) * picture_s, share(random) * picture_s, decay(random));
            const FilmedScreen answer = filmed_screen(f);
            const testsignal::FilmedLight light(recipe_of(f));
            const testsignal::FlickerTruth truth = light.truth();
            if (answer.has_direction) {
                EXPECT_NEAR(answer.beat.value(), truth.apparent_signed_hz, 1e-9);
            } else {  // half way, either sign says the same
                EXPECT_NEAR(answer.beat.value(), std::abs(truth.apparent_signed_hz), 1e-9);
            }
            EXPECT_NEAR(*answer.depth.number(), truth.light_depth, 1e-12);
            EXPECT_NEAR(*answer.bands.number(), truth.bands, 1e-12);
            for (const int picture : {0, 1, 7, 1000})
                for (const double height : {0.0, 0.31, 0.97}) {
                    const double start_s = picture * picture_s + f.readout_s.value * height;
                    EXPECT_NEAR(light_in_picture(f, picture, height), light.light(start_s, height), 1e-6)
                        << screen.value() << " " << camera.value() << " " << picture << " " << height;
                }
        }
}

/// Where the brightest row of a picture stands; pictures of short exposures have one clear band.
double brightest_height(const Filming& f, int picture) {
    double best = 0, light = -1;
    for (int i = 0; i < 2000; ++i)
        if (const double here = light_in_picture(f, picture, i / 2000.0); here > light) light = here, best = i / 2000.0;
    return best;
}

TEST(FilmedScreen, DriftIsWhatThePicturesDo) {
    for (const auto& [screen, camera, readout] : {std::tuple{Rational(60000, 1001), Rational(60), 0.0},
                                                  {Rational(61), Rational(30), 0.0},
                                                  {Rational(61), Rational(30), 0.032},
                                                  {Rational(59), Rational(30), 0.032}}) {
        const Filming f = filming(screen, camera, 0.001, readout, 0.0004);
        const FilmedScreen answer = filmed_screen(f);
        // Follow the band while it does not leave the picture: small steps, the shortest way round a band.
        const double apart = 1 / std::abs(*answer.bands.number());
        double moved = 0;
        for (int picture = 0; picture < 6; ++picture)
            moved += std::remainder(brightest_height(f, picture + 1) - brightest_height(f, picture), apart);
        EXPECT_NEAR(moved / 6 * camera.value(), *answer.drift_per_s.number(), 0.02 * camera.value()) << screen.value();
    }
    // A tube a little faster than the camera rolls downwards, a slower one upwards (all rows at once).
    EXPECT_GT(*filmed_screen(filming(51, 50, 0.001)).drift_per_s.number(), 0);
    EXPECT_LT(*filmed_screen(filming(49, 50, 0.001)).drift_per_s.number(), 0);
}

TEST(FilmedScreen, StandsStillAtAMultiple) {
    const FilmedScreen answer = filmed_screen(filming(50, 25, 0.01));
    EXPECT_EQ(answer.beat, Rational(0));
    EXPECT_FALSE(answer.period_s.is_known());
    EXPECT_EQ(*answer.drift_per_s.number(), 0);
    EXPECT_FALSE(filmed_screen(filming(60, 24, 0.01)).has_direction);
}

TEST(FilmedScreen, ALampHasNoBandsWithoutReadOut) {
    Filming f = filming(100, {30000, 1001}, 0.005);
    f.is_lamp = true, f.scan_share = 0;
    const FilmedScreen answer = filmed_screen(f);
    EXPECT_EQ(*answer.bands.number(), 0);
    EXPECT_THAT(answer.drift_per_s.reason(), HasSubstr("no bands"));
    EXPECT_NEAR(*answer.depth.number(), 2 / std::numbers::pi, 1e-12);  // half a period: mean of half a sine
}

TEST(NullExposures, AreWholeRefreshesThatFit) {
    const FilmedScreen answer = filmed_screen(filming({60000, 1001}, 25, 0.02));
    ASSERT_EQ(answer.nulls.size(), 2U);
    EXPECT_NEAR(*answer.nulls[0].exposure_s.number(), 1001 / 60000.0, 1e-15);
    EXPECT_NEAR(*answer.nulls[1].exposure_s.number(), 2002 / 60000.0, 1e-15);
    EXPECT_TRUE(filmed_screen(filming(50, {60000, 1001}, 0.01)).nulls.empty());
    EXPECT_EQ(filmed_screen(filming(100, 25, 0.01)).nulls.size(), 4U);
    // By hand: near a null sin(πn(1+e)) is ±πne, so that an error of 1 % leaves 2 × 0.01.
    for (const NullExposure& null : answer.nulls) EXPECT_NEAR(null.depth, 0.02, 0.0006);
    // Without afterglow the whole flash of one refresh in n comes or goes.
    EXPECT_NEAR(answer.nulls[1].peak_to_peak, 0.5, 0.01);
}

TEST(NullExposures, LetThroughMoreTheFurtherTheyAreMissed) {
    double before = -1;
    for (const double error : {0.0, 0.001, 0.01, 0.05, 0.2}) {
        Filming f = filming(50, 24, 0.02, 0, 0.0005);
        f.exposure_error = error;
        const double depth = filmed_screen(f).nulls.at(0).depth;
        EXPECT_GT(depth, before);
        before = depth;
    }
    Filming f = filming(50, 24, 0.02);
    f.exposure_error = 1;
    EXPECT_THROW(filmed_screen(f), quantity::DomainError);
}

TEST(FilmedScreen, CarriesUncertaintyOfTheRates) {
    Filming f = filming(Rational(5002, 100), 25, 0.01);
    f.screen_off_hz = 0.01;
    const FilmedScreen answer = filmed_screen(f);
    EXPECT_NEAR(*answer.flicker_hz.number(), 0.02, 1e-12);
    EXPECT_NEAR(*answer.flicker_hz.uncertainty(), 0.01 / std::sqrt(3.0), 1e-12);
    EXPECT_GT(*answer.nulls[0].exposure_s.uncertainty(), 0);
    EXPECT_NEAR(*answer.period_s.number(), 50, 1e-9);
    f.screen_off_hz = 0.03;  // may as well be none
    EXPECT_THAT(filmed_screen(f).period_s.reason(), HasSubstr("too uncertain"));
}

TEST(FilmStrip, ShowsOneBeat) {
    const FilmStrip slow = film_strip(filming({60000, 1001}, 60, 0.004, 0, 0.0005));  // 1001 pictures a beat
    EXPECT_EQ(slow.step, 2);
    EXPECT_GE(slow.beat_periods, 1);
    EXPECT_LT(slow.beat_periods, 1.01);
    const FilmStrip quick = film_strip(filming({60000, 1001}, 25, 0.004, 0, 0.0005));
    EXPECT_EQ(quick.pictures, 8);
    EXPECT_EQ(quick.picture.at(quick.picture_width, 0), 0) << "black between pictures";
    EXPECT_EQ(film_strip(filming(50, 25, 0.004)).beat_periods, 0);
}

TEST(FilmStrip, OfABeatThatTakesMonthsIsStillOne) {
    const FilmStrip strip = film_strip(filming({5994006, 100000}, {60000, 1001}, 0.004));  // beats by 60 nHz
    EXPECT_GT(strip.step, 100'000);
    EXPECT_NEAR(strip.beat_periods, 1, 0.01);
}

TEST(FilmStrip, HoldsTheLightOfEachPicture) {
    const Filming f = filming({60000, 1001}, 25, 0.012, 0, 0.001);
    const FilmStrip strip = film_strip(f);
    const testsignal::FilmedLight light(recipe_of(f));
    const int pitch = (strip.picture.width - strip.picture_width) / (strip.pictures - 1);
    double brightest = 0;
    for (int i = 0; i < strip.pictures; ++i)
        for (int y = 0; y < strip.picture.height; ++y)
            brightest = std::max(brightest, light.light(i / 25.0, (y + 0.5) / strip.picture.height));
    const double grey = std::min(128.0, 255 / std::pow(brightest, 0.45));
    for (int i = 0; i < strip.pictures; ++i)
        for (int y = 0; y < strip.picture.height; ++y)
            EXPECT_NEAR(strip.picture.at(i * pitch, y),
                        grey * std::pow(light.light(i / 25.0, (y + 0.5) / strip.picture.height), 0.45), 0.51);
}

TEST(FilmStrip, IsEvenGreyAtANull) {
    const FilmStrip strip = film_strip(filming(50, 24, 0.02, 0.01, 0.001));
    for (int y = 0; y < strip.picture.height; ++y) EXPECT_EQ(strip.picture.at(0, y), 128);
}

TEST(FilmedWorking, EndsInTheAnswersNumbers) {
    const Filming f = filming({60000, 1001}, 25, 0.02);
    const Working working = filmed_working(f, filmed_screen(f));
    ASSERT_FALSE(working.empty());
    EXPECT_EQ(working[0].numbers, "60000/1001 − 2 × 25");
    EXPECT_THAT(working[0].result, HasSubstr("9950/1001 = 9.9401 Hz"));
}

}  // namespace
}  // namespace guardband::calc
