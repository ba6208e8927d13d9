// Sound of files of many kinds, exact to the last bit where the file is; and of files that mean harm.
#include "media/sound.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstring>
#include <numbers>

#include "quantity/errors.h"
#include "support/ffmpeg.h"

namespace guardband::media {
namespace {

using quantity::InputError;
using support::ffmpeg;
using testing::HasSubstr;

constexpr int wav_rate_hz = 8000;

void put(std::vector<std::byte>& to, std::uint32_t value, int bytes) {
    for (int i = 0; i < bytes; ++i) to.push_back(static_cast<std::byte>(value >> (8 * i)));
}

/// A WAV file of 16 bits, written by hand from the layout of its header.
std::vector<std::byte> wav(const std::vector<std::int16_t>& samples, int channels, std::uint32_t claimed_bytes = 0) {
    const auto bytes = static_cast<std::uint32_t>(2 * samples.size());
    std::vector<std::byte> file;
    const auto word = [&](const char* four) {
        for (int i = 0; i < 4; ++i) file.push_back(static_cast<std::byte>(four[i]));
    };
    word("RIFF"), put(file, 36 + bytes, 4), word("WAVE"), word("fmt "), put(file, 16, 4), put(file, 1, 2);
    put(file, static_cast<std::uint32_t>(channels), 2), put(file, wav_rate_hz, 4);
    put(file, static_cast<std::uint32_t>(2 * channels * wav_rate_hz), 4);
    put(file, static_cast<std::uint32_t>(2 * channels), 2), put(file, 16, 2), word("data");
    put(file, claimed_bytes == 0 ? bytes : claimed_bytes, 4);
    for (const std::int16_t s : samples) put(file, static_cast<std::uint16_t>(s), 2);
    return file;
}

std::vector<std::int16_t> ramp(std::size_t count) {
    std::vector<std::int16_t> samples;
    for (std::size_t i = 0; i < count; ++i) samples.push_back(static_cast<std::int16_t>(17 * i));
    return samples;
}

struct Heard {
    std::vector<std::vector<float>> channels;
    std::string trouble, error;
};

Heard hear(SoundReader& sound) {
    Heard heard;
    heard.channels.resize(static_cast<std::size_t>(sound.info().channels));
    while (const SoundBlock* block = sound.next()) {
        EXPECT_EQ(block->first_sample, static_cast<std::int64_t>(heard.channels[0].size()));
        EXPECT_DOUBLE_EQ(block->time_s, static_cast<double>(block->first_sample) / sound.info().sample_rate_hz);
        for (std::size_t c = 0; c < heard.channels.size(); ++c)
            heard.channels[c].insert(heard.channels[c].end(), block->channels[c].begin(), block->channels[c].end());
    }
    heard.trouble = sound.trouble();
    return heard;
}

Heard hear(const std::string& path, const SoundOptions& options = {}) {
    try {
        return hear(*open_sound(path, options));
    } catch (const InputError& error) {
        EXPECT_EQ(error.input(), path);
        EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
        return {{}, "", error.what()};
    }
}

class Sound : public testing::Test {
protected:
    std::string write(const std::string& name, const std::vector<std::byte>& bytes) const {
        support::write_file(folder_.file(name), bytes);
        return folder_.file(name);
    }
    support::TemporaryFolder folder_;
};

TEST_F(Sound, OfAWavFileIsExact) {
    const auto samples = ramp(20'000);
    const std::string path = write("two.wav", wav(samples, 2));
    const auto sound = open_sound(path);
    EXPECT_EQ(sound->info().channels, 2);
    EXPECT_EQ(sound->info().sample_rate_hz, wav_rate_hz);
    EXPECT_EQ(sound->info().codec, "pcm_s16le");
    EXPECT_EQ(sound->info().container, "wav");
    EXPECT_NEAR(sound->info().length_s.value_or(0), 1.25, 1e-6);
    const Heard heard = hear(*sound);
    ASSERT_EQ(heard.channels[1].size(), 10'000U);
    for (std::size_t i = 0; i < 10'000; ++i) {
        ASSERT_EQ(heard.channels[0][i], static_cast<float>(samples[2 * i]) / 32768);
        ASSERT_EQ(heard.channels[1][i], static_cast<float>(samples[2 * i + 1]) / 32768);
    }
    EXPECT_EQ(heard.trouble, "");
}

TEST_F(Sound, StartDurationAndRateAreAsAsked) {
    const auto samples = ramp(24'000);
    const std::string path = write("one.wav", wav(samples, 1));
    SoundOptions options;
    options.start_s = 0.5;
    options.duration_s = 1;
    const Heard heard = hear(path, options);
    ASSERT_EQ(heard.channels[0].size(), 8000U);
    EXPECT_EQ(heard.channels[0][0], static_cast<float>(samples[4000]) / 32768);
    options.sample_rate_hz = 16'000;  // the header was wrong
    EXPECT_EQ(hear(path, options).channels[0].size(), 16'000U);
    EXPECT_EQ(hear(path, options).channels[0][0], static_cast<float>(samples[8000]) / 32768);
    options.start_s = 100;
    EXPECT_THAT(hear(path, options).error, HasSubstr("before the start asked for"));
}

TEST_F(Sound, OfManyKindsIsTheSame) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string source = folder_.file("source.wav");
    ffmpeg("-f lavfi -i sine=frequency=440:sample_rate=48000:duration=2 -ac 2 -c:a pcm_s16le " + source);
    const Heard expected = hear(source);
    ASSERT_EQ(expected.channels[0].size(), 96'000U);
    for (const char* kind : {"a.flac", "b.mkv -c:a pcm_s24le", "c.w64 -c:a pcm_f32le", "d.caf -c:a pcm_f64le",
                             "e.aiff -c:a pcm_s16be", "f.wv", "g.mov -c:a alac"}) {
        const std::string text = kind;
        const std::string path = folder_.file(text.substr(0, text.find(' ')));
        const std::string how = text.find(' ') == std::string::npos ? "" : text.substr(text.find(' ') + 1);
        ffmpeg("-i " + source + " " + how + " " + path);
        const Heard heard = hear(path);
        EXPECT_EQ(heard.error, "") << kind;
        EXPECT_EQ(heard.channels, expected.channels) << kind;
    }
}

TEST_F(Sound, OfAClipIsTheStreamAskedFor) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = folder_.file("clip.mkv");
    ffmpeg(
        "-f lavfi -i testsrc=duration=1:size=64x64:rate=25 -f lavfi -i anullsrc=r=48000:cl=mono:d=1 "
        "-f lavfi -i sine=frequency=1000:sample_rate=44100:duration=1 -map 0 -map 1 -map 2 -c:v ffv1 -c:a flac " +
        path);
    SoundOptions second;
    second.stream = 1;
    EXPECT_EQ(open_sound(path)->info().sample_rate_hz, 48'000);
    EXPECT_EQ(open_sound(path)->info().streams, 2);
    EXPECT_EQ(open_sound(path, second)->info().sample_rate_hz, 44'100);
    EXPECT_EQ(hear(path).channels[0][100], 0);
    EXPECT_NE(hear(path, second).channels[0][100], 0);
    second.stream = 2;
    EXPECT_THAT(hear(path, second).error, HasSubstr("has 2 sound streams"));
    const std::string silent = folder_.file("silent.mkv");
    ffmpeg("-f lavfi -i testsrc=duration=1:size=64x64:rate=25 -c:v ffv1 " + silent);
    EXPECT_THAT(hear(silent).error, HasSubstr("has no sound"));
}

TEST_F(Sound, OfBrokenFilesIsRefusedInOneLineOrToldToBeShort) {
    EXPECT_THAT(hear(folder_.file("none.wav")).error, HasSubstr("no such file"));
    EXPECT_THAT(hear(write("empty.wav", {})).error, HasSubstr("is empty"));
    auto whole = wav(ramp(16'000), 1);
    for (const std::size_t length : {1UL, 12UL, 30UL, 43UL, 44UL}) {
        const std::string path = write("cut.wav", {whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(length)});
        EXPECT_NE(hear(path).error, "") << length << " bytes of a header";
    }
    const Heard half = hear(write("half.wav", {whole.begin(), whole.begin() + 16'044}));
    EXPECT_EQ(half.channels.at(0).size(), 8000U);
    EXPECT_THAT(half.trouble, HasSubstr("the file ends in the middle"));
    std::vector<std::byte> rubbish;
    for (std::size_t i = 0; i < 50'000; ++i) rubbish.push_back(static_cast<std::byte>((i * i * 2654435761U) >> 13));
    (void)hear(write("rubbish.wav", rubbish));  // whatever it is taken for, it must end
    auto mad = whole;
    for (std::size_t i = 22; i < 44; ++i) mad[i] = std::byte{0xFF};
    EXPECT_NE(hear(write("mad.wav", mad)).error, "") << "65535 channels";
}

TEST_F(Sound, OfDamagedFilesEndsAndStaysWithinBounds) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = folder_.file("good.flac");
    ffmpeg("-f lavfi -i sine=frequency=440:sample_rate=48000:duration=2 " + path);
    const auto good = support::read_file(path);
    for (std::size_t seed = 1; seed <= 20; ++seed) {
        auto damaged = good;
        for (std::size_t k = 0; k < 30; ++k)
            damaged[(seed * 7919 + k * 104'729) % damaged.size()] ^= static_cast<std::byte>(1 + seed * k % 255);
        const Heard heard = hear(write("damaged.flac", damaged));
        if (heard.error.empty()) {
            EXPECT_LE(heard.channels.at(0).size(), 200'000U);
        }
    }
}

std::vector<float> raw(const std::string& path, SampleFormat format, std::optional<int> bit = std::nullopt) {
    SoundOptions options;
    options.sample_rate_hz = 1000;
    return hear(*open_raw_samples(path, format, options, bit)).channels.at(0);
}

TEST_F(Sound, OfBareSamplesFollowsTheirFormat) {
    std::vector<std::byte> bytes;
    put(bytes, 0x00, 1), put(bytes, 0x80, 1), put(bytes, 0xFF, 1), put(bytes, 0x40, 1);
    const std::string path = write("bare", bytes);
    EXPECT_THAT(raw(path, SampleFormat::U8), testing::ElementsAre(-1.0F, 0.0F, 127.0F / 128, -0.5F));
    EXPECT_THAT(raw(path, SampleFormat::S8), testing::ElementsAre(0.0F, -1.0F, -1.0F / 128, 0.5F));
    EXPECT_THAT(raw(path, SampleFormat::U16), testing::ElementsAre(0.0F, (0x40FF - 32768) / 32768.0F));
    EXPECT_THAT(raw(path, SampleFormat::S16), testing::ElementsAre(-1.0F, 0x40FF / 32768.0F));
    EXPECT_THAT(raw(path, SampleFormat::U8, 7), testing::ElementsAre(0.0F, 1.0F, 1.0F, 0.0F));
    EXPECT_THAT(raw(path, SampleFormat::U8, 6), testing::ElementsAre(0.0F, 0.0F, 1.0F, 1.0F));
    std::vector<std::byte> floats(8);
    const float values[] = {0.25F, NAN};
    std::memcpy(floats.data(), values, 8);
    EXPECT_THAT(raw(write("floats", floats), SampleFormat::F32), testing::ElementsAre(0.25F, 0.0F));
    floats.push_back(std::byte{1});
    SoundOptions options;
    EXPECT_THROW(open_raw_samples(path, SampleFormat::U8, options), InputError) << "no rate";
    options.sample_rate_hz = 1000;
    const auto odd = open_raw_samples(write("odd", floats), SampleFormat::F32, options);
    EXPECT_EQ(hear(*odd).channels.at(0).size(), 2U);
    EXPECT_THAT(odd->trouble(), HasSubstr("in the middle of a sample"));
    EXPECT_THROW(open_raw_samples(folder_.file("none"), SampleFormat::U8, options), InputError);
    EXPECT_THROW(open_raw_samples("/dev/zero", SampleFormat::U8, options), InputError);
}

}  // namespace
}  // namespace guardband::media
