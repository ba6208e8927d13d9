// `repeated_fields` on clips whose repeats are known because they were made so (bias and scatter of a count: none
// missed, none invented), and on FFmpeg's pull-down and repeated frames, whose number follows from the pattern.
#include "measure/clip/repeated_fields.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>
#include <random>

#include "media/clip.h"
#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/made_context.h"

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

struct Found {
    quantity::Figure figure = quantity::Figure::unknown("");
    std::vector<quantity::Event> events;

    std::int64_t count() const { return figure.is_known() ? std::get<std::int64_t>(figure.value()) : -1; }
    /// Fields that the events name; right where each event is one field or a run without holes.
    std::vector<std::int64_t> fields() const {
        std::vector<std::int64_t> all;
        for (const auto& event : events)
            for (std::int64_t i = 0; i < *event.count; ++i) all.push_back(*event.field + i);
        return all;
    }
};

class Measuring {
public:
    explicit Measuring(const media::PictureFormat& format, bool is_lossy = false)
        : extractor_(format), repeated_(context_of(made_, is_lossy)) {}

    void see(const media::Frame& frame) { repeated_.see(frame, extractor_.extract(frame)); }
    Found found(InterlaceEvidence::Order order = InterlaceEvidence::Order::TopFirst) {
        made_.evidence.order_value = order;
        quantity::Figures figures;
        Found result;
        repeated_.finish(figures, result.events);
        result.figure = *figures.find("repeated_fields");
        return result;
    }

private:
    static const ClipContext& context_of(support::MadeContext& made, bool is_lossy) {
        made.info.is_lossy = is_lossy;
        return made.context;
    }

    support::MadeContext made_;
    FeatureExtractor extractor_;
    RepeatedFields repeated_;
};

using Edit = std::function<void(Planes& planes, int index)>;

Found measure(const Recipe& recipe, const Edit& edit = {}) {
    MadeClip clip(recipe);
    Measuring measuring(clip.format());
    int index = 0;
    while (auto planes = clip.next_planes()) {
        if (edit) edit(*planes, index);
        measuring.see(support::make_frame(clip.format(), *planes, index++));
    }
    return measuring.found(recipe.field_order == testsignal::FieldOrder::TopFirst
                               ? InterlaceEvidence::Order::TopFirst
                               : InterlaceEvidence::Order::BottomFirst);
}

Recipe panned(double motion_px, std::optional<double> snr_db, double duration_s = 1.2) {
    Recipe recipe;
    recipe.duration_s = duration_s;
    recipe.picture.motion_px = motion_px;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

Recipe still(std::optional<double> snr_db, double duration_s = 1.2) {
    Recipe recipe = panned(0, snr_db, duration_s);
    recipe.picture.still = true;
    return recipe;
}

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
    const Found found = measure(recipe);
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

// A crowd before a camera that pans by 1.2 samples a field, read in whole samples: steps of 2 and 3 between fields of a
// parity, which change it by 1 to 1.8.
TEST(RepeatedFields, UnevenStepsOfEvenTextureAreNone) {
    const auto mixed = [](unsigned a, unsigned b) {
        return ((a * 2654435761U) ^ (b * 2246822519U)) * 3266489917U >> 9;
    };
    std::minstd_rand noise(3);
    const Found found = measure(still({}, 1), [&](Planes& planes, int index) {
        for (int y = 0; y < 576; ++y)
            for (int x = 0; x < 720; ++x) {
                const auto place = static_cast<unsigned>(x + (2 * index + y % 2) * 6 / 5), cell = place / 4;
                const auto row = static_cast<unsigned>(y / 4);
                const unsigned a = mixed(cell, row) % 500, b = mixed(cell + 1, row) % 500;
                planes.luma[static_cast<std::size_t>(720 * y + x)] =
                    static_cast<std::uint16_t>(200 + (a * (4 - place % 4) + b * (place % 4)) / 4 + noise() % 60);
            }
    });
    EXPECT_THAT(found.fields(), IsEmpty());
}

TEST(RepeatedFields, PullDownOnTapeHasTwoInFiveFrames) {
    Recipe recipe = panned(2, 30, 2);
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30000, 1001);
    recipe.pulldown = {2, 3};
    recipe.faults.repeat_stage = RepeatStage::BeforeNoise;
    MadeClip clip(recipe);
    Measuring measuring(clip.format());
    while (const auto frame = clip.next()) measuring.see(*frame);
    const Found found = measuring.found();
    EXPECT_THAT(found.fields(), ElementsAreArray(clip.truth().repeated_fields));
    EXPECT_THAT(found.figure.note(), HasSubstr("2:3 pull-down"));
}

TEST(RepeatedFields, UnevenRepeatsAreNoPullDown) {
    Recipe recipe = panned(2, 30, 2);
    recipe.faults.repeated_fields = {10, 15, 21, 30, 36, 41, 52, 59, 64, 70};
    const Found found = measure(recipe);
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
    const Found found = measure(recipe, [&](Planes& planes, int index) {
        if (index % 2 == 0) kept = planes;
        planes = kept;
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::clamp(std::lround(code + noise(random)), 0L, 1023L));
    });
    // Of 30 frames the odd ones repeat. Frame 1 is the first that can be compared, so it has no neighbour that moves.
    EXPECT_EQ(found.count(), 28) << testing::PrintToString(found.fields());
}

// What must not be taken for repeats.

class InventsNone : public testing::TestWithParam<std::optional<double>> {};

TEST_P(InventsNone, OnCleanClips) {
    for (const double motion_px : {0.02, 0.2, 1.0, 5.0})
        EXPECT_EQ(measure(panned(motion_px, GetParam())).count(), 0) << motion_px;
    EXPECT_LE(measure(still(GetParam())).count(), 0);  // without noise: no count
}

TEST_P(InventsNone, WhereMotionTurnsRound) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        for (const double sway_px : {2.0, 6.0, 20.0}) {
            Recipe recipe = panned(0, GetParam(), 2);
            recipe.scan = scan;
            recipe.picture.sway_px = sway_px,
            recipe.picture.sway_period_s = 0.8;  // turns five times, between frames and on them
            EXPECT_EQ(measure(recipe).count(), 0) << sway_px;
        }
}

// A crawl that makes a shorter step now and then, as one that is counted in whole samples does.
TEST_P(InventsNone, WhereMotionSlowsDown) {
    int place = 0;
    const Edit crawl = [&place](Planes& planes, int index) {
        place += index % 9 == 5 ? 1 : 8;
        for (std::size_t y = 440; y < 500; ++y)
            for (std::size_t x = 0; x < 720; ++x)
                planes.luma[y * 720 + x] = (x + static_cast<std::size_t>(place)) / 11 * (y / 12) % 3 == 0 ? 900 : 100;
    };
    EXPECT_LE(measure(still(GetParam()), crawl).count(), 0);
}

TEST_P(InventsNone, InFades) {
    const Edit fade = [](Planes& planes, int index) {
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::lround(64 + (code - 64) * (1 - index / 40.0)));
    };
    const Edit slow_fade = [](Planes& planes, int index) {
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::lround(64 + (code - 64) * (1 - index / 900.0)));
    };
    EXPECT_EQ(measure(panned(1, GetParam()), fade).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), fade).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), slow_fade).count(), 0);
}

TEST_P(InventsNone, OnTitlesCutsAndFlashes) {
    const Edit titles = [](Planes& planes, int index) {
        if (index / 6 % 2 == 1)
            for (std::size_t y = 400; y < 480; ++y)
                for (std::size_t x = 100; x < 600; ++x)
                    if (x / 7 * (y / 9) % 3 == 0) planes.luma[y * 720 + x] = 900;
    };
    const Edit flashes = [](Planes& planes, int index) {
        if (index % 10 == 7 || index % 10 == 8)
            for (auto& code : planes.luma) code = static_cast<std::uint16_t>(std::min(1019, code + 200));
    };
    EXPECT_EQ(measure(still(GetParam()), titles).count(), 0);
    EXPECT_EQ(measure(panned(1, GetParam()), titles).count(), 0);
    EXPECT_EQ(measure(still(GetParam()), flashes).count(), 0);
    Recipe cuts = panned(1, GetParam());
    cuts.picture.cuts_s = {0.2, 0.4, 0.6, 0.8, 1.0};
    EXPECT_EQ(measure(cuts).count(), 0);
}

// A 50 Hz tube before a 30 Hz camera: its brightness comes back every third frame, and every third change is none.
TEST_P(InventsNone, BeforeAPictureTube) {
    Recipe recipe = still(GetParam());
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30, 1);
    recipe.screen = testsignal::ScreenSettings{};
    recipe.screen->rate_hz = 50, recipe.screen->depth = 0.2;
    recipe.camera.exposure_ms = 4;
    EXPECT_LE(measure(recipe).count(), 0);
}

// A small object that rests for a field while another goes on.
TEST_P(InventsNone, WhileSomethingElseMoves) {
    MadeClip resting(panned(2, GetParam())), going(panned(3, GetParam()));
    Planes kept;
    const Edit compose = [&](Planes& planes, int index) {
        auto a = *resting.next_planes();
        const auto b = *going.next_planes();
        if (index % 7 != 3) kept = a;
        for (std::size_t y = 100; y < 200; ++y)
            for (std::size_t x = 100; x < 300; ++x) {
                planes.luma[y * 720 + x] = kept.luma[y * 720 + x];
                planes.luma[(y + 200) * 720 + x] = b.luma[(y + 200) * 720 + x];
            }
    };
    EXPECT_EQ(measure(still(GetParam()), compose).count(), 0);
}

INSTANTIATE_TEST_SUITE_P(Noise, InventsNone, testing::Values(std::nullopt, std::optional(30.0)));

/// Even numbers from 0 to 1, the same at the same place.
double even_at(double column, double row) {
    const auto a = static_cast<std::uint32_t>(column), b = static_cast<std::uint32_t>(row);
    return (((a * 2654435761U) ^ (b * 2246822519U)) * 3266489917U >> 8) / 16777216.0;
}

/// Soft blots, five samples from one to the next, on areas of 60 samples of which some are full of contrast and others
/// nearly flat. Codes of 10 bits.
double blots(double x, double y) {
    const double i = std::floor(x / 5), j = std::floor(y / 5), u = x / 5 - i, v = y / 5 - j;
    const double blot = (1 - v) * ((1 - u) * even_at(i, j) + u * even_at(i + 1, j)) +
                        v * ((1 - u) * even_at(i, j + 1) + u * even_at(i + 1, j + 1));
    return 250 + 500 * std::pow(even_at(std::floor(x / 60), 1000 + std::floor(y / 60)), 3) * blot;
}

// A camera that is shaken by dozens of lines comes back to the same height after two fields, half a sample aside. From
// its large steps no one can tell that it slowed down: all is as different as it can be.
TEST(RepeatedFields, AShakingCameraThatTurnsRoundRepeatsNothing) {
    std::mt19937 random(5);
    std::normal_distribution<double> noise(0, 876 * std::pow(10, -48 / 20.0));
    const Edit shake = [&](Planes& planes, int index) {
        for (int y = 0; y < 576; ++y) {
            const int field = 2 * index + y % 2;
            const double right = 100 + field / 4.0, down = 100 + 30 * std::sin(field * std::numbers::pi / 4);
            for (int x = 0; x < 720; ++x)
                planes.luma[static_cast<std::size_t>(y * 720 + x)] =
                    static_cast<std::uint16_t>(std::lround(blots(x + right, y + down) + noise(random)));
        }
    };
    EXPECT_EQ(measure(still(36, 0.6), shake).count(), 0);
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
    const Found found = measure(still(36, 1.6), freeze(15, 35, kept));
    EXPECT_EQ(found.count(), 40);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].field, 30);
    EXPECT_EQ(found.events[0].count, 40);
}

TEST(RepeatedFields, AStillStretchWithoutNoiseIsNotCountedAndTheNoteSaysSo) {
    // What moves stops at frame 14 and goes on from there 20 frames later.
    std::vector<Planes> run;
    const Found found = measure(panned(1, {}, 1.6), [&run](Planes& planes, int index) {
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
    const Found found = measure(panned(1, {}, 1.6), freeze(15, 35, kept));
    EXPECT_EQ(found.count(), 40);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].kind, "freeze");
    EXPECT_EQ(found.events[0].field, 30);
}

// A caption that was drawn, not played: exact, but without the noise that the rest of the clip has.
TEST(RepeatedFields, ADrawnTitleInANoisyClipIsNotAFreeze) {
    const Found found = measure(still(36, 1.6), [](Planes& planes, int index) {
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
