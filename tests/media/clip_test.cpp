#include "media/clip.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <map>

#include "quantity/errors.h"
#include "support/ffmpeg.h"

namespace guardband::media {
namespace {

using support::ffmpeg;

class Clip : public testing::Test {
protected:
    void SetUp() override { GUARDBAND_NEEDS_FFMPEG(); }

    /// Makes a clip and gives its path. @param arguments  all but the file's name, which comes last
    std::string make(const std::string& name, const std::string& arguments) const {
        ffmpeg(arguments + " " + folder_.file(name));
        return folder_.file(name);
    }

    support::TemporaryFolder folder_;
};

const std::string small_lossless = " -c:v ffv1 -level 3 -slices 4 -slicecrc 1 -g 1 ";
const std::string source = "-f lavfi -i testsrc2=s=192x160:r=25:d=4,format=yuv422p10";

std::int64_t count(ClipReader& clip) {
    std::int64_t frames = 0;
    while (clip.next()) ++frames;
    return frames;
}

std::vector<std::int64_t> stamps(ClipReader& clip) {
    std::vector<std::int64_t> result;
    while (const auto frame = clip.next()) result.push_back(frame->pts.value_or(-1));
    return result;
}

std::map<std::int64_t, int> step_counts(ClipReader& clip) {
    const auto all = stamps(clip);
    std::map<std::int64_t, int> counts;
    for (std::size_t i = 1; i < all.size(); ++i) ++counts[all[i] - all[i - 1]];
    return counts;
}

TEST_F(Clip, TellsWhatItsHeadersSay) {
    const std::string path = make(
        "a.mkv", source + " -f lavfi -i sine=d=4 -vf setsar=16/15" + small_lossless + "-field_order tt -c:a pcm_s16le");
    const auto clip = open_clip(path);
    const ClipInfo& info = clip->info();
    EXPECT_EQ(info.path, path);
    EXPECT_EQ(info.container, "matroska");
    EXPECT_EQ(info.codec, "ffv1");
    EXPECT_EQ(info.time_base, quantity::Rational(1, 1000));
    EXPECT_EQ(info.declared_frame_rate, quantity::Rational(25));
    EXPECT_EQ(info.sample_aspect, quantity::Rational(16, 15));
    EXPECT_EQ(info.declared_order, DeclaredOrder::TopFirst);
    EXPECT_NEAR(info.duration_s.value_or(0), 4, 0.03);
    EXPECT_EQ(info.file_bytes, support::read_file(path).size());
    EXPECT_TRUE(info.has_sound);
}

// Raw DV has no header to say it in.
TEST_F(Clip, TakesTheFieldOrderFromTheFirstFrameWhereTheStreamSaysNothing) {
    const std::string path =
        make("raw.dv", "-f lavfi -i testsrc2=s=720x576:r=25:d=0.2,format=yuv420p,setfield=bff -c:v dvvideo");
    EXPECT_EQ(open_clip(path)->info().declared_order, DeclaredOrder::BottomFirst);
}

TEST_F(Clip, GivesEveryFrameOnceWithAnyNumberOfThreads) {
    const std::string path = make("a.mkv", source + small_lossless);
    for (const int threads : {1, 2, 5, 0}) {
        ReadOptions options;
        options.threads = threads;
        const auto clip = open_clip(path, options);
        std::int64_t expected = 0;
        while (const auto frame = clip->next()) {
            EXPECT_EQ(frame->index, expected);
            EXPECT_EQ(frame->pts, 40 * expected);
            ++expected;
        }
        EXPECT_EQ(expected, 100);
        EXPECT_EQ(clip->trouble(), "");
        EXPECT_FALSE(clip->next());
    }
}

TEST_F(Clip, GivesFramesInTheOrderOfTimeWithBidirectionalPrediction) {
    const auto clip = open_clip(make("a.mp4", source + " -pix_fmt yuv420p -c:v libx264 -bf 3 -g 30"));
    const auto all = stamps(*clip);
    EXPECT_EQ(all.size(), 100U);
    EXPECT_TRUE(std::ranges::is_sorted(all));
}

TEST_F(Clip, FramesOutliveTheReader) {
    auto clip = open_clip(make("a.mkv", source + small_lossless));
    const auto frame = clip->next();
    ASSERT_TRUE(frame);
    clip.reset();
    std::size_t sum = 0;
    for (int y = 0; y < frame->planes[0].height; ++y) sum += static_cast<std::size_t>(*frame->planes[0].row(y));
    EXPECT_GT(sum, 0U);
}

TEST_F(Clip, CanBeLeftAtAnyMoment) {
    const std::string path = make("a.mkv", source + small_lossless);
    for (int frames = 0; frames < 12; ++frames) {
        const auto clip = open_clip(path);
        for (int i = 0; i < frames; ++i) clip->next();
    }
}

TEST_F(Clip, ReadsAStretch) {
    const std::string path = make("a.mkv", source + small_lossless);
    const auto read = [&](double start_s, std::optional<double> duration_s) {
        ReadOptions options;
        options.start_s = start_s, options.duration_s = duration_s;
        return stamps(*open_clip(path, options));
    };
    EXPECT_EQ(read(1, 0.2), (std::vector<std::int64_t>{1000, 1040, 1080, 1120, 1160}));
    EXPECT_EQ(read(3.9, std::nullopt), (std::vector<std::int64_t>{3920, 3960}));
    EXPECT_EQ(read(0, 0.05).size(), 2U);
    ReadOptions options;
    options.start_s = 1;
    EXPECT_EQ(open_clip(path, options)->next()->index, 0);
}

TEST_F(Clip, ReportsAStretchThatIsNotThere) {
    const std::string path = make("a.mkv", source + small_lossless);
    ReadOptions options;
    options.start_s = 100;
    EXPECT_THAT([&] { open_clip(path, options)->next(); },
                testing::ThrowsMessage<quantity::InputError>(testing::HasSubstr("ends after 3.96 s")));
    options.start_s = -1;
    EXPECT_THROW(open_clip(path, options), quantity::InputError);
    options.start_s = 0, options.duration_s = 0;
    EXPECT_THROW(open_clip(path, options), quantity::InputError);
}

TEST_F(Clip, TellsHowFarItHasRead) {
    const auto clip = open_clip(make("a.mkv", source + small_lossless));
    count(*clip);
    EXPECT_GT(clip->bytes_read(), clip->info().file_bytes * 9 / 10);
    EXPECT_LE(clip->bytes_read(), clip->info().file_bytes);
}

bool equal(const Plane& a, const Plane& b) {
    for (int y = 0; y < a.height; ++y)
        if (!std::equal(a.row(y), a.row(y) + 2 * static_cast<std::ptrdiff_t>(a.width), b.row(y)))
            return false;  // 10 bits
    return true;
}

// Truth of the three sequences: how many frames the filters leave, and their distances, by hand. One frame in ten is
// dropped: 8 s at 25 frames/s leave 180, a step of 80 ms at each place but the last, which lies at the end. One in
// seven is dropped from the fourth on: 171 left, 28 gaps.
TEST_F(Clip, KeepsTheTimesOfDroppedFrames) {
    const std::string long_source = "-f lavfi -i testsrc2=s=96x80:r=25:d=8,format=yuv422p10,";
    const auto drops = open_clip(
        make("drop.mkv", long_source + "'shuffleframes=0 1 2 3 4 5 6 7 8 -1' -vsync passthrough" + small_lossless));
    EXPECT_EQ(step_counts(*drops), (std::map<std::int64_t, int>{{40, 160}, {80, 19}}));
    const auto irregular =
        open_clip(make("vfr.mkv", long_source + "\"select='not(eq(mod(n\\,7)\\,3))'\" -vsync vfr" + small_lossless));
    EXPECT_EQ(step_counts(*irregular), (std::map<std::int64_t, int>{{40, 142}, {80, 28}}));
    const auto repeats = open_clip(
        make("dup.mkv", long_source + "'shuffleframes=0 1 2 3 4 5 6 7 8 8' -vsync passthrough" + small_lossless));
    EXPECT_EQ(step_counts(*repeats), (std::map<std::int64_t, int>{{40, 199}}));
}

TEST_F(Clip, LeavesOutACover) {
    const std::string cover = make("cover.png", "-f lavfi -i color=red:s=640x480 -frames:v 1");
    const std::string with_video =
        make("a.mp4", source + " -i " + cover +
                          " -map 0 -map 1 -pix_fmt yuv420p -c:v:0 mpeg4 -c:v:1 png -disposition:v:1 attached_pic");
    EXPECT_EQ(open_clip(with_video)->info().picture.width, 192);
    const std::string without = make(
        "b.mp4", "-f lavfi -i sine=d=1 -i " + cover + " -map 0 -map 1 -c:a aac -c:v png -disposition:v attached_pic");
    EXPECT_THAT([&] { open_clip(without); },
                testing::ThrowsMessage<quantity::InputError>(testing::HasSubstr("sound but no video")));
}

TEST_F(Clip, PrintsNothing) {
    const std::string path = make("a.mkv", source + small_lossless);
    auto bytes = support::read_file(path);
    for (std::size_t i = bytes.size() / 4; i < bytes.size(); i += 997) bytes[i] ^= std::byte{0x55};
    support::write_file(path, bytes);
    testing::internal::CaptureStdout();
    testing::internal::CaptureStderr();
    try {
        count(*open_clip(path));
    } catch (const quantity::InputError&) {
    }
    EXPECT_EQ(testing::internal::GetCapturedStdout(), "");
    EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
}

// What the file declares. FFV1 flags no frame as interlaced, the container does; DV says it in the frames and not in
// the container.
TEST_F(Clip, TellsTheDeclaredFieldOrderOfEachFrame) {
    const auto order_of = [](const std::string& path) {
        const auto clip = open_clip(path);
        std::optional<DeclaredOrder> order;
        while (const auto frame = clip->next()) {
            if (order && *order != frame->declared_order) ADD_FAILURE() << "changes within the clip";
            order = frame->declared_order;
        }
        return order;
    };
    const auto fields = [](const std::string& size, const std::string& rate, const std::string& format,
                           const std::string& first) {
        return "-f lavfi -i testsrc2=s=" + size + ":r=" + rate + ":d=0.4,format=" + format +
               ",tinterlace=mode=interleave_" + (first == "tff" ? "top" : "bottom") + ",setfield=" + first;
    };
    using enum DeclaredOrder;
    EXPECT_EQ(
        order_of(make("tt.mkv", fields("720x576", "50", "yuv422p10", "tff") + small_lossless + "-field_order tt")),
        TopFirst);
    EXPECT_EQ(
        order_of(make("bb.mkv", fields("720x576", "50", "yuv422p10", "bff") + small_lossless + "-field_order bb")),
        BottomFirst);
    EXPECT_EQ(order_of(make("swapped.mkv", fields("720x576", "50", "yuv422p10", "tff") + ",setfield=bff" +
                                               small_lossless + "-field_order bb")),
              BottomFirst);
    EXPECT_EQ(order_of(make("progressive.mkv", source + small_lossless + "-field_order progressive")), Progressive);
    EXPECT_EQ(order_of(make("silent.nut", source + " -c:v rawvideo")), Unknown);
    EXPECT_EQ(
        order_of(make("486.mov", fields("720x486", "60000/1001", "yuv422p10", "bff") + " -c:v v210 -field_order bb")),
        BottomFirst);
    EXPECT_EQ(order_of(make("tt.mov", fields("720x576", "50", "yuv422p10", "tff") + " -c:v v210 -field_order tt")),
              TopFirst);
    EXPECT_EQ(order_of(make("pal.dv", fields("720x576", "50", "yuv420p", "bff") + " -c:v dvvideo")), BottomFirst);
    EXPECT_EQ(order_of(make("a.mpg", fields("720x576", "50", "yuv422p", "tff") +
                                         " -c:v mpeg2video -flags +ildct+ilme -top 1 -qscale 3")),
              TopFirst);
    EXPECT_EQ(order_of(make("a.avi", fields("720x576", "50", "yuv422p", "bff") +
                                         " -c:v mpeg2video -flags +ildct+ilme -top 0 -qscale 3")),
              BottomFirst);
}

TEST_F(Clip, MarksTheFrameWhoseChecksumFails) {
    const std::string path = make("a.mkv", source + small_lossless), hurt = folder_.file("hurt.mkv");
    auto bytes = support::read_file(path);
    bytes[bytes.size() / 2] ^= std::byte{0x10};
    support::write_file(hurt, bytes);
    for (const int threads : {1, 4}) {
        ReadOptions options;
        options.threads = threads;
        const auto sound = open_clip(path), damaged = open_clip(hurt, options);
        int marked = 0;
        while (const auto frame = damaged->next()) {
            const auto original = sound->next();
            ASSERT_TRUE(original);
            EXPECT_EQ(frame->damaged, !equal(frame->planes[0], original->planes[0]))
                << frame->index;  // the decoder conceals it
            marked += frame->damaged ? 1 : 0;
        }
        EXPECT_EQ(marked, 1);
    }
}

}  // namespace
}  // namespace guardband::media
