// Bandwidth, loudness, peak and the two channels against each other: known truth, published values, FFmpeg.
#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <ostream>

#include "heard.h"
#include "measure/clip_sound/channel_pair.h"
#include "measure/clip_sound/loudness.h"
#include "measure/clip_sound/sound_bandwidth.h"
#include "measure/clip_sound/sound_length.h"
#include "media/sound.h"
#include "support/ffmpeg.h"

namespace guardband::measure {
namespace {

using testsignal::SoundTrackSettings;

class Bandwidth : public testing::TestWithParam<std::tuple<double, double>> {};

TEST_P(Bandwidth, OfSpeechOverNoiseIsFound) {
    const auto [khz, noise_db] = GetParam();
    SoundTrackSettings s;
    s.programme_db = -20, s.bandwidth_khz = khz, s.noise_db = noise_db;
    s.channels = 1, s.half_taps = 400;
    EXPECT_NEAR(hear<SoundBandwidth>(s, 3).value("sound_bandwidth"), khz, 0.38) << "two bands";
}

INSTANTIATE_TEST_SUITE_P(Sweep, Bandwidth,
                         testing::Combine(testing::Values(3.5, 5.0, 8.0, 12.0, 15.0), testing::Values(-75.0, -55.0)));

TEST(SoundBandwidth, OfSteadySoundIsWhereItsSpectrumFalls) {
    SoundTrackSettings s;
    s.programme_db = -20, s.bandwidth_khz = 7, s.noise_db = -60, s.steady_programme = true;
    s.channels = 1, s.half_taps = 400;
    EXPECT_NEAR(hear<SoundBandwidth>(s, 4).value("sound_bandwidth"), 7, 0.38);
}

TEST(SoundBandwidth, OfNoiseAloneIsNotKnown) {
    SoundTrackSettings s;
    s.noise_db = -30;
    EXPECT_FALSE(hear<SoundBandwidth>(s, 4).at("sound_bandwidth").is_known());
    EXPECT_FALSE(hear<SoundBandwidth>(s, 0.5).at("sound_bandwidth").is_known());
}

std::vector<std::vector<float>> sine(double hz, double amplitude, double phase, int channels, double seconds) {
    std::vector<float> one;
    for (int n = 0; n < static_cast<int>(48'000 * seconds); ++n)
        one.push_back(static_cast<float>(amplitude * std::sin(2 * std::numbers::pi * hz * n / 48'000 + phase)));
    return std::vector<std::vector<float>>(static_cast<std::size_t>(channels), one);
}

TEST(Loudness, IsThatOfTheStandardsSines) {
    // ITU-R BS.1770-4, annex 1: a sine of 997 Hz at full scale in one channel of the front reads −3.01 LKFS.
    EXPECT_NEAR(hear<Loudness>(sine(997, 1, 0, 1, 5), 48'000).value("loudness"), -3.01, 0.06);
    // EBU Tech 3341, case 1: stereo sine of 1 kHz at −23 dBFS: −23.0 ± 0.1 LUFS.
    EXPECT_NEAR(hear<Loudness>(sine(1000, std::pow(10, -23 / 20.0), 0, 2, 20), 48'000).value("loudness"), -23, 0.1);
}

TEST(Loudness, PeakIsLookedForBetweenTheSamples) {
    // EBU Tech 3341, case 16 (from memory): a quarter of the sampling rate at 45°, samples at −9 dB, true peak −6 dBTP.
    const Heard heard = hear<Loudness>(sine(12'000, 0.5, std::numbers::pi / 4, 2, 2), 48'000);
    EXPECT_NEAR(heard.value("true_peak"), -6.0, 0.4);
}

TEST(Loudness, SilenceHasNone) {
    const Heard heard = hear<Loudness>(sine(1000, 0, 0, 2, 2), 48'000);
    EXPECT_THAT(heard.at("loudness").reason(), testing::HasSubstr("-70 LUFS"));
    EXPECT_THAT(heard.at("true_peak").reason(), testing::HasSubstr("silent"));
}

struct DelayCase {
    double delay_us, noise_db, bandwidth_khz;

    friend std::ostream& operator<<(std::ostream& out, const DelayCase& c) {
        return out << c.delay_us << " us over " << c.noise_db << " dB";
    }
};

class Delay : public testing::TestWithParam<DelayCase> {};

TEST_P(Delay, IsFoundWithinItsUncertainty) {
    const DelayCase& c = GetParam();
    SoundTrackSettings s;
    s.programme_db = -20, s.bandwidth_khz = c.bandwidth_khz, s.noise_db = c.noise_db, s.delay_us = c.delay_us;
    constexpr int tries = 6;
    double off = 0, squares = 0, sigma = 0;
    for (std::uint64_t seed = 1; seed <= tries; ++seed) {
        const Heard heard = hear<ChannelPair>(s, 3, seed);
        ASSERT_TRUE(heard.at("channel_delay").is_known()) << heard.at("channel_delay").reason();
        const double error = heard.value("channel_delay") - c.delay_us;
        off += error / tries, squares += error * error / tries, sigma += heard.uncertainty("channel_delay") / tries;
    }
    EXPECT_LT(std::abs(off), std::max(0.2, 2.5 * sigma / std::sqrt(tries))) << "a hundredth of a sample";
    EXPECT_LT(std::sqrt(squares), std::max(0.05, 2 * sigma));
    EXPECT_GT(std::sqrt(squares), 0.3 * sigma) << "the uncertainty is not much too large";
}

INSTANTIATE_TEST_SUITE_P(Sweep, Delay,
                         testing::Values(DelayCase{0, -60, 12}, DelayCase{7.3, -60, 12}, DelayCase{-41, -50, 10},
                                         DelayCase{150, -40, 6}, DelayCase{-3, -35, 4}, DelayCase{900, -55, 12}));

TEST(ChannelPair, ChannelsApartHaveNoDelay) {
    SoundTrackSettings s;
    s.noise_db = -20;
    const Heard heard = hear<ChannelPair>(s, 4);
    EXPECT_THAT(heard.at("channel_delay").reason(), testing::HasSubstr("in common"));
    EXPECT_NEAR(heard.value("channel_correlation"), 0, 5 * heard.uncertainty("channel_correlation"));
    s.channels = 1;
    EXPECT_THAT(hear<ChannelPair>(s, 2).at("channel_correlation").reason(), testing::HasSubstr("one channel"));
}

TEST(ChannelPair, CorrelationIsTheShareThatIsAlike) {
    SoundTrackSettings s;
    s.programme_db = -20, s.steady_programme = true, s.noise_db = -20;
    // Programme and noise of the same power: half is alike.
    EXPECT_NEAR(hear<ChannelPair>(s, 4).value("channel_correlation"), 0.5, 0.02);
    auto channels = sine(440, 0.3, 0, 2, 2);
    for (float& sample : channels[1]) sample = -sample;
    EXPECT_NEAR(hear<ChannelPair>(channels, 48'000).value("channel_correlation"), -1, 1e-4);
}

TEST(SoundLength, CountsWhereSoundWasLost) {
    SoundTrackSettings s;
    s.programme_db = -20, s.steady_programme = true, s.noise_db = -60;
    s.gaps = {{1.0, 0.05}, {2.0, 0.003}, {2.5, 0.4}};
    const Heard heard = hear<SoundLength>(s, 4);
    EXPECT_EQ(heard.value("sound_gaps"), 3);
    ASSERT_EQ(heard.events.size(), 3U);
    EXPECT_NEAR(heard.events[0].time_s, 1.0, 1e-4);
    EXPECT_EQ(heard.events[2].what, "the sound stops for 400 ms");
    s.gaps.clear();
    EXPECT_EQ(hear<SoundLength>(s, 4).value("sound_gaps"), 0);
}

TEST(SoundLength, SilenceAtTheEndsAndPausesAreNoGaps) {
    SoundTrackSettings s;
    s.programme_db = -20, s.steady_programme = true;
    s.gaps = {{0.0, 1.0}, {3.5, 1.0}, {5.0, 2.5}};  // the start, a second, and longer than any gap
    const Heard heard = hear<SoundLength>(s, 8);
    EXPECT_EQ(heard.value("sound_gaps"), 1);
}

/// FFmpeg's sound as the media door reads it.
std::vector<std::vector<float>> sound_of_file(const std::string& path) {
    const auto reader = media::open_sound(path);
    std::vector<std::vector<float>> all(static_cast<std::size_t>(reader->info().channels));
    while (const media::SoundBlock* block = reader->next())
        for (std::size_t c = 0; c < all.size(); ++c)
            all[c].insert(all[c].end(), block->channels[c].begin(), block->channels[c].end());
    return all;
}

class BesideFfmpeg : public testing::Test {
protected:
    void SetUp() override { GUARDBAND_NEEDS_FFMPEG(); }
    support::TemporaryFolder folder_;
    std::string path_ = folder_.file("sound.wav");
};

/// The last value of a key that FFmpeg's filter wrote down; the greatest if asked for.
double value_in(const std::string& path, const std::string& key, bool greatest) {
    std::ifstream file(path);
    double value = -1e9;
    for (std::string line; std::getline(file, line);)
        if (line.starts_with(key)) {
            const double one = std::stod(line.substr(line.find('=') + 1));
            value = greatest ? std::max(value, one) : one;
        }
    return value;
}

TEST_F(BesideFfmpeg, LoudnessAndPeakAreThoseOfItsFilter) {
    support::ffmpeg(
        "-f lavfi -i anoisesrc=d=12:c=pink:a=0.4:seed=5:r=48000 -f lavfi -i sine=f=330:d=12:r=48000 -filter_complex "
        "\"[0]volume='if(lt(mod(t,3),2),0.8,0.05)':eval=frame,aformat=channel_layouts=mono[a];[1]aformat=channel_"
        "layouts=mono[b];[a][b]join=inputs=2:channel_layout=stereo\" "
        "-c:a pcm_s24le " +
        path_);
    const std::string log = folder_.file("log");
    support::ffmpeg("-i " + path_ + " -af ebur128=peak=true:metadata=1,ametadata=mode=print:file=" + log +
                    " -f null -");
    const Heard heard = hear<Loudness>(sound_of_file(path_), 48'000);
    EXPECT_NEAR(heard.value("loudness"), value_in(log, "lavfi.r128.I=", false), 0.1);
    const double peak =
        std::max(value_in(log, "lavfi.r128.true_peaks_ch0=", true), value_in(log, "lavfi.r128.true_peaks_ch1=", true));
    EXPECT_NEAR(heard.value("true_peak"), 20 * std::log10(peak), 0.3);
}

TEST_F(BesideFfmpeg, DelayOfWholeSamplesIsFound) {
    support::ffmpeg(
        "-f lavfi -i anoisesrc=d=3:c=pink:a=0.3:seed=3:r=48000 -filter_complex "
        "\"[0]aformat=channel_layouts=mono,asplit[a][b];[b]adelay=2S:all=1[c];[a][c]join=inputs=2:channel_layout="
        "stereo\" -c:a pcm_s16le " +
        path_);
    EXPECT_NEAR(hear<ChannelPair>(sound_of_file(path_), 48'000).value("channel_delay"), 2e6 / 48'000, 0.2);
}

TEST_F(BesideFfmpeg, BandwidthOfResampledSoundIsThatOfItsRate) {
    support::ffmpeg(
        "-f lavfi -i anoisesrc=d=4:c=white:a=0.3:seed=3:r=16000 -af aresample=48000:filter_size=512 -c:a pcm_s24le " +
        path_);
    EXPECT_NEAR(hear<SoundBandwidth>(sound_of_file(path_), 48'000).value("sound_bandwidth"), 8, 0.4);
}

}  // namespace
}  // namespace guardband::measure
