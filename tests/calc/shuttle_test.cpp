#include "calc/shuttle.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numbers>
#include <random>

#include "calc/track_cross_over.h"
#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;

using support::built_in;

Shuttle at(const char* address, double times_play) {
    const auto [format, mode] = built_in().at(address, "test");
    return shuttle(built_in(), *format, *mode, times_play);
}

/// Fields of noise as the head meets them: it goes along one sweep, and what it stands on is read if that track was
/// written by a head of its own azimuth. Counts where bars begin within sweeps, a mean over many.
double bars_by_walking(double times_play, bool alternate, double start) {
    constexpr int sweeps = 10, steps = 1000;
    int bars = 0;
    for (int sweep = 0; sweep < sweeps; ++sweep) {
        bool was_read = false;  // a bar that the field begins with is the end of one
        for (int i = 0; i < steps; ++i) {
            // In tracks: where the sweep starts on the tape, and how far it has fallen back on the way.
            const double track = start + sweep * times_play + (times_play - 1) * i / steps;
            const double off = alternate ? std::remainder(track - sweep, 2.0) : std::remainder(track, 1.0);
            const bool read = std::abs(off) < (alternate ? 0.5 : 0.45);  // a guard band of a tenth
            if (!read && was_read) ++bars;
            was_read = read;
        }
    }
    return static_cast<double>(bars) / sweeps;
}

TEST(NoiseBars, AreThoseOfAWalkOverTheTracks) {
    for (const double times : {-9.0, -7.0, -2.5, 3.0, 5.0, 8.0, 9.0, 12.3})
        for (const bool alternate : {true, false}) {
            constexpr int starts = 100;  // over two tracks, so that the mean is good to a few hundredths
            double mean = 0;
            for (int i = 0; i < starts; ++i) mean += bars_by_walking(times, alternate, 2.0 * i / starts) / starts;
            EXPECT_NEAR(mean, noise_bars_per_field(times, 1, alternate), 0.05) << times << " " << alternate;
        }
}

TEST(NoiseBars, FollowTheRule) {
    // Common practice, no source: search at nine times play shows four bars, at seven times backwards four too.
    EXPECT_EQ(noise_bars_per_field(9, 1, true), 4);
    EXPECT_EQ(noise_bars_per_field(-7, 1, true), 4);
    EXPECT_EQ(noise_bars_per_field(1, 1, true), 0);
    EXPECT_EQ(noise_bars_per_field(9, 1, false), 8);
    EXPECT_EQ(noise_bars_per_field(9, 6, true), 24);
    EXPECT_THROW(noise_bars_per_field(9, 0, true), DomainError);
    EXPECT_THROW(tracks_crossed_at(NAN), DomainError);
}

TEST(NoiseBars, StandStillAtOddSpeedsWhereAzimuthsAlternate) {
    for (int times = -15; times <= 15; ++times) {
        EXPECT_EQ(bar_shift_per_sweep(times, true), times % 2 == 0 ? 0.5 : 0) << times;
        EXPECT_EQ(bar_shift_per_sweep(times, false), 0) << times;
    }
    EXPECT_NEAR(bar_shift_per_sweep(9.5, true), 0.25, 1e-12);
}

TEST(TracksCrossed, OfOneDrumAreTimesPlayLessOne) {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> tip(3, 40), angle(2, 20), tape(5, 250), times(-20, 20);
    for (int i = 0; i < 1000; ++i) {
        const HeadMotion motion = i % 2 == 0 ? HeadMotion::WithTape : HeadMotion::AgainstTape;
        const Sweep recorder{tip(random), angle(random), tape(random), 60, motion};
        Sweep player = recorder;
        const double x = times(random);
        player.tape_speed_mm_s *= x;
        EXPECT_NEAR(tracks_crossed(recorder, player), x - 1, 1e-9 * (1 + std::abs(x)));
        EXPECT_NEAR(tracks_crossed(recorder, recorder), 0, 1e-12);
        EXPECT_EQ(path_to_track_deg(recorder, recorder), 0);
    }
}

TEST(TracksCrossed, OfADrumAtAnotherAngle) {
    // By hand, shallow angles: a drum 1 % steeper comes out a hundredth of h cot φ short along the edge.
    const Sweep recorder{5, 5, 20, 50, HeadMotion::WithTape};
    Sweep player = recorder;
    player.angle_still_deg = 5.05;
    const double along_mm = 5000 * std::cos(5.05 * std::numbers::pi / 180) / 50 - 0.4;
    const double height_mm = 5000 * std::sin(5.05 * std::numbers::pi / 180) / 50;
    const double track_along_mm =
        height_mm * (5000 * std::cos(5 * std::numbers::pi / 180) - 20) / (5000 * std::sin(5 * std::numbers::pi / 180));
    EXPECT_NEAR(tracks_crossed(recorder, player), -(along_mm - track_along_mm) / 0.4, 1e-9);
    EXPECT_GT(path_to_track_deg(recorder, player), 0.049);
    player.angle_still_deg = 0;
    EXPECT_THROW(tracks_crossed(recorder, player), DomainError);
}

TEST(LineRate, IsThatOfTheHeadAlongTheTrack) {
    // By hand: tip 5.8375 m/s, of the tape's 0.03335 m/s the part along a track at 5.9694°.
    const Shuttle nine = at("vhs:525/60:SP", 9);
    EXPECT_NEAR(*nine.line_rate_ratio.number(), (5.8375 - 9 * 0.033169) / (5.8375 - 0.033169), 1e-5);
    EXPECT_NEAR(*at("vhs:525/60:SP", 1).line_rate_ratio.number(), 1, 1e-12);
    EXPECT_GT(*at("vhs:525/60:SP", -7).line_rate_ratio.number(), 1);
    EXPECT_LT(*at("type-c:625/50:standard", -7).line_rate_ratio.number(), 1);  // heads run against the tape
}

TEST(ShuttleOf, TheTableKnowsWhichTracksAreAlike) {
    EXPECT_EQ(*at("vhs:625/50:SP", 9).bars_per_field.number(), 4);
    EXPECT_EQ(*at("u-format:625/50:LB", 9).bars_per_field.number(), 8);
    EXPECT_EQ(*at("type-l:625/50:standard", 9).bars_per_field.number(), 8);  // a colour track beside each
    EXPECT_TRUE(at("dv:625/50:SP", 9).is_digital);
    EXPECT_FALSE(at("cartridge-1972:525/60:standard", 9).bars_per_field.is_known());
}

}  // namespace
}  // namespace guardband::calc
