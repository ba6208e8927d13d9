#include "calc/track_playback.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <random>

#include "calc/track_losses.h"
#include "calc/track_working.h"
#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

using support::built_in;

PlaybackQuery query(const char* recorded, const char* played_by = nullptr, std::optional<Input> head_um = {}) {
    PlaybackQuery q;
    std::tie(q.format, q.mode) = built_in().at(recorded, "test");
    if (played_by != nullptr) std::tie(q.machine_format, q.machine_mode) = built_in().at(played_by, "test");
    q.head_um = head_um;
    return q;
}

Playback played(const char* recorded, const char* played_by = nullptr, std::optional<Input> head_um = {}) {
    return playback(built_in(), query(recorded, played_by, head_um), "test");
}

const PickUp& at(const Playback& answer, const char* key) {
    const auto found =
        std::ranges::find_if(answer.pick_ups, [&](const PickUp& pick_up) { return pick_up.carrier.key() == key; });
    EXPECT_NE(found, answer.pick_ups.end()) << key;
    return *found;
}

TEST(UnderHead, OfAHeadTwiceAsWideAsThePitch) {
    const UnderHead under = under_head({29, 29, 0, 58, true});  // by hand: own 29, half of each neighbour
    EXPECT_NEAR(under.own_um, 29, 1e-12);
    EXPECT_THAT(under.other_azimuth_um, ElementsAre(testing::DoubleNear(14.5, 1e-12)));
    EXPECT_THAT(under.same_azimuth_um, IsEmpty());
}

TEST(UnderHead, OfAHeadNarrowerThanTheTrack) {
    const UnderHead under = under_head({58, 58, 0, 29, true});
    EXPECT_NEAR(under.own_um, 29, 1e-12);
    EXPECT_THAT(under.other_azimuth_um, IsEmpty());
}

TEST(UnderHead, ReachesOverAGuardBandOnlyIfWide) {
    EXPECT_THAT(under_head({165, 125, 0, 165, false}).same_azimuth_um, IsEmpty());  // guard of 40, 20 on either side
    EXPECT_THAT(under_head({165, 125, 0, 225, false}).same_azimuth_um, ElementsAre(testing::DoubleNear(10, 1e-12)));
}

TEST(UnderHead, ColourTracksLieBetween) {
    const UnderHead under = under_head({161, 86, 73, 100, true});
    EXPECT_NEAR(under.own_um, 86, 1e-12);
    EXPECT_THAT(under.other_azimuth_um, ElementsAre(testing::DoubleNear(50 - (80.5 - 36.5), 1e-12)));
}

TEST(UnderHead, LeavesNothingOutWhereTracksTouch) {
    // All that lies under a head on tracks without guard band is somebody's.
    std::mt19937 random(7);
    std::uniform_real_distribution<double> any(5, 200);
    for (int i = 0; i < 1000; ++i) {
        const double pitch = any(random), head = any(random);
        const UnderHead under = under_head({pitch, pitch, 0, head, i % 2 == 0});
        double all = under.own_um;
        for (const double strip : under.other_azimuth_um) all += 2 * strip;
        for (const double strip : under.same_azimuth_um) all += 2 * strip;
        EXPECT_NEAR(all, head, 1e-4) << pitch << " " << head;
    }
    EXPECT_THROW(under_head({0, 1, 0, 1, true}), quantity::DomainError);
}

/// What a gap at an angle reads of a strip: the wave summed along it.
double read_of_strip(double from_um, double to_um, double angle_deg, double wavelength_um) {
    constexpr int steps = 4000;
    std::complex<double> sum = 0;
    for (int i = 0; i < steps; ++i) {
        const double y = from_um + (i + 0.5) * (to_um - from_um) / steps;
        sum += std::polar(1.0, 2 * std::numbers::pi * y * std::tan(angle_deg * std::numbers::pi / 180) / wavelength_um);
    }
    return std::abs(sum) * (to_um - from_um) / steps;
}

TEST(PickUp, IsNeverMoreThanTheBound) {
    double nearest_db = -100;  // the bound is reached somewhere: it is no idle one
    for (double strip = 0.5; strip < 40; strip += 0.25)
        for (const double wave : {1.3, 9.2}) {
            const double bound = most_pick_up_db(std::vector{strip}, 29, 12, wave);
            const double true_db = 20 * std::log10(std::sqrt(2.0) * read_of_strip(5, 5 + strip, 12, wave) / 29);
            EXPECT_LE(true_db, bound + 1e-3) << strip << " " << wave;
            nearest_db = std::max(nearest_db, true_db - bound);
        }
    EXPECT_GT(nearest_db, -0.1);
    EXPECT_TRUE(std::isinf(most_pick_up_db({}, 29, 12, 1)));
    EXPECT_NEAR(most_pick_up_db(std::vector{10.0}, 10, 0, 1), 20 * std::log10(std::sqrt(2.0)), 1e-12);
}

TEST(Playback, OfASlowTapeByTheHeadOfStandardPlay) {
    const Playback answer = played("vhs:525/60:LP", "vhs:525/60:SP");
    EXPECT_NEAR(*answer.own_share.number(), 1, 1e-9);
    EXPECT_NEAR(*answer.head_share.number(), 0.5, 0.002);  // half the speed, half the pitch, less 0.3 % of angle
    EXPECT_NEAR(*answer.other_azimuth_deg.number(), 12, 1e-12);
    EXPECT_NEAR(*answer.at_machine_speed->tracks_per_field.number(), 1, 0.001);  // twice the speed: 2 − 1
    EXPECT_EQ(*answer.at_tape_speed->tracks_per_field.number(), 0);
    // By hand: λ = 5.821 m/s / 4.4 MHz = 1.323 µm; λ / (π tan 12°) = 1.981 µm; √2 × 1.981 / 28.83 = −20.2 dB.
    EXPECT_NEAR(*at(answer, "luma_carrier_white").pick_up_db.number(), -20.25, 0.1);
    // Azimuth does little for the long waves of the colour: a third of the pick-up's decibels at most.
    EXPECT_LT(*at(answer, "colour_under_carrier").azimuth_loss_db.number(),
              *at(answer, "luma_carrier_sync").azimuth_loss_db.number() / 3);
}

TEST(Playback, ByTheNarrowHeadReadsHalfAndNoNeighbour) {
    const Playback answer = played("vhs:525/60:SP", "vhs:525/60:LP");
    EXPECT_NEAR(*answer.own_share.number(), 0.5, 0.002);
    EXPECT_NEAR(*answer.head_share.number(), 1, 1e-9);
    EXPECT_FALSE(at(answer, "luma_carrier_white").pick_up_db.is_known());
    EXPECT_THAT(at(answer, "luma_carrier_white").pick_up_db.reason(), HasSubstr("does not reach"));
}

TEST(Playback, OfOneModeByItselfReadsItsTrackOnly) {
    int seen = 0;
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Mode& mode : format.modes) {
            const std::string address = address_of(format, mode);
            if (!pitch_of(built_in(), format, mode)) continue;
            if (const table::Fact* recording = format.facts.known("recording");
                recording != nullptr && recording->printed == "fixed head")
                continue;
            const Playback answer = played(address.c_str(), address.c_str());
            EXPECT_NEAR(*answer.own_share.number(), 1, 1e-9) << address;
            const double reach = answer.head.um.value / 2, pitch = answer.pitch.um.value;
            const double next =
                answer.other_track ? (pitch - answer.other_track->um.value) / 2 : pitch - answer.track.um.value / 2;
            EXPECT_NEAR(*answer.neighbour_um.number(), std::max(0.0, reach - next), 1e-6) << address;
            const auto crossed = answer.at_machine_speed->tracks_per_field.number();
            EXPECT_EQ(crossed.value_or(0), 0) << address;
            EXPECT_FALSE(playback_working(answer).empty());
            ++seen;
        }
    EXPECT_GT(seen, 60);
}

TEST(Playback, GivenHeadCarriesItsUncertainty) {
    const Playback answer = played("vhs:625/50:LP", nullptr, Input{20, 2});
    EXPECT_NEAR(*answer.own_um.number(), 20, 1e-12);
    EXPECT_NEAR(*answer.own_um.uncertainty(), 2 / std::sqrt(3.0), 1e-9);
    EXPECT_FALSE(answer.at_machine_speed);
}

TEST(Playback, RefusesTapeOfAnotherWidth) {
    EXPECT_THROW(played("vhs:625/50:SP", "8mm:625/50:SP"), InputError);
    EXPECT_THAT(played("vhs:625/50:SP", "beta:625/50:standard").remarks,
                testing::Contains(HasSubstr("does not say that machines for beta")));
}

TEST(Losses, AreThoseOfTheWavelengths) {
    const auto [format, mode] = built_in().at("vhs:625/50:SP", "test");
    const LossQuery q{Input{0.1, 0.02}, Input{0.3, 0}, {}, {}, {}};
    const auto losses = losses_at_carriers(built_in(), *format, *mode, q);
    ASSERT_EQ(losses.size(), 5U);
    for (const CarrierLosses& at : losses) {
        const double wave = at.carrier.wavelength.spread->value;
        EXPECT_NEAR(*at.spacing_db->number(), 54.575 * 0.1 / wave, 1e-4 * 54.575 * 0.1 / wave);
        EXPECT_NEAR(*at.total_db.number(), *at.spacing_db->number() + *at.gap_db->number(), 1e-12);
        EXPECT_GT(*at.spacing_db->uncertainty(), 54.575 * 0.02 / std::sqrt(3.0) / wave * 0.999);
        EXPECT_FALSE(at.azimuth_db);
    }
    EXPECT_EQ(losses_working(losses, q).size(), 2U);
}

}  // namespace
}  // namespace guardband::calc
