// The sound that a clip's reader hands out beside the frames.
#include <gmock/gmock.h>

#include "media/clip.h"
#include "support/ffmpeg.h"

namespace guardband::media {
namespace {

class ClipSound : public testing::Test {
protected:
    void SetUp() override { GUARDBAND_NEEDS_FFMPEG(); }

    std::string make(const std::string& name, const std::string& arguments) const {
        support::ffmpeg("-f lavfi -i testsrc2=s=64x48:r=25:d=4 -f lavfi -i sine=f=441:d=4:r=44100 " + arguments + " " +
                        folder_.file(name));
        return folder_.file(name);
    }

    support::TemporaryFolder folder_;
};

/// All that a reader hands out.
struct All {
    std::int64_t frames = 0, sound_before_the_middle = 0;
    std::vector<float> first_channel;
    std::vector<double> stamps;
};

All read(ClipReader& clip) {
    All all;
    clip.listen([&](const SoundBlock& block) {
        EXPECT_EQ(block.first_sample, static_cast<std::int64_t>(all.first_channel.size()));
        all.first_channel.insert(all.first_channel.end(), block.channels[0].begin(), block.channels[0].end());
        if (block.stamp_s) all.stamps.push_back(*block.stamp_s);
        if (all.frames < 50) all.sound_before_the_middle = static_cast<std::int64_t>(all.first_channel.size());
    });
    while (clip.next()) ++all.frames;
    return all;
}

ReadOptions with_sound() {
    ReadOptions options;
    options.sound = true;
    return options;
}

std::vector<float> sound_alone(const std::string& path) {
    std::vector<float> all;
    const auto reader = open_sound(path);
    while (const SoundBlock* block = reader->next())
        all.insert(all.end(), block->channels[0].begin(), block->channels[0].end());
    return all;
}

TEST_F(ClipSound, IsThatOfTheFileBetweenTheFrames) {
    for (const char* arguments : {"-c:v ffv1 -c:a pcm_s16le", "-c:v ffv1 -c:a flac -ac 2", "-c:v mpeg4 -c:a aac"}) {
        const std::string path = make("a.mkv", arguments);
        const auto clip = open_clip(path, with_sound());
        ASSERT_TRUE(clip->info().sound) << arguments;
        EXPECT_EQ(clip->info().sound->sample_rate_hz, 44'100);
        const All all = read(*clip);
        EXPECT_EQ(all.frames, 100) << arguments;
        EXPECT_TRUE(all.first_channel == sound_alone(path)) << arguments;
        EXPECT_NEAR(static_cast<double>(all.sound_before_the_middle), 2 * 44'100, 44'100) << "interleaved";
        EXPECT_EQ(clip->trouble(), "");
    }
}

TEST_F(ClipSound, IsLeftOutUnlessAskedFor) {
    const auto clip = open_clip(make("a.mkv", "-c:v ffv1 -c:a pcm_s16le"));
    EXPECT_TRUE(clip->info().has_sound);
    EXPECT_FALSE(clip->info().sound);
    EXPECT_TRUE(read(*clip).first_channel.empty());
    // And may be asked for without being heard.
    EXPECT_EQ(
        [&] {
            const auto deaf = open_clip(folder_.file("a.mkv"), with_sound());
            std::int64_t frames = 0;
            while (deaf->next()) ++frames;
            return frames;
        }(),
        100);
}

TEST_F(ClipSound, OfAStretchIsThatOfItsPictures) {
    const std::string path = make("a.mov", "-c:v mjpeg -c:a pcm_s16le");
    ReadOptions options = with_sound();
    options.start_s = 1, options.duration_s = 0.5;
    const auto clip = open_clip(path, options);
    EXPECT_FALSE(clip->info().read_whole);
    const All all = read(*clip);
    EXPECT_NEAR(static_cast<double>(all.frames), 13, 1);
    EXPECT_NEAR(static_cast<double>(all.first_channel.size()), 22'050, 2'300) << "within the interleaving";
    const std::vector<float> alone = sound_alone(path);
    for (std::size_t n = 0; n < all.first_channel.size(); ++n) ASSERT_EQ(all.first_channel[n], alone[44'100 + n]) << n;
}

TEST_F(ClipSound, ThatCanNotBeHadIsToldAndThePicturesComeAllTheSame) {
    const std::string path = make("a.avi", "-c:v mjpeg -c:a pcm_s16le");
    std::vector<std::byte> bytes = support::read_file(path);
    // The sound's format tag in the header becomes one that nobody has.
    for (std::size_t n = 0; n + 9 < 40'000; ++n)
        if (bytes[n] == std::byte{'s'} && bytes[n + 1] == std::byte{'t'} && bytes[n + 2] == std::byte{'r'} &&
            bytes[n + 3] == std::byte{'f'} && bytes[n + 8] == std::byte{1} && bytes[n + 9] == std::byte{0})
            bytes[n + 8] = std::byte{0x7A}, bytes[n + 9] = std::byte{0x7A};
    support::write_file(path, bytes);
    const auto clip = open_clip(path, with_sound());
    EXPECT_TRUE(clip->info().has_sound);
    EXPECT_FALSE(clip->info().sound);
    EXPECT_NE(clip->info().sound_trouble, "");
    EXPECT_EQ(read(*clip).frames, 100);
}

}  // namespace
}  // namespace guardband::media
