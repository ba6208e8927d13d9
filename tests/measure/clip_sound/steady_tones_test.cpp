// Hum and line whistle: bias and scatter against known truth, and that nothing else is taken for them.
#include "measure/clip_sound/steady_tones.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numbers>
#include <ostream>

#include "heard.h"

namespace guardband::measure {
namespace {

using testsignal::SoundTrackSettings;

SoundTrackSettings speech(double rate_hz) {
    SoundTrackSettings s;
    s.sample_rate_hz = rate_hz;
    s.programme_db = -20, s.bandwidth_khz = 8, s.noise_db = -60;
    return s;
}

struct HumCase {
    double mains_hz, speed_percent, level_db, programme_db;

    friend std::ostream& operator<<(std::ostream& out, const HumCase& c) {
        return out << c.mains_hz << " Hz " << c.speed_percent << " % " << c.level_db << " dB";
    }
};

class HumUnderSpeech : public testing::TestWithParam<HumCase> {};

TEST_P(HumUnderSpeech, IsFoundWithinItsUncertainty) {
    const HumCase& c = GetParam();
    SoundTrackSettings s = speech(8000);
    s.hum_db = c.level_db, s.hum_hz = c.mains_hz, s.speed_error_percent = c.speed_percent,
    s.programme_db = c.programme_db;
    const double truth = c.mains_hz * (1 + c.speed_percent / 100);
    // The harmonics of the made hum: 0, −6 and −10 dB.
    const double level = c.level_db + 10 * std::log10(1 + 0.501 * 0.501 + 0.316 * 0.316);
    constexpr int tries = 8;
    double off = 0, squares = 0, sigma = 0, level_off = 0;
    for (int seed = 1; seed <= tries; ++seed) {
        const Heard heard = hear<SteadyTones>(s, 10, static_cast<std::uint64_t>(seed));
        ASSERT_TRUE(heard.at("hum_frequency").is_known()) << heard.at("hum_frequency").reason();
        const double error = heard.value("hum_frequency") - truth;
        off += error / tries, squares += error * error / tries;
        sigma += heard.uncertainty("hum_frequency") / tries;
        level_off += (heard.value("hum_level") - level) / tries;
        EXPECT_NEAR(heard.value("sound_speed_ratio"), 1 + c.speed_percent / 100, 6 * sigma / c.mains_hz + 2e-4);
    }
    EXPECT_LT(std::sqrt(squares), 0.01) << "Hz; the claim";
    EXPECT_LT(std::abs(off), std::max(2 * sigma / std::sqrt(tries), 5e-4));
    EXPECT_LT(std::sqrt(squares), 2.5 * sigma);
    EXPECT_NEAR(level_off, 0, 0.5) << "dB; the claim";
}

INSTANTIATE_TEST_SUITE_P(Sweep, HumUnderSpeech,
                         testing::Values(HumCase{50, 0, -40, -20}, HumCase{50, 0, -50, -32}, HumCase{60, 0, -45, -26},
                                         HumCase{50, 4.2, -40, -20}, HumCase{60, -5, -40, -20},
                                         HumCase{50, 0.13, -30, -20}));

TEST(SteadyTones, NoHumIsFoundWhereThereIsNone) {
    SoundTrackSettings s = speech(8000);
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
        const Heard heard = hear<SteadyTones>(s, 8, seed);
        EXPECT_FALSE(heard.at("hum_frequency").is_known()) << seed << ": " << heard.value("hum_frequency");
        EXPECT_FALSE(heard.at("sound_speed_ratio").is_known());
        EXPECT_FALSE(heard.at("line_whistle_frequency").is_known());
    }
}

TEST(SteadyTones, NotesOfABassAreNoHum) {
    // A bass that plays half-second notes of 49 to 65 Hz with overtones, loud.
    const double rate = 8000;
    std::vector<float> samples;
    const double notes[] = {49.0, 55.0, 61.7, 65.4, 51.9, 58.3};
    double turns = 0;
    for (int n = 0; n < 12 * 8000; ++n) {
        const int beat = n / 4000;
        turns += notes[beat % 6] / rate;
        const double fading = std::exp(-(n % 4000) / 1500.0);
        samples.push_back(static_cast<float>(
            0.3 * fading * (std::sin(2 * std::numbers::pi * turns) + 0.5 * std::sin(4 * std::numbers::pi * turns))));
    }
    const Heard heard = hear<SteadyTones>(std::vector<std::vector<float>>{samples}, rate);
    EXPECT_FALSE(heard.at("hum_frequency").is_known()) << heard.value("hum_frequency");
}

TEST(SteadyTones, LinesInTheGrainOfSixteenBitsAreNothing) {
    // A test tone of 1 kHz, rounded without noise: its errors repeat and make lines at −100 dB and below.
    const double rate = 44'000;
    std::vector<float> samples;
    for (int n = 0; n < 8 * 44'000; ++n)
        samples.push_back(
            static_cast<float>(std::lround(32767 * 0.125 * std::sin(2 * std::numbers::pi * 1000 * n / rate))) / 32768);
    const Heard heard = hear<SteadyTones>(std::vector<std::vector<float>>{samples, samples}, rate);
    EXPECT_FALSE(heard.at("hum_frequency").is_known()) << heard.value("hum_frequency");
    EXPECT_FALSE(heard.at("line_whistle_frequency").is_known()) << heard.value("line_whistle_frequency");
}

TEST(SteadyTones, BuzzOfARectifierIsHumOfHalfItsFrequency) {
    SoundTrackSettings s = speech(8000);
    s.tone_hz = 100, s.tone_db = -40;
    const Heard heard = hear<SteadyTones>(s, 10);
    EXPECT_NEAR(heard.value("hum_frequency"), 50, 0.01);
    EXPECT_NEAR(heard.value("hum_level"), -40, 3 * heard.uncertainty("hum_level"));
}

struct WhistleCase {
    double hz, level_db, flutter_percent, speed_percent, claim_hz;

    friend std::ostream& operator<<(std::ostream& out, const WhistleCase& c) {
        return out << c.hz << " Hz " << c.level_db << " dB flutter " << c.flutter_percent << " %";
    }
};

class Whistle : public testing::TestWithParam<WhistleCase> {};

TEST_P(Whistle, IsFoundWithinItsUncertainty) {
    const WhistleCase& c = GetParam();
    SoundTrackSettings s;
    s.programme_db = -20, s.bandwidth_khz = 12, s.noise_db = -65;
    s.whistle_db = c.level_db, s.whistle_hz = c.hz, s.speed_error_percent = c.speed_percent;
    if (c.flutter_percent > 0) s.flutter = {{1.7, c.flutter_percent, 0}, {6.3, c.flutter_percent / 2, 0}};
    const double truth = c.hz * (1 + c.speed_percent / 100);
    for (std::uint64_t seed = 1; seed <= 3; ++seed) {
        const Heard heard = hear<SteadyTones>(s, 9, seed);
        ASSERT_TRUE(heard.at("line_whistle_frequency").is_known()) << heard.at("line_whistle_frequency").reason();
        const double error = heard.value("line_whistle_frequency") - truth;
        EXPECT_LT(std::abs(error), c.claim_hz);
        EXPECT_LT(std::abs(error), 4 * heard.uncertainty("line_whistle_frequency"));
        EXPECT_NEAR(heard.value("sound_speed_ratio"), truth / 15625, c.claim_hz / 15625);
    }
}

INSTANTIATE_TEST_SUITE_P(Sweep, Whistle,
                         testing::Values(WhistleCase{15'625, -60, 0, 0, 0.1}, WhistleCase{15'625, -75, 0, 0, 0.1},
                                         WhistleCase{15'625, -60, 0.003, 0.4, 0.5},
                                         WhistleCase{15'625, -50, 0.1, -0.6, 5},
                                         WhistleCase{4.5e6 / 286, -60, 0, 0, 0.1}));

TEST(SteadyTones, AWhistleThatMayBeTheOtherSystemsSaysSo) {
    SoundTrackSettings s;
    s.noise_db = -60, s.whistle_db = -50, s.whistle_hz = 4.5e6 / 286;
    const quantity::Figure ratio = hear<SteadyTones>(s, 6).at("sound_speed_ratio");
    EXPECT_NEAR(*ratio.number(), 4.5e6 / 286 / 15'625, 1e-6) << "of a clip of 625/50";
    ASSERT_EQ(ratio.alternatives().size(), 1U);
    EXPECT_NEAR(ratio.alternatives()[0], 1, 1e-6);
}

TEST(SteadyTones, SaysWhyThereIsNothing) {
    SoundTrackSettings s;
    s.noise_db = -40, s.sample_rate_hz = 8000;
    EXPECT_THAT(hear<SteadyTones>(s, 2).at("hum_frequency").reason(), testing::HasSubstr("shorter"));
    EXPECT_THAT(hear<SteadyTones>(s, 8).at("line_whistle_frequency").reason(), testing::HasSubstr("too low"));
    const std::vector<std::vector<float>> some(2, std::vector<float>(1000, 0.1F));
    EXPECT_THAT(hear<SteadyTones>(some, 1e9).at("hum_frequency").reason(), testing::HasSubstr("1e+09 Hz"));
    const std::vector<std::vector<float>> silence(2, std::vector<float>(80'000));
    EXPECT_FALSE(hear<SteadyTones>(silence, 8000).at("hum_frequency").is_known());
}

}  // namespace
}  // namespace guardband::measure
