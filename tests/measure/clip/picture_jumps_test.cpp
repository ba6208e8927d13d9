// Missing frames by the pictures alone: clips from which frames were taken out, of which the numbers are known, and
// clips from which none were.
#include "measure/clip/picture_jumps.h"

#include <gmock/gmock.h>

#include <array>
#include <cmath>
#include <filesystem>
#include <functional>
#include <random>
#include <utility>

#include "media/clip.h"
#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::measure {

bool operator==(const PictureGap& a, const PictureGap& b) { return a.frame == b.frame && a.frames == b.frames; }
void PrintTo(const PictureGap& gap, std::ostream* out) { *out << gap.frames << " before frame " << gap.frame; }

namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testsignal::Recipe;

std::vector<PictureGap> gaps_in(const Recipe& recipe) {
    support::MadeContext made;
    support::MadeClip clip(recipe);
    FeatureExtractor extractor(clip.format());
    PictureJumps jumps(made.context);
    while (const auto frame = clip.next()) jumps.see(*frame, extractor.extract(*frame));
    return {jumps.gaps().begin(), jumps.gaps().end()};
}

std::vector<PictureGap> gaps_in(const std::string& path) {
    support::MadeContext made;
    const auto clip = media::open_clip(path);
    FeatureExtractor extractor(clip->info().picture);
    PictureJumps jumps(made.context);
    while (const auto frame = clip->next()) jumps.see(*frame, extractor.extract(*frame));
    return {jumps.gaps().begin(), jumps.gaps().end()};
}

Recipe moving(double motion_px, double direction_deg, std::optional<double> snr_db, double duration_s = 1.4) {
    Recipe recipe;
    recipe.duration_s = duration_s;
    recipe.picture.motion_px = motion_px, recipe.picture.direction_deg = direction_deg;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

struct Case {
    double px, direction_deg;
    std::optional<double> snr_db;
};

void PrintTo(const Case& c, std::ostream* out) {
    *out << c.px << " px, " << c.direction_deg << " deg, " << c.snr_db.value_or(0) << " dB";
}

class GapsIn : public testing::TestWithParam<Case> {};

TEST_P(GapsIn, SteadyMovementAreFoundToTheFrame) {
    Recipe recipe = moving(GetParam().px, GetParam().direction_deg, GetParam().snr_db);
    recipe.faults.missing_frames = {10, 22, 23};
    EXPECT_THAT(gaps_in(recipe), ElementsAre(PictureGap{10, 1}, PictureGap{21, 2}));
    recipe.faults.missing_frames.clear();
    EXPECT_THAT(gaps_in(recipe), IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(Table, GapsIn,
                         testing::Values(Case{0.5, 0, {}}, Case{0.5, 0, 30}, Case{1, 0, 30}, Case{3, 180, 30},
                                         Case{8, 0, 36}, Case{0.5, 30, 30}, Case{1, 90, 36}, Case{1, 30, 30},
                                         Case{3, 30, 30}));

TEST(PictureJumps, ProgressiveFramesLikewise) {
    Recipe recipe = moving(2, 0, 30);
    recipe.scan = testsignal::Scan::Progressive;
    recipe.faults.missing_frames = {12};
    EXPECT_THAT(gaps_in(recipe), ElementsAre(PictureGap{12, 1}));
}

TEST(PictureJumps, RepeatsThatAreMadeUpForAreNoGaps) {
    Recipe recipe = moving(2, 0, 30, 2);
    recipe.faults.repeated_fields = {21, 40, 70, 72};
    recipe.faults.repeated_frames = {15, 30, 31};
    EXPECT_THAT(gaps_in(recipe), IsEmpty());
}

TEST(PictureJumps, PullDownHasNoGaps) {
    Recipe recipe = moving(2, 0, 30, 2);
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30000, 1001);
    recipe.pulldown = {2, 3};
    EXPECT_THAT(gaps_in(recipe), IsEmpty());
}

class InventsNoGaps : public testing::TestWithParam<std::optional<double>> {};

TEST_P(InventsNoGaps, WhereMovementIsUnsteadyOrNone) {
    for (const auto& [motion_px, sway_px, period_s] :
         {std::tuple{0.0, 20.0, 1.0}, {0.0, 3.0, 0.4}, {1.5, 8.0, 0.5}, {1.0, 20.0, 2.0}}) {
        Recipe recipe = moving(motion_px, 0, GetParam(), 3);
        recipe.picture.sway_px = sway_px, recipe.picture.sway_period_s = period_s;
        EXPECT_THAT(gaps_in(recipe), IsEmpty()) << motion_px << ", sway " << sway_px;
    }
    Recipe still = moving(0, 0, GetParam());
    still.picture.still = true;
    EXPECT_THAT(gaps_in(still), IsEmpty());
}

TEST_P(InventsNoGaps, AtCuts) {
    Recipe recipe = moving(2, 0, GetParam(), 4);
    recipe.picture.cuts_s = {0.5, 1, 1.3, 2, 2.5, 3.3};
    EXPECT_THAT(gaps_in(recipe), IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(Noise, InventsNoGaps, testing::Values(std::nullopt, std::optional(30.0)));

// A blow to the camera: the picture leaps by a random amount and swings back within a few frames.
TEST(PictureJumps, BlowsToTheCameraAreNone) {
    std::mt19937 random(8);
    std::uniform_int_distribution<int> leap(-12, 12);
    support::MadeContext made;
    support::MadeClip clip(moving(1, 0, 36, 6));
    FeatureExtractor extractor(clip.format());
    PictureJumps jumps(made.context);
    int offset = 0, index = 0;
    while (auto planes = clip.next_planes()) {
        if (index % 15 == 8) offset = leap(random);
        for (std::size_t y = 0; y < 576; ++y) {
            const auto row = planes->luma.begin() + static_cast<std::ptrdiff_t>(720 * y);
            std::rotate(row, row + (offset + 720) % 720, row + 720);
        }
        offset = -offset / 2;
        const auto frame = support::make_frame(clip.format(), *planes, index++);
        jumps.see(frame, extractor.extract(frame));
    }
    EXPECT_THAT(jumps.gaps(), IsEmpty());
}

/// Soft blots, a row of them longer than the picture; 8 bits.
class Blots {
public:
    explicit Blots(unsigned seed) {
        std::mt19937 random(seed);
        for (auto& blot : blots_) blot = static_cast<float>(30 + random() % 190);
    }
    float at(double x, int y) const {
        const double place = x / size;
        const auto left = static_cast<std::size_t>(place), row = static_cast<std::size_t>(y / 16) * across;
        const auto part = static_cast<float>(place - std::floor(place));
        return (1 - part) * blots_[row + left] + part * blots_[row + left + 1];
    }

private:
    static constexpr int size = 9;
    static constexpr std::size_t across = 120;
    std::array<float, across * 36> blots_{};
};

/// What is found in 22 frames of which each sample is known, with a little noise.
std::vector<PictureGap> gaps_in_drawn(const std::function<float(int index, int x, int y)>& sample_of) {
    constexpr int width = 720, height = 576;
    const auto format = support::luma_format(width, height, 8);
    support::MadeContext made;
    FeatureExtractor extractor(format);
    PictureJumps jumps(made.context);
    std::mt19937 noise(2);
    for (int index = 0; index < 22; ++index) {
        support::Planes planes;
        planes.luma.resize(std::size_t{width} * height);
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < width; ++x)
                planes.luma[static_cast<std::size_t>(width * y + x)] =
                    static_cast<std::uint16_t>(std::lround(sample_of(index, x, y)) + static_cast<long>(noise() % 3));
        const auto frame = support::make_frame(format, planes, index);
        jumps.see(frame, extractor.extract(frame));
    }
    return {jumps.gaps().begin(), jumps.gaps().end()};
}

bool is_left_third(int x, int) { return x < 240; }

/// What a part of the picture shows leaps at a frame by twice its usual step.
/// @param rest_of  picture and place of the rest, by frame
std::vector<PictureGap> gaps_beside_a_leap(const std::function<std::pair<const Blots*, double>(int)>& rest_of,
                                           bool (*leaps)(int x, int y) = is_left_third) {
    constexpr int leap = 12;
    const Blots left(1);
    return gaps_in_drawn([&](int index, int x, int y) {
        if (leaps(x, y)) return left.at(x + 2 * (index + (index >= leap ? 1 : 0)), y);
        const auto [rest, place] = rest_of(index);
        return rest->at(x + place, y);
    });
}

// All of it leaps, so that what the next tests show is theirs.
TEST(PictureJumps, ALeapOfAllIsAGap) {
    const Blots rest(3);
    const auto gaps =
        gaps_beside_a_leap([&](int index) { return std::pair(&rest, 3.0 * (index + (index >= 12 ? 1 : 0))); });
    EXPECT_THAT(gaps, ElementsAre(PictureGap{12, 1, 0}));
}

// A camera in a hand, whose steps differ too much for a straight line, goes on.
TEST(PictureJumps, ALeapBesideUnsteadyMovementThatGoesOnIsNone) {
    const Blots rest(3);
    EXPECT_THAT(
        gaps_beside_a_leap([&](int index) { return std::pair(&rest, 3.3 * index + (index % 2 == 0 ? 0.0 : 0.6)); }),
        IsEmpty());
}

// Whole samples, three in two frames, beside what steps by one and then once by two.
TEST(PictureJumps, AnUnevenStepBesideOthersIsNone) {
    const Blots rest(3);
    EXPECT_THAT(gaps_beside_a_leap([&](int index) { return std::pair(&rest, std::floor(1.5 * index)); }), IsEmpty());
}

// What is drawn in whole samples goes by two in one frame instead of by one: in the two fields not in the same.
TEST(PictureJumps, AStepInOneFieldAloneIsNone) {
    const Blots blots(1);
    const auto leaping = [&blots](int frames_later) {
        return gaps_in_drawn([&blots, frames_later](int index, int x, int y) {
            return blots.at(x + 2 * (index + (index >= 12 + y % 2 * frames_later ? 1 : 0)), y);
        });
    };
    EXPECT_THAT(leaping(0), ElementsAre(PictureGap{12, 1}));
    EXPECT_THAT(leaping(1), IsEmpty());
}

// A cut to another picture that moves on likewise; what leaps fits by chance.
TEST(PictureJumps, ALeapAtACutIsNone) {
    const Blots rest(3), other(4);
    EXPECT_THAT(gaps_beside_a_leap([&](int index) { return std::pair(index < 12 ? &rest : &other, 3.0 * index); }),
                IsEmpty());
}

// A line of titles that goes on before a scene that leaps.
TEST(PictureJumps, ALeapBehindTitlesThatGoOnIsNone) {
    const Blots titles(3);
    EXPECT_THAT(gaps_beside_a_leap([&](int index) { return std::pair(&titles, 3.0 * index); },
                                   [](int, int y) { return y < 480; }),
                IsEmpty());
}

TEST(PictureJumps, TinyPicturesDoNoHarm) {
    support::MadeContext made;
    for (const auto& [width, height] : {std::pair{1, 2}, std::pair{40, 30}, std::pair{200, 100}}) {
        const auto format = support::luma_format(width, height, 8);
        FeatureExtractor extractor(format);
        PictureJumps jumps(made.context);
        std::mt19937 random(1);
        for (int index = 0; index < 20; ++index) {
            support::Planes planes;
            for (int i = 0; i < width * height; ++i) planes.luma.push_back(static_cast<std::uint16_t>(random() & 255U));
            const auto frame = support::make_frame(format, planes, index);
            jumps.see(frame, extractor.extract(frame));
        }
        EXPECT_THAT(jumps.gaps(), IsEmpty());
    }
}

// FFmpeg zooms into a fractal, and drops one frame in ten; the stamps close up.
TEST(PictureJumps, FramesThatFfmpegDropsAreFound) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file("zoom.mkv");
    support::ffmpeg(
        "-f lavfi -i "
        "\"mandelbrot=s=720x576:r=50:maxiter=200:end_scale=0.003:end_pts=1500,noise=alls=6:allf=t,format=gray,"
        "tinterlace=mode=interleave_top,select=not(eq(mod(n\\,10)\\,5)),setpts=N/25/TB,format=gray\" -frames:v 40 -c:v "
        "ffv1 '" +
        path + "'");
    EXPECT_THAT(gaps_in(path), ElementsAre(PictureGap{5, 1}, PictureGap{14, 1}, PictureGap{23, 1}, PictureGap{32, 1}));
}

// Photographs (package forensics-samples-files, CC-BY-SA-4.0), panned by three samples per frame, one frame in twenty
// dropped.
TEST(PictureJumps, FramesThatFfmpegDropsFromAPannedPhotographAreFound) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string samples = "/usr/share/forensics-samples/original-files/";
    if (!std::filesystem::exists(samples))
        GTEST_SKIP() << "the package forensics-samples-files is not installed, whose pictures this test uses";
    const support::TemporaryFolder folder;
    const std::string path = folder.file("panned.mkv");
    for (const std::string photograph : {"pic1/IMG_1054.JPG", "pic2/IMG_20191224_234846.jpg"}) {
        support::ffmpeg(
            "-r 25 -i " + samples + photograph +
            " -vf \"scale=1440:-2,format=gray,loop=loop=60:size=1,crop=720:576:x=3*n:y=40:exact=1,noise=c0s=14:c0f=t,"
            "select=not(eq(mod(n\\,20)\\,10)),setpts=N/25/TB,format=gray\" -c:v ffv1 '" +
            path + "'");
        EXPECT_THAT(gaps_in(path), ElementsAre(PictureGap{10, 1}, PictureGap{29, 1}, PictureGap{48, 1})) << photograph;
    }
    EXPECT_THAT(gaps_in(samples + "movie1/VID_20191220_170832.mp4"), IsEmpty());  // hand-held, nothing dropped
}

}  // namespace
}  // namespace guardband::measure
