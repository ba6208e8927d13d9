#include "calc/frame_rate_change.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using quantity::Rational;

TEST(FrameRate, IsTheExactOneThatPeopleMean) {
    for (const char* text : {"29.97", "30000/1001", "29.97fps", "29.970", "29.97003"})
        EXPECT_EQ(frame_rate_named(text, "test"), Rational(30000, 1001)) << text;
    for (const char* text : {"23.976", "23.98", "24000/1001"})
        EXPECT_EQ(frame_rate_named(text, "test"), Rational(24000, 1001)) << text;
    EXPECT_EQ(frame_rate_named("59.94", "test"), Rational(60000, 1001));
    EXPECT_EQ(frame_rate_named("25", "test"), Rational(25));
    EXPECT_EQ(frame_rate_named("25.00", "test"), Rational(25)) << "not 25 / 1.001";
    EXPECT_EQ(frame_rate_named("24.0 fps", "test"), Rational(24));
    EXPECT_EQ(frame_rate_named("16.67", "test"), Rational(1667, 100)) << "film at an odd speed stays as written";
}

TEST(FrameRate, RefusesWhatIsNone) {
    for (const char* text : {"", "fps", "0", "-25", "1/0", "abc", "25/", "1e9", "99999", "25 frames", "..", "lines"})
        EXPECT_THROW(frame_rate_named(text, "--fps"), InputError) << text;
}

TEST(SpeedChange, RefusesSpeedsThatAreNotAboveZero) {
    EXPECT_THROW(speed_change(0, 1), quantity::DomainError);
    EXPECT_THROW(speed_change(1, -1), quantity::DomainError);
    EXPECT_DOUBLE_EQ(speed_change(1, 2).pitch_cents, 1200) << "an octave";
}

}  // namespace
}  // namespace guardband::calc
