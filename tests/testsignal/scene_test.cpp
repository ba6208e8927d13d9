#include "testsignal/scene.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "spectrum.h"

namespace guardband::testsignal {
namespace {

constexpr double fields_per_s = 50;

Raster raster(int width, int height) {
    Raster r;
    r.width = width, r.height = height;
    return r;
}

PictureSettings moving(double px, double direction_deg = 0) {
    PictureSettings p;
    p.motion_px = px, p.direction_deg = direction_deg;
    p.objects = false;
    return p;
}

cv::Mat1f luma_at(Scene& scene, double time_s, Rows rows) {
    Picture picture;
    scene.render(time_s, rows, picture);
    return as_image(picture.luma);
}

/// Columns as rows.
cv::Mat1f turned(const cv::Mat1f& image) {
    cv::Mat1f out;
    cv::transpose(image, out);
    return out;
}

TEST(Scene, MovesAlongTheLineAsAsked) {
    for (const double px : {0.1, 0.5, 1.3, -0.7}) {
        Scene scene(moving(px), raster(360, 288), 2, fields_per_s, 1);
        const auto before = luma_at(scene, 1.0, Rows::Top), after = luma_at(scene, 1.0 + 1 / fields_per_s, Rows::Top);
        EXPECT_NEAR(shift_right(before, after), px, 0.01) << px;
    }
}

TEST(Scene, MovesDownThePictureAsAsked) {
    for (const double px : {0.25, 0.8}) {
        Scene scene(moving(px, 90), raster(360, 288), 2, fields_per_s, 2);
        const auto before = luma_at(scene, 1.0, Rows::All), after = luma_at(scene, 1.0 + 1 / fields_per_s, Rows::All);
        EXPECT_NEAR(shift_right(turned(before), turned(after)), px, 0.01) << px;
    }
}

// An independent measure of the same: OpenCV's phase correlation, at whole shifts, where it is not biased.
TEST(Scene, MovesAsPhaseCorrelationSees) {
    Scene scene(moving(std::hypot(4, 2), std::atan2(2, 4) * 180 / std::numbers::pi), raster(360, 288), 2, fields_per_s,
                3);
    cv::Mat1f window;
    cv::createHanningWindow(window, {360, 288}, CV_32F);
    const auto shift =
        cv::phaseCorrelate(luma_at(scene, 0, Rows::All), luma_at(scene, 1 / fields_per_s, Rows::All), window);
    EXPECT_NEAR(shift.x, 4, 0.05);
    EXPECT_NEAR(shift.y, 2, 0.05);
}

TEST(Scene, SwaysOnTopOfItsMotion) {
    auto settings = moving(0.5);
    settings.sway_px = 3, settings.sway_period_s = 2;
    Scene scene(settings, raster(360, 288), 2, fields_per_s, 4);
    // From 0 to 0.02 s: 0.5 of motion and 3 sin(2 pi 0.02 / 2) of sway.
    EXPECT_NEAR(shift_right(luma_at(scene, 0, Rows::Top), luma_at(scene, 0.02, Rows::Top)),
                0.5 + 3 * std::sin(0.02 * std::numbers::pi), 0.01);
}

TEST(Scene, FieldsAreTheRowsOfTheFrame) {
    PictureSettings settings;
    Scene scene(settings, raster(128, 96), 2, fields_per_s, 5);
    const auto frame = luma_at(scene, 0.3, Rows::All), top = luma_at(scene, 0.3, Rows::Top),
               bottom = luma_at(scene, 0.3, Rows::Bottom);
    for (int y = 0; y < 96; ++y)
        EXPECT_EQ(cv::norm(frame.row(y), (y % 2 == 0 ? top : bottom).row(y / 2), cv::NORM_INF), 0) << y;
}

TEST(Scene, IsLimitedToItsBandwidth) {
    for (const double mhz : {3.0, 5.0}) {
        PictureSettings settings;
        settings.luma_bandwidth_mhz = mhz;
        Scene scene(settings, raster(720, 576), 2, fields_per_s, 6);
        const auto power = row_power(luma_at(scene, 0.7, Rows::Top));
        double within = 0, upper = 0, beyond = 0;
        for (std::size_t k = 0; k < power.size(); ++k) {
            const double f = 13.5 * static_cast<double>(k) / 720;
            (f < mhz ? within : beyond) += f >= mhz && f < 1.25 * mhz ? 0 : power[k];
            if (f > 0.6 * mhz && f < 0.9 * mhz) upper += power[k];
        }
        EXPECT_LT(10 * std::log10(beyond / within), -60) << mhz << " MHz";
        EXPECT_GT(10 * std::log10(upper / within), -30) << mhz << " MHz";  // there is fine detail up to the limit
    }
}

TEST(Scene, IsSeenThroughTheAperture) {
    auto settings = moving(0);
    Scene sharp(settings, raster(256, 400), 0, fields_per_s, 7), soft(settings, raster(256, 400), 2, fields_per_s, 7);
    const auto sharp_power = row_power(turned(luma_at(sharp, 0, Rows::All))),
               soft_power = row_power(turned(luma_at(soft, 0, Rows::All)));
    for (const double f : {0.05, 0.15, 0.25}) {  // cycles per line
        double over = 0, under = 0;
        for (std::size_t k = static_cast<std::size_t>((f - 0.02) * 400);
             k <= static_cast<std::size_t>((f + 0.02) * 400); ++k)
            over += soft_power[k], under += sharp_power[k];
        const double sigma = 2 / (2 * std::sqrt(2 * std::numbers::ln2));  // of a Gaussian 2 lines wide at half height
        const double expected = std::exp(-2 * std::pow(std::numbers::pi * sigma * f, 2));
        EXPECT_NEAR(std::sqrt(over / under) / expected, 1, 0.1) << f;
    }
}

TEST(Scene, HasTrueBlackAndTrueWhite) {
    for (const auto& size : {cv::Size(720, 576), cv::Size(720, 486), cv::Size(192, 144)}) {
        PictureSettings settings;
        settings.motion_px = 1.7;
        Scene scene(settings, raster(size.width, size.height), 2, fields_per_s,
                    static_cast<std::uint64_t>(size.height));
        for (const double time_s : {0.0, 1.234, 40.0}) {
            const auto luma = luma_at(scene, time_s, Rows::Top);
            const double all = static_cast<double>(luma.total());
            EXPECT_GT(cv::countNonZero(cv::abs(luma) < 0.002F) / all, 0.02) << size << " " << time_s;
            EXPECT_GT(cv::countNonZero(cv::abs(luma - 1) < 0.002F) / all, 0.02) << size << " " << time_s;
        }
    }
}

TEST(Scene, StillMeansStill) {
    PictureSettings settings;
    settings.still = true, settings.sway_px = 5;
    Scene scene(settings, raster(128, 96), 2, fields_per_s, 8);
    EXPECT_EQ(cv::norm(luma_at(scene, 0, Rows::All), luma_at(scene, 5.5, Rows::All), cv::NORM_INF), 0);
}

}  // namespace
}  // namespace guardband::testsignal
