// Displacement of lines as it is drawn, against the functions that it should give.
#include "testsignal/time_base.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "testsignal/clip_maker.h"

namespace guardband::testsignal {
namespace {

constexpr double ns_per_px = 1e9 / 13.5e6;

Recipe small_recipe() {
    Recipe r;
    r.raster.height = 64;
    r.duration_s = 0.4;
    return r;
}

/// One field whose rows are a wave of `cycles` per luma sample, as wide as `time_base` needs it.
Picture wave(const Recipe& r, const TimeBase& time_base, double cycles) {
    const int width = r.raster.width + 2 * time_base.margin_px(), rows = r.raster.height / 2;
    Picture picture;
    picture.luma.resize(width, rows);
    picture.cb.resize(width / 2, rows);
    picture.cr.resize(width / 2, rows);
    for (int y = 0; y < rows; ++y)
        for (int x = 0; x < width; ++x)
            picture.luma.row(y)[x] =
                static_cast<float>(std::cos(2 * std::numbers::pi * cycles * (x - time_base.margin_px())));
    return picture;
}

// The claim: well below 1 ns up to 5 MHz, which is 0.37 cycles per sample. 0.1 ns here, from the slope of the wave.
TEST(TimeBase, MovesBandLimitedLinesExactly) {
    Recipe r = small_recipe();
    r.time_base.emplace().random_ns = 300;
    TimeBase time_base(r);
    const auto moves_ns = time_base.displacements_ns(3);
    for (const double cycles : {0.02, 0.1, 0.2, 0.3, 0.37}) {
        Picture picture = wave(r, time_base, cycles);
        time_base.apply(3, picture);
        ASSERT_EQ(picture.luma.width, r.raster.width);
        const double per_px = 2 * std::numbers::pi * cycles;
        for (int y = 0; y < picture.luma.height; ++y) {
            const double move = moves_ns[static_cast<std::size_t>(y)] / ns_per_px;
            double in_phase = 0, quadrature = 0;
            for (int x = 0; x < picture.luma.width; ++x) {
                in_phase += static_cast<double>(picture.luma.row(y)[x]) * std::cos(per_px * (x - move));
                quadrature += static_cast<double>(picture.luma.row(y)[x]) * std::sin(per_px * (x - move));
            }
            // A whole number of periods is not asked for: what the ends leave over is taken from the wave itself.
            double ends_in_phase = 0, ends_quadrature = 0;
            for (int x = 0; x < picture.luma.width; ++x) {
                const double phase = per_px * (x - move);
                ends_in_phase += std::cos(phase) * std::cos(phase),
                    ends_quadrature += std::cos(phase) * std::sin(phase);
            }
            const double error_px = (quadrature - ends_quadrature) / ends_in_phase / per_px;
            EXPECT_LT(std::abs(error_px) * ns_per_px, 0.1) << cycles << " cycles, line " << y;
            EXPECT_NEAR(in_phase / ends_in_phase, 1, 0.002) << cycles << " cycles, line " << y;
        }
    }
}

TEST(TimeBase, BlankingMovesWithItsLine) {
    Recipe r = small_recipe();
    r.time_base.emplace().flagging_ns = 20 * ns_per_px;
    r.blanking.emplace().left_px = 9.5;
    TimeBase time_base(r);
    Picture picture = wave(r, time_base, 0);
    time_base.apply(0, picture);
    const auto moves_ns = time_base.displacements_ns(0);
    for (int y = 0; y < picture.luma.height; ++y) {
        const float* row = picture.luma.row(y);
        int x = 0;
        while (row[x + 1] < 0.5F) ++x;
        const double crossing = x + (0.5 - static_cast<double>(row[x])) / static_cast<double>(row[x + 1] - row[x]);
        EXPECT_NEAR(crossing, 9.5 + moves_ns[static_cast<std::size_t>(y)] / ns_per_px, 0.02) << y;
    }
    // 300 ns from 10 % to 90 %: 4.05 samples.
    const float* row = picture.luma.row(picture.luma.height - 1);
    const auto crossing = [row](float level) {
        int x = 0;
        while (row[x + 1] < level) ++x;
        return x + static_cast<double>((level - row[x]) / (row[x + 1] - row[x]));
    };
    EXPECT_NEAR(crossing(0.9F) - crossing(0.1F), 4.05, 0.06);
}

TEST(TimeBase, TellsItsFiguresTrue) {
    Recipe r = small_recipe();
    r.raster.height = 576;
    r.duration_s = 2;
    auto& t = r.time_base.emplace();
    t.sine_ns = {800}, t.sine_hz = {61.7};
    t.head_switch_line = 6, t.head_switch_steps_ns = {400, -100};
    const auto truth = *ClipMaker(r).truth().time_base;
    EXPECT_NEAR(truth.time_base_error_rms_ns, 800 / std::sqrt(2), 6);
    EXPECT_NEAR(truth.time_base_error_peak_ns, 800, 8);
    // From one line to the next, 2 sin(pi f / line rate) of the sine, over the square root of 2.
    EXPECT_NEAR(truth.line_jitter_rms_ns, 800 * std::sin(std::numbers::pi * 61.7 / 15625), 0.1);
    EXPECT_EQ(truth.head_switch_line, 6);
    EXPECT_NEAR(*truth.head_switch_step_ns, 150, 20);  // the sine goes on
    r.time_base = {};
    r.time_base.emplace().flagging_ns = 1000;
    double first_eight = 0;
    for (int line = 2; line < 10; ++line) first_eight += 1000 * std::exp(-line / 8.0) / 8;
    EXPECT_NEAR(ClipMaker(r).truth().time_base->flagging_ns, first_eight, 0.1);
}

TEST(TimeBase, LosesAsMuchAsItSays) {
    Recipe r = small_recipe();
    r.duration_s = 2;
    r.dropouts.emplace().per_minute = 3000;
    ClipMaker maker(r);
    ClipFrame frame;
    while (maker.next(frame)) {
        for (const Dropout& d : maker.truth().dropouts) {
            if (d.field / 2 != frame.index || d.length_us < 1) continue;
            const int row = 2 * d.line + static_cast<int>(d.field % 2), x = static_cast<int>((d.start_us + 0.4) * 13.5);
            const int code = frame.planes[0].row(row)[x];
            EXPECT_TRUE(d.bright ? code > 4 * 240 : code < 4 * 12) << d.field << ' ' << d.line;
        }
    }
    EXPECT_NEAR(static_cast<double>(maker.truth().dropouts.size()), 100, 40);  // four deviations of a Poisson count
}

/// Samples of luma that dropouts change, against the same recipe without them; none may differ elsewhere.
int changed_by_dropouts(Recipe r) {
    r.dropouts.reset();
    ClipMaker plain_maker(r);
    DropoutSettings& d = r.dropouts.emplace();
    d.per_minute = 3000, d.held = true;
    ClipMaker maker(r);
    ClipFrame plain, lossy;
    int changed = 0, elsewhere = 0;
    while (plain_maker.next(plain) && maker.next(lossy)) {
        SamplePlane lost;
        lost.resize(r.raster.width, r.raster.height);
        for (const Dropout& one : maker.truth().dropouts)
            for (int x = 0; one.field / 2 == lossy.index && x < r.raster.width; ++x)
                if (x >= one.start_us * 13.5 && x < (one.start_us + one.length_us) * 13.5)
                    lost.row(2 * one.line + static_cast<int>(one.field % 2))[x] = 1;
        for (std::size_t i = 0; i < lost.samples.size(); ++i)
            if (plain.planes[0].samples[i] != lossy.planes[0].samples[i])
                ++(lost.samples[i] != 0 ? changed : elsewhere);
        EXPECT_EQ(plain.planes[1].samples, lossy.planes[1].samples) << lossy.index;
        EXPECT_EQ(plain.planes[2].samples, lossy.planes[2].samples) << lossy.index;
    }
    EXPECT_EQ(elsewhere, 0);
    return changed;
}

// Scene, noise and displacement are the same with dropouts and without.
TEST(TimeBase, DropoutsChangeNothingButWhatIsLost) {
    Recipe r = small_recipe();
    r.noise.snr_db = 40;
    EXPECT_GT(changed_by_dropouts(r), 500);
    r.time_base.emplace().random_ns = 100;
    EXPECT_GT(changed_by_dropouts(r), 500);
    r.blanking.emplace();
    EXPECT_GT(changed_by_dropouts(r), 500);
}

TEST(TimeBase, ChangesNothingUnasked) {
    Recipe r = small_recipe();
    ClipFrame plain, still;
    ClipMaker(r).make(1, plain);
    TimeBase time_base(r);
    EXPECT_EQ(time_base.margin_px(), 0);
    Picture picture = wave(r, time_base, 0.1);
    const auto before = picture.luma.samples;
    time_base.apply(1, picture);
    EXPECT_EQ(before, picture.luma.samples);
}

}  // namespace
}  // namespace guardband::testsignal
