// How long a sample lasts, by rates that are published.
#include "measure/clip/sample_time.h"

#include <gtest/gtest.h>

namespace guardband::measure {
namespace {

double rate_mhz(int width, int height) {
    media::PictureFormat picture;
    picture.width = width, picture.height = height;
    return 1e3 / nanoseconds_per_sample(picture, table::load_table());
}

// ITU-R BT.601: 13.5 MHz. Square samples: 780 and 944 times the line rates of 4.5 MHz / 286 and 15 625 Hz.
TEST(SampleTime, IsThatOfTheRatesInUse) {
    for (const int height : {480, 486, 512, 576, 608}) EXPECT_DOUBLE_EQ(rate_mhz(720, height), 13.5) << height;
    for (const int height : {480, 576}) EXPECT_DOUBLE_EQ(rate_mhz(704, height), 13.5) << height;
    EXPECT_NEAR(rate_mhz(640, 480), 780 * 4.5 / 286, 1e-9);
    EXPECT_NEAR(rate_mhz(768, 576), 944 * 0.015625, 1e-9);
}

TEST(SampleTime, OfOtherWidthsFollowsTheWidth) {
    EXPECT_DOUBLE_EQ(rate_mhz(360, 288), 13.5 / 2);
    EXPECT_DOUBLE_EQ(rate_mhz(1440, 1080), 27);
}

}  // namespace
}  // namespace guardband::measure
