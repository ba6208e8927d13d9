// Every system of the table is told from its signal, and what the table prints of it is found, without a hint.
#include <gmock/gmock.h>

#include <cmath>

#include "measure/waveform/made_video.h"
#include "support/made_sound.h"
#include "support/table_questions.h"

namespace guardband::measure {
namespace {

class Systems : public testing::TestWithParam<const char*> {};

TEST_P(Systems, AreTold) {
    auto recipe = video_recipe(GetParam());
    recipe.disturbance.snr_db = 40;
    recipe.start_line = 97.3;
    const testsignal::CompositeSystem& made = recipe.system;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_EQ(text(report, "tv_system"), made.scanning);
    // NTSC without set-up differs in no figure of sync or burst.
    const std::string colour = made.colour == "NTSC-J" ? "NTSC" : made.colour.empty() ? "none" : made.colour;
    EXPECT_EQ(text(report, "colour"), colour);
    EXPECT_EQ(text(report, "interlace"), "2:1");
    EXPECT_EQ(value(report, "lines_per_frame"), made.lines);
    EXPECT_NEAR(value(report, "line_rate") / made.line_rate_hz.value(), 1, 1e-6);
    EXPECT_NEAR(value(report, "sync_width"), made.sync_us, 0.02);
    if (!made.subcarrier_hz) return;
    EXPECT_NEAR(value(report, "subcarrier_frequency") / made.subcarrier_hz->value(), 1, 1e-6);
    EXPECT_NEAR(value(report, "burst_start"), made.burst_start_us, 0.02);
    const double cycle_us = 1e6 / made.subcarrier_hz->value();
    EXPECT_NEAR(value(report, "burst_cycles") * cycle_us, made.burst_cycles * cycle_us, 0.04);
    EXPECT_NEAR(value(report, "burst_amplitude") / made.burst_mv, 1, 0.02);
}

// Any rate from 10 MS/s up: there a subcarrier of 4.43 MHz stands close to half of the rate.
TEST_P(Systems, AreToldAtTheLowestRate) {
    auto recipe = video_recipe(GetParam());
    recipe.sampling.rate_hz = 10'000'000;
    recipe.disturbance.snr_db = 36;
    const testsignal::CompositeSystem& made = recipe.system;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_EQ(text(report, "tv_system"), made.scanning);
    EXPECT_EQ(text(report, "colour"), made.colour == "NTSC-J" ? "NTSC" : made.colour.empty() ? "none" : made.colour);
    if (made.subcarrier_hz) {
        EXPECT_NEAR(value(report, "subcarrier_frequency") / made.subcarrier_hz->value(), 1, 2e-6);
    }
}

INSTANTIATE_TEST_SUITE_P(Table, Systems,
                         testing::Values("PAL", "PAL-M", "PAL-N", "PAL 60", "NTSC", "NTSC-J", "NTSC 4.43", "SECAM",
                                         "405/50", "525/60", "625/50", "819/50"));

TEST(Secam, RestCarriersAreFound) {
    auto recipe = video_recipe("SECAM");
    recipe.disturbance.snr_db = 40;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_NEAR(value(report, "subcarrier_red_frequency"), recipe.system.frequency.red_hz.value(), 1000);
    EXPECT_NEAR(value(report, "subcarrier_blue_frequency"), recipe.system.frequency.blue_hz.value(), 1000);
}

TEST(FrontPorch, IsFoundWhereThePictureReachesIt) {
    for (const char* system : {"PAL", "NTSC"}) {
        auto recipe = video_recipe(system);
        recipe.picture.kind = testsignal::CompositePicture::Flat;
        recipe.picture.level_percent = 70;
        recipe.disturbance.snr_db = 40;
        EXPECT_NEAR(value(measured(recipe, 8), "front_porch"), recipe.system.front_porch_us, 0.02) << system;
    }
}

TEST(SubcarrierToSync, FollowsTheRecipe) {
    for (const double degrees : {-30.0, 0.0, 20.0})
        for (const char* system : {"PAL", "NTSC"}) {
            auto recipe = video_recipe(system);
            recipe.subcarrier_phase_deg = degrees;
            recipe.disturbance.snr_db = 46;
            EXPECT_NEAR(value(measured(recipe, 8), "subcarrier_to_sync_phase"), degrees, 3) << system;
        }
}

TEST(Levels, GoByTheUsersScaleIfThereIsOne) {
    const auto recipe = video_recipe("PAL");
    WaveformOptions options;
    options.millivolts_per_unit = 1000 / recipe.sampling.gain_per_volt;
    const double rate_hz = recipe.sampling.rate_hz.value();
    const auto report =
        measure_waveform(support::sound_of(video_samples(recipe), rate_hz), options, support::built_in());
    EXPECT_NEAR(value(report, "sync_amplitude"), 300, 1);
    EXPECT_NEAR(value(report, "burst_amplitude"), 300, 3);
}

// A digitiser's clock that runs fast makes everything look slow; nothing else may change.
TEST(Clock, ErrorShowsInRatesAndInNothingElse) {
    auto recipe = video_recipe("PAL");
    recipe.sampling.clock_error_ppm = 80;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_EQ(text(report, "colour"), "PAL");
    EXPECT_NEAR(value(report, "line_rate") / 15625 - 1, -80e-6, 1e-6);
    EXPECT_NEAR(value(report, "subcarrier_frequency") / 4433618.75 - 1, -80e-6, 1e-6);
    EXPECT_LT(value(report, "time_base_error_rms"), 2);
}

}  // namespace
}  // namespace guardband::measure
