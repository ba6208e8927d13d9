// `repeated_fields` on clips whose repeats are known because they were made so (bias and scatter of a count: none
// missed, none invented), and on FFmpeg's pull-down and repeated frames, whose number follows from the pattern.
#include "measure/clip/repeated_fields.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>
#include <random>

#include "measure/clip/measured_repeats.h"
#include "support/ffmpeg.h"

namespace guardband::measure {
namespace {

using support::MadeClip;
using support::Planes;
using testing::ElementsAreArray;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testsignal::Recipe;
using testsignal::RepeatStage;

struct Case {
    double motion_px;
    std::optional<double> snr_db;
    RepeatStage stage;
    testsignal::FieldOrder order = testsignal::FieldOrder::TopFirst;
};

void PrintTo(const Case& c, std::ostream* out) {
    *out << c.motion_px << " px, " << (c.snr_db ? std::to_string(*c.snr_db) + " dB" : "no noise")
         << (c.stage == RepeatStage::BeforeNoise ? ", before the noise" : ", after the noise");
}

class RepeatsOf : public testing::TestWithParam<Case> {};

TEST_P(RepeatsOf, AreFoundToTheFieldAndNoneElse) {
    Recipe recipe = panned(GetParam().motion_px, GetParam().snr_db);
    recipe.field_order = GetParam().order;
    recipe.faults.repeat_stage = GetParam().stage;
    // A single field of either parity, three in succession, a frame and two frames.
    recipe.faults.repeated_fields = {13, 20, 29, 30, 31};
    recipe.faults.repeated_frames = {18, 22, 23};
    const FoundRepeats found = measure(recipe);
    EXPECT_THAT(found.fields(), ElementsAreArray({13, 20, 29, 30, 31, 36, 37, 44, 45, 46, 47}));
    EXPECT_EQ(found.count(), 11);
    for (const auto& event : found.events) {
        EXPECT_EQ(event.kind, "repeated");
        EXPECT_EQ(event.frame, *event.field / 2);
        EXPECT_NEAR(event.time_s, static_cast<double>(*event.frame), 1e-9);  // a tick of this clip is a frame
    }
}

INSTANTIATE_TEST_SUITE_P(Table, RepeatsOf,
                         testing::Values(Case{0.5, {}, RepeatStage::AfterNoise}, Case{2, {}, RepeatStage::AfterNoise},
                                         Case{10, {}, RepeatStage::AfterNoise}, Case{0.5, 40, RepeatStage::AfterNoise},
                                         Case{2, 30, RepeatStage::AfterNoise, testsignal::FieldOrder::BottomFirst},
                                         Case{0.5, 24, RepeatStage::AfterNoise},
                                         Case{0.5, 40, RepeatStage::BeforeNoise},
                                         Case{0.5, 30, RepeatStage::BeforeNoise},
                                         Case{2, 30, RepeatStage::BeforeNoise, testsignal::FieldOrder::BottomFirst},
                                         Case{10, 30, RepeatStage::BeforeNoise},
                                         Case{2, 24, RepeatStage::BeforeNoise}));

TEST(RepeatedFields, PullDownOnTapeHasTwoInFiveFrames) {
    Recipe recipe = panned(2, 30, 2);
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30000, 1001);
    recipe.pulldown = {2, 3};
    recipe.faults.repeat_stage = RepeatStage::BeforeNoise;
    MadeClip clip(recipe);
    Measuring measuring(clip.format());
    while (const auto frame = clip.next()) measuring.see(*frame);
    const FoundRepeats found = measuring.found();
    EXPECT_THAT(found.fields(), ElementsAreArray(clip.truth().repeated_fields));
    EXPECT_THAT(found.figure.note(), HasSubstr("2:3 pull-down"));
}

TEST(RepeatedFields, UnevenRepeatsAreNoPullDown) {
    Recipe recipe = panned(2, 30, 2);
    recipe.faults.repeated_fields = {10, 15, 21, 30, 36, 41, 52, 59, 64, 70};
    const FoundRepeats found = measure(recipe);
    EXPECT_EQ(found.count(), 10);
    EXPECT_THAT(found.figure.note(), Not(HasSubstr("pull-down")));
    EXPECT_EQ(found.events.front().severity, quantity::Severity::Warning);
}

TEST(RepeatedFields, AnimationOnTwosIsRepeated) {
    const Recipe recipe = panned(2, 36);
    Planes kept;
    // Every other frame shows what the one before did; the noise of the tape is new.
    std::mt19937 random(4);
    std::normal_distribution<double> noise(0, 6);
    const FoundRepeats found = measure(recipe, [&](Planes& planes, int index) {
        if (index % 2 == 0) kept = planes;
        planes = kept;
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::clamp(std::lround(code + noise(random)), 0L, 1023L));
    });
    // Of 30 frames the odd ones repeat. Frame 1 is the first that can be compared, so it has no neighbour that moves.
    EXPECT_EQ(found.count(), 28) << testing::PrintToString(found.fields());
}

// Freezes.

Edit freeze(int from, int to, Planes& kept) {
    return [from, to, &kept](Planes& planes, int index) {
        if (index < from) kept = planes;
        if (index >= from && index < to) planes = kept;
    };
}

TEST(RepeatedFields, AnExactFreezeOfANoisyClipIsCounted) {
    Planes kept;
    const FoundRepeats found = measure(still(36, 1.6), freeze(15, 35, kept));
    EXPECT_EQ(found.count(), 40);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].field, 30);
    EXPECT_EQ(found.events[0].count, 40);
}

TEST(RepeatedFields, AStillStretchWithoutNoiseIsNotCountedAndTheNoteSaysSo) {
    // What moves stops at frame 14 and goes on from there 20 frames later.
    std::vector<Planes> run;
    const FoundRepeats found = measure(panned(1, {}, 1.6), [&run](Planes& planes, int index) {
        run.push_back(planes);
        planes = run[static_cast<std::size_t>(index < 15 ? index : std::max(14, index - 20))];
    });
    EXPECT_EQ(found.count(), 0);
    EXPECT_THAT(found.figure.note(), HasSubstr("40 more fields are equal"));
    EXPECT_THAT(found.events, IsEmpty());
}

// What moves jumps to where it would have been: no scene does so.
TEST(RepeatedFields, AHeldPictureWithoutNoiseIsCountedByTheJumpAfterIt) {
    Planes kept;
    const FoundRepeats found = measure(panned(1, {}, 1.6), freeze(15, 35, kept));
    EXPECT_EQ(found.count(), 40);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].kind, "freeze");
    EXPECT_EQ(found.events[0].field, 30);
}

// A caption that was drawn, not played: exact, but without the noise that the rest of the clip has.
TEST(RepeatedFields, ADrawnTitleInANoisyClipIsNotAFreeze) {
    const FoundRepeats found = measure(still(36, 1.6), [](Planes& planes, int index) {
        if (index < 15 || index >= 30) return;
        for (std::size_t i = 0; i < planes.luma.size(); ++i)
            planes.luma[i] = i / 720 > 250 && i / 720 < 320 && i % 720 / 9 * (i / 720 / 7) % 4 == 0 ? 800 : 100;
    });
    EXPECT_EQ(found.count(), 0);
    EXPECT_THAT(found.figure.note(), HasSubstr("28 more fields are equal"));
}

// What a player puts in the place of frames that it has lost is no repeat of what was played.
TEST(RepeatedFields, FramesThatAPlayerDrewAreNoRepeats) {
    Recipe recipe = panned(1.3, 34, 1.4);
    recipe.player.black = {8, 2}, recipe.player.grey = {18, 3}, recipe.player.blue = {26, 2};
    EXPECT_EQ(measure(recipe).count(), 0);
    recipe.faults.repeated_fields = {46};
    EXPECT_EQ(measure(recipe).count(), 1) << "and others still are";
}

TEST(RepeatedFields, NothingToGoByGivesAReason) {
    EXPECT_THAT(measure(still({}, 0.4)).figure.reason(), HasSubstr("nothing moves"));
    EXPECT_THAT(measure(panned(1, 30, 0.04)).figure.reason(), HasSubstr("two frames"));
    Measuring none(support::luma_format());
    EXPECT_THAT(none.found().figure.reason(), HasSubstr("two frames"));
}

TEST(RepeatedFields, TinyPicturesDoNoHarm) {
    for (const auto& [width, height] : {std::pair{16, 16}, std::pair{17, 3}, std::pair{79, 40}}) {
        const auto format = support::luma_format(width, height, 8);
        Measuring measuring(format);
        std::mt19937 random(1);
        for (int index = 0; index < 20; ++index) {
            Planes planes;
            for (int i = 0; i < width * height; ++i) planes.luma.push_back(static_cast<std::uint16_t>(random() & 255U));
            measuring.see(support::make_frame(format, planes, index));
        }
        EXPECT_EQ(measuring.found().count(), 0);
    }
}

// FFmpeg's filters; the number follows from the pattern.

struct Source {
    std::string name, file, arguments;
    std::int64_t truth;
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class RepeatsOfFfmpeg : public testing::TestWithParam<Source> {};

TEST_P(RepeatsOfFfmpeg, AreAsManyAsThePatternMakes) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file(GetParam().file);
    support::ffmpeg(GetParam().arguments + " '" + path + "'");
    const auto clip = media::open_clip(path);
    Measuring measuring(clip->info().picture, clip->info().is_lossy);
    while (const auto frame = clip->next()) measuring.see(*frame);
    EXPECT_EQ(measuring.found().count(), GetParam().truth);
}

const std::string ffv1 = " -c:v ffv1 -level 3 -g 1";
const std::string film =
    "-f lavfi -i testsrc2=s=720x480:r=24000/1001:d=2,telecine=first_field=top:pattern=23,setfield=tff";  // 48 to 60
                                                                                                         // frames

INSTANTIATE_TEST_SUITE_P(
    Sources, RepeatsOfFfmpeg,
    testing::Values(
        Source{"2:3 pull-down", "a.mkv", film + ",format=yuv422p10" + ffv1, 24},
        Source{"2:3 pull-down, DV", "a.dv", film + ",format=yuv411p -c:v dvvideo", 24},
        Source{"2:3 pull-down, MPEG-2", "a.mpg",
               film + ",format=yuv420p -c:v mpeg2video -flags +ildct+ilme -top 1 -b:v 8M -g 15", 24},
        Source{
            "24 to 25 by field", "a.mkv",
            "-f lavfi -i "
            "testsrc2=s=720x576:r=24:d=4,format=yuv422p10,telecine=first_field=top:pattern=222222222223,setfield=tff" +
                ffv1,
            8},
        Source{
            "one frame in ten twice", "a.mkv",
            "-f lavfi -i \"testsrc2=s=720x576:r=25:d=2.4,format=yuv422p10,shuffleframes=0 1 2 3 4 5 6 7 8 8\"" + ffv1,
            12},
        Source{"none", "a.mkv",
               "-f lavfi -i testsrc2=s=720x576:r=50:d=2,format=yuv422p10,tinterlace=mode=interleave_top" + ffv1, 0},
        Source{"none, DV", "a.dv",
               "-f lavfi -i testsrc2=s=720x576:r=50:d=2,format=yuv420p,tinterlace=mode=interleave_bottom -c:v dvvideo",
               0},
        Source{"none, zoom under noise, MPEG-2", "a.mpg",
               "-f lavfi -i "
               "mandelbrot=s=720x576:r=25:maxiter=200:end_scale=0.003:end_pts=1500,noise=alls=12:allf=t,format=yuv420p "
               "-t 2 -c:v "
               "mpeg2video -b:v 4M -g 15",
               0},
        Source{"none, still under noise, MPEG-2", "a.mpg",
               "-f lavfi -i "
               "testsrc2=s=720x576:r=25:d=1,trim=end_frame=1,loop=loop=60:size=1,setpts=N/25/"
               "TB,noise=alls=12:allf=t,format=yuv420p "
               "-c:v mpeg2video -b:v 8M -maxrate 9M -bufsize 1835k -g 15",
               0}));

}  // namespace
}  // namespace guardband::measure
