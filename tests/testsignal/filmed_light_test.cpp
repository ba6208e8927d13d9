#include "testsignal/filmed_light.h"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "quantity/errors.h"
#include "testsignal/clip_maker.h"

namespace guardband::testsignal {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;

/// The light of the flashes itself, by summing the last flashes, and its average by the midpoint rule between one flash
/// and the next: what the closed form is held against.
double flash_by_quadrature(double start_s, double exposure_s, double period_s, double decay_s) {
    const auto light = [&](double t_s) {
        double sum = 0;
        const double last = std::floor(t_s / period_s);
        for (int k = 0; k < 4000; ++k) {
            const double age_s = t_s - (last - k) * period_s;
            if (age_s > 40 * decay_s) break;
            sum += std::exp(-age_s / decay_s);
        }
        return sum * period_s / decay_s;
    };
    double sum = 0, from = start_s;
    const double end = start_s + exposure_s;
    while (from < end) {
        const double to = std::min(end, (std::floor(from / period_s + 1e-12) + 1) * period_s);
        constexpr int steps = 4000;
        for (int i = 0; i < steps; ++i) sum += light(from + (i + 0.5) * (to - from) / steps) * (to - from) / steps;
        from = to;
    }
    return sum / exposure_s;
}

TEST(FlashExposure, AgreesWithQuadrature) {
    for (const double period_s : {1 / 50.0, 1001 / 60000.0, 1 / 120.0})
        for (const double decay_s : {0.0004, 0.0015, 0.02})
            for (const double exposure_s : {0.001, 0.01, 0.02, 0.04})
                for (const double start_s : {0.0031, 0.0123, 1.0107})
                    EXPECT_NEAR(flash_exposure(start_s, exposure_s, period_s, decay_s),
                                flash_by_quadrature(start_s, exposure_s, period_s, decay_s), 1e-4)
                        << period_s << " " << decay_s << " " << exposure_s << " " << start_s;
}

TEST(FlashExposure, IsSteadyWhenItSpansWholePeriods) {
    for (const double start_s : {0.0, 0.001, 0.0166, 59.999})
        for (const int periods : {1, 2, 7})
            EXPECT_NEAR(flash_exposure(start_s, periods / 60.0, 1 / 60.0, 0.001), 1, 1e-12);
}

TEST(RippleExposure, AgreesWithQuadrature) {
    for (const double exposure_s : {0.001, 0.008, 0.02}) {
        double sum = 0;
        constexpr int steps = 20000;
        for (int i = 0; i < steps; ++i)
            sum += 1 + 0.3 * std::cos(two_pi * (100 * (0.7 + (i + 0.5) * exposure_s / steps) + 0.1));
        EXPECT_NEAR(ripple_exposure(0.7, exposure_s, 100, 0.3, 0.1), sum / steps, 1e-8);
    }
}

Recipe filmed(double screen_hz, quantity::Rational frame_rate, Scan scan = Scan::Progressive) {
    Recipe r;
    r.raster.width = 64, r.raster.height = 48;
    r.raster.frame_rate = frame_rate;
    r.scan = scan;
    r.duration_s = 2;
    r.picture.still = true;
    r.screen.emplace();
    r.screen->rate_hz = screen_hz;
    r.camera.exposure_ms = 4;
    return r;
}

// Distance of the screen's rate from the nearest multiple of the camera's. The trade's rule of thumb that 60 Hz
// pictures before a 50 Hz camera beat at about 10 Hz: common practice, no source. The other rows are arithmetic.
TEST(FilmedLight, BeatsAsScreensAndCamerasDo) {
    const quantity::Rational ntsc(30000, 1001);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(60, {50, 1})).truth().apparent_signed_hz), 10, 1e-9);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(60000 / 1001.0, {25, 1})).truth().apparent_signed_hz), 9.9401, 5e-5);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(60000 / 1001.0, {24, 1})).truth().apparent_signed_hz), 11.9401, 5e-5);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(60, ntsc)).truth().apparent_signed_hz), 0.0599, 5e-5);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(100, ntsc)).truth().apparent_signed_hz), 10.0899, 5e-5);
    EXPECT_NEAR(std::abs(FilmedLight(filmed(50, {25, 1})).truth().apparent_signed_hz), 0, 1e-12);
    EXPECT_NEAR(FilmedLight(filmed(50, ntsc, Scan::Interlaced)).truth().apparent_signed_hz, -9.9401,
                5e-5);  // of 59.94 fields: runs backwards
}

/// Fundamental of a light over one period, by summing: what the truth's depth is held against.
double depth_by_summing(const FilmedLight& light, double rate_hz) {
    std::complex<double> fundamental = 0;
    double mean = 0;
    constexpr int steps = 100000;
    for (int i = 0; i < steps; ++i) {
        const double value = light.light(i / (steps * rate_hz), 0);
        fundamental += std::polar(value, -two_pi * i / steps);
        mean += value;
    }
    return 2 * std::abs(fundamental) / mean;
}

TEST(FilmedLight, HasTheDepthThatItSays) {
    for (const double decay_ms : {0.3, 1.5})
        for (const double exposure_ms : {1.0, 10.0, 20.0}) {
            Recipe r = filmed(59.94, {25, 1});
            r.screen->decay_ms = decay_ms, r.camera.exposure_ms = exposure_ms;
            const FilmedLight light(r);
            EXPECT_NEAR(light.truth().light_depth, depth_by_summing(light, 59.94), 1e-5)
                << decay_ms << " " << exposure_ms;
        }
}

TEST(FilmedLight, GivesTheDepthThatIsAskedFor) {
    Recipe r = filmed(59.94, {25, 1});
    r.screen->depth = 0.01;
    const FilmedLight light(r);
    EXPECT_NEAR(depth_by_summing(light, 59.94), 0.01, 1e-6);
    EXPECT_NEAR(light.truth().signal_depth, 0.45 * 0.01, 0.0001);  // gamma is a factor at small depths
    r.screen->depth = 1.9;
    EXPECT_THROW(FilmedLight{r}, quantity::InputError);
}

/// Amplitude and phase of a sine of `hz` in the mean luma of one row of all frames, against the row's mean over time,
/// black taken off.
std::complex<double> row_fundamental(ClipMaker& maker, int row, double hz) {
    std::complex<double> sum = 0;
    double mean = 0;
    ClipFrame frame;
    const double black = 64, frame_rate = maker.recipe().raster.frame_rate.value();
    for (std::int64_t n = 0; n < maker.frame_count(); ++n) {
        maker.make(n, frame);
        double light = 0;
        for (int x = 0; x < frame.planes[0].width; ++x) light += frame.planes[0].row(row)[x] - black;
        sum += std::polar(light, -two_pi * hz * static_cast<double>(n) / frame_rate);
        mean += light;
    }
    return 2.0 * sum / mean;
}

TEST(FilmedLight, ShowsInTheClipAsTheTruthSays) {
    Recipe r = filmed(
        59.5,
        {25, 1});  // beats at 9.5 Hz, 19 whole periods in 2 s; at 60 Hz the fourth harmonic would fall on the beat
    r.screen->depth = 0.2;
    ClipMaker maker(r);
    EXPECT_NEAR(maker.truth().flicker->apparent_signed_hz, 9.5, 1e-9);
    EXPECT_NEAR(std::abs(row_fundamental(maker, 5, 9.5)), maker.truth().flicker->signal_depth, 0.001);
}

TEST(FilmedLight, BandsFollowScreenScanAndReadOut) {
    for (const double readout_ms : {0.0, 12.0}) {
        Recipe r = filmed(59.5, {25, 1});
        r.screen->depth = 0.2;
        r.camera.readout_ms = readout_ms;
        ClipMaker maker(r);
        const auto upper = row_fundamental(maker, 10, 9.5), lower = row_fundamental(maker, 14, 9.5);
        const double turns = std::arg(lower / upper) / two_pi;  // over 4 of 48 rows
        EXPECT_NEAR(turns * 48 / 4, maker.truth().flicker->bands, 0.02) << readout_ms;
        EXPECT_NEAR(maker.truth().flicker->bands, 59.5 * readout_ms / 1e3 - 0.92, 1e-9);
    }
}

TEST(FilmedLight, LeavesTheRoomSteady) {
    Recipe r = filmed(60, {25, 1});
    r.screen->left = 0.25, r.screen->top = 0.25, r.screen->width = 0.5, r.screen->height = 0.5;
    ClipMaker maker(r);
    ClipFrame a, b;
    maker.make(0, a);
    maker.make(1, b);
    const auto in_room = [](int x, int y) { return y < 12 || y >= 36 || x < 16 || x >= 48; };
    int changed = 0;
    for (int y = 0; y < 48; ++y)
        for (int x = 0; x < 64; ++x) changed += in_room(x, y) && a.planes[0].row(y)[x] != b.planes[0].row(y)[x];
    EXPECT_EQ(changed, 0);
    EXPECT_GT(std::abs(row_fundamental(maker, 24, 10)), 0.05);
}

}  // namespace
}  // namespace guardband::testsignal
