// Noise of clips to which noise of a known level was added: textured pictures with and without motion, over the range
// claimed. An independent look: clips that FFmpeg makes and whose noise its `psnr` filter measures.
#include "measure/clip/picture_noise.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <regex>
#include <sstream>

#include "measure/clip/noise_fit.h"
#include "measure/pass.h"
#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "support/measured_figures.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using quantity::Figures;
using testing::HasSubstr;
using testing::Not;
using testsignal::Recipe;

media::PictureFormat format_of(const Recipe& r) {
    auto format = support::luma_format(r.raster.width, r.raster.height, r.bit_depth);
    format.has_chroma = true, format.chroma_shift_x = 1;
    return format;
}

/// Changes the samples of a frame on the way to the measurement.
using Processor = std::function<void(support::Planes&)>;

Figures measured(const Recipe& recipe, const Processor& processor = {}) {
    testsignal::ClipMaker maker(recipe);
    support::MadeContext made;
    made.info.picture = format_of(recipe);
    PictureNoise measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    testsignal::ClipFrame next;
    while (maker.next(next)) {
        support::Planes planes{next.planes[0].samples, next.planes[1].samples, next.planes[2].samples};
        if (processor) processor(planes);
        const auto frame = support::make_frame(made.info.picture, planes, next.index);
        measurement.see(frame, extractor.extract(frame));
    }
    Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return figures;
}

struct Motion {
    const char* name;
    double px, direction_deg;
    bool objects;
};

constexpr Motion motions[] = {{"across", 1.3, 0, true},
                              {"textureAcross", 1.15, 0, false},
                              {"down", 0.7, 90, true},
                              {"aslant", 2.2, 30, true},
                              {"none", 0, 0, true}};

Recipe scene(double snr_db, int bit_depth, const Motion& motion, std::uint64_t seed) {
    Recipe r;
    r.duration_s = 0.36;
    r.bit_depth = bit_depth, r.seed = seed;
    r.noise.snr_db = snr_db, r.noise.chroma_snr_db = snr_db - 2;
    r.picture.motion_px = motion.px, r.picture.direction_deg = motion.direction_deg;
    r.picture.objects = motion.objects, r.picture.still = motion.px == 0;
    if (seed % 2 == 0) {
        r.raster.height = 486, r.raster.frame_rate = {30000, 1001};
        r.field_order = testsignal::FieldOrder::BottomFirst;
    }
    return r;
}

/// Level, depth.
using Coding = std::pair<double, int>;
class NoiseOverRange : public testing::TestWithParam<std::tuple<Coding, Motion>> {};

// The claim: within 0.7 dB from 28 to 48 dB; bias and scatter both.
TEST_P(NoiseOverRange, IsRight) {
    const auto& [coding, motion] = GetParam();
    const auto [snr_db, bit_depth] = coding;
    double luma_sum = 0, luma_squares = 0;
    constexpr int repetitions = 2;
    for (std::uint64_t seed = 1; seed <= repetitions; ++seed) {
        const Figures figures = measured(scene(snr_db, bit_depth, motion, seed));
        const auto *luma = figures.find("luma_snr"), *chroma = figures.find("chroma_snr");
        ASSERT_TRUE(luma->is_known()) << luma->reason();
        ASSERT_TRUE(chroma->is_known()) << chroma->reason();
        const double error = *luma->number() - snr_db;
        EXPECT_LE(std::abs(error), 0.7);
        EXPECT_LE(std::abs(*chroma->number() - (snr_db - 2)), 0.7);
        EXPECT_LE(*luma->uncertainty(), 0.5);
        luma_sum += error, luma_squares += error * error;
    }
    const double bias = luma_sum / repetitions;
    EXPECT_LE(std::abs(bias), 0.7);
    EXPECT_LE(std::sqrt(std::max(0.0, luma_squares / repetitions - bias * bias)), 0.3);
}

std::string name_of(const testing::TestParamInfo<std::tuple<Coding, Motion>>& one) {
    const auto& [coding, motion] = one.param;
    return "db" + std::to_string(static_cast<int>(coding.first)) + "bit" + std::to_string(coding.second) + motion.name;
}

INSTANTIATE_TEST_SUITE_P(Grid, NoiseOverRange,
                         testing::Combine(testing::Values(Coding(28, 8), Coding(38, 10), Coding(48, 10), Coding(48, 8)),
                                          testing::ValuesIn(motions)),
                         name_of);

TEST(PictureNoise, TellsNoiseFromLinesThatJitter) {
    Recipe r = scene(38, 10, motions[0], 5);
    r.time_base.emplace().random_ns = 60;
    r.blanking.emplace();
    EXPECT_NEAR(*measured(r).find("luma_snr")->number(), 38, 0.7);
}

TEST(PictureNoise, ExactRepeatsSayNothing) {
    Recipe r = scene(40, 10, motions[0], 6);
    r.duration_s = 0.8;
    r.faults.repeated_frames = {3, 4, 5, 8, 9, 10, 13, 14};
    EXPECT_NEAR(*measured(r).find("luma_snr")->number(), 40, 0.7);
}

// Frames that a player drew differ from those before and after by all that these show.
TEST(PictureNoise, FramesThatAPlayerDrewSayNothing) {
    testsignal::Recipe recipe = support::recipe_of("525/60", 8, 1.6, 8);
    recipe.picture.motion_px = 1.3, recipe.picture.direction_deg = 15;
    recipe.noise.snr_db = 34;
    recipe.player.black = {20, 2}, recipe.player.grey = {30, 2}, recipe.player.blue = {40, 2};
    const Figures figures = measured(recipe);
    ASSERT_TRUE(figures.find("luma_snr")->is_known()) << figures.find("luma_snr")->reason();
    EXPECT_NEAR(*figures.find("luma_snr")->number(), 34, 0.7);
}

TEST(PictureNoise, NoNoiseIsNoNumber) {
    for (const bool still : {true, false}) {
        Recipe r = scene(40, 10, motions[0], 7);
        r.noise = {};
        r.picture.still = still;
        const Figures figures = measured(r);
        EXPECT_FALSE(figures.find("luma_snr")->is_known()) << *figures.find("luma_snr")->number();
        EXPECT_FALSE(figures.find("chroma_snr")->is_known());
    }
}

/// Each frame keeps a share of the one before, as a processor against noise does.
Processor smear(double share) {
    return [share, held = support::Planes{}](support::Planes& planes) mutable {
        if (!held.luma.empty())
            for (std::size_t i = 0; i < planes.luma.size(); ++i)
                planes.luma[i] = static_cast<std::uint16_t>(
                    std::lround(share * held.luma[i] + (1 - share) * static_cast<double>(planes.luma[i])));
        held.luma = planes.luma;
    };
}

// What is left of the noise: white noise that each frame mixes in with (1 - share) has (1 - share)² / (1 - share²) of
// its power left, and as much of it in common with the frame before as the share.
TEST(PictureNoise, NoiseSmearedInTimeIsNoNumber) {
    Recipe r = scene(36, 10, motions[4], 8);
    r.duration_s = 0.8;
    for (const double share : {0.15, 0.4, 0.7}) {
        const Figures figures = measured(r, smear(share));
        ASSERT_FALSE(figures.find("luma_snr")->is_known()) << *figures.find("luma_snr")->number();
        const std::string reason = figures.find("luma_snr")->reason();
        EXPECT_THAT(reason, HasSubstr("smeared the noise in time"));
        EXPECT_THAT(figures.find("chroma_snr")->reason(), HasSubstr("smeared"));
        std::smatch found;
        ASSERT_TRUE(std::regex_search(reason, found, std::regex(R"((\d+) % that .* about (\d+) dB)"))) << reason;
        EXPECT_NEAR(std::stod(found[1]), 100 * share, 6);
        EXPECT_NEAR(std::stod(found[2]), 36 + 10 * std::log10((1 + share) / (1 - share)), 1);
    }
}

// Film on fields repeats pictures, which is no smearing.
TEST(PictureNoise, FilmIsNotSmeared) {
    Recipe r = scene(38, 10, motions[0], 2);
    r.duration_s = 1.2, r.pulldown = {2, 3};
    EXPECT_NEAR(measured(r).find("luma_snr")->number().value_or(0), 38, 0.7);
}

/// The mean of each line and the next of the frame.
void soften(support::Planes& planes) {
    for (std::size_t i = 0; i + 720 < planes.luma.size(); ++i)
        planes.luma[i] = static_cast<std::uint16_t>((planes.luma[i] + planes.luma[i + 720] + 1) / 2);
}

// FFmpeg's fractal, which moves down by an eighth of a line a field: that changes more over two frames than over one.
TEST(PictureNoise, SlowMotionDownIsNotSmeared) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("tilt.mkv");
    support::ffmpeg(
        "-f lavfi -i \"mandelbrot=s=1600x1200:r=50:maxiter=200:start_scale=0.02,trim=end_frame=1,loop=loop=80:size=1,"
        "setpts=N/50/TB,format=yuv422p,crop=800:576:100:200+floor(n/2):exact=1,scale=400:288:flags=area,"
        "noise=alls=5:allf=t+u,tinterlace=mode=interleave_top,setfield=tff\" -frames:v 40 -c:v ffv1 '" +
        clip + "'");
    const auto found = support::measure_file<PictureNoise>(clip);
    EXPECT_TRUE(found["luma_snr"].is_known()) << found["luma_snr"].reason();
}

TEST(PictureNoise, SaysHowAlikeLinesAre) {
    Recipe r = scene(34, 10, motions[4], 9);
    r.duration_s = 0.6;
    EXPECT_THAT(measured(r).find("luma_snr")->note(), Not(HasSubstr("in common")));
    const std::string note = measured(r, soften).find("luma_snr")->note();
    std::smatch found;
    ASSERT_TRUE(std::regex_search(note, found, std::regex(R"(lines have (\d+) % of it in common)"))) << note;
    EXPECT_NEAR(std::stod(found[1]), 50, 5);
}

TEST(PictureNoise, SaysInWhichPartOfTheBandItLies) {
    Recipe r = scene(34, 10, motions[4], 9);
    // Noise of the lower half alone: the mean of two neighbours, twice over, leaves 3/8 of the power.
    const Processor smooth = [](support::Planes& planes) {
        for (std::size_t i = planes.luma.size() - 1; i >= 2; --i)
            planes.luma[i] =
                static_cast<std::uint16_t>((planes.luma[i] + 2 * planes.luma[i - 1] + planes.luma[i - 2] + 2) / 4);
    };
    const Figures figures = measured(r, smooth);
    EXPECT_NEAR(*figures.find("luma_snr")->number(), 34 - 10 * std::log10(3.0 / 8), 0.7);
    std::smatch quarters;
    const std::string note = figures.find("luma_snr")->note();
    ASSERT_TRUE(std::regex_search(note, quarters, std::regex(R"((\d+), (\d+), (\d+) and (\d+) %)"))) << note;
    // cos⁴ over each quarter: 0.55, 0.34, 0.10 and 0.01 of the whole.
    EXPECT_NEAR(std::stod(quarters[1]), 60, 6);
    EXPECT_NEAR(std::stod(quarters[2]), 34, 6);
    EXPECT_NEAR(std::stod(quarters[3]), 6, 5);
    EXPECT_NEAR(std::stod(quarters[4]), 0, 1);
}

TEST(PictureNoise, SaysWhyNot) {
    for (const auto& [width, height, frames] :
         {std::tuple(720, 576, 1), std::tuple(64, 48, 4), std::tuple(720, 576, 0)}) {
        support::MadeContext made;
        made.info.picture = support::luma_format(width, height);
        PictureNoise measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        support::Planes grey;
        grey.luma.assign(static_cast<std::size_t>(width) * static_cast<std::size_t>(height), 400);
        for (int i = 0; i < frames; ++i) {
            const auto frame = support::make_frame(made.info.picture, grey, i);
            measurement.see(frame, extractor.extract(frame));
        }
        Figures figures;
        std::vector<quantity::Event> events;
        measurement.finish(figures, events);
        for (const char* id : {"luma_snr", "chroma_snr"}) {
            EXPECT_FALSE(figures.find(id)->is_known());
            EXPECT_FALSE(figures.find(id)->reason().empty());
        }
    }
}

TEST(NoiseFit, LeavesOutWhatWasNotFollowedAndWhatDetailAdds) {
    testsignal::Random random(3);
    std::vector<NoisePoint> points;
    for (int i = 0; i < 400; ++i) {
        const double detail = 200 * random.uniform();
        double variance = (4 + 0.02 * detail) * (1 + 0.12 * random.gaussian());
        if (i % 4 == 0) variance += 5 * detail * random.uniform();
        points.push_back({static_cast<float>(variance), static_cast<float>(detail)});
    }
    const auto fit = fit_noise(points);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->variance, 4, 0.4);
    points.resize(5);
    EXPECT_FALSE(fit_noise(points));
}

// FFmpeg adds the noise and measures it: PSNR against the clip without, which is about 255 codes, not 219.
TEST(PictureNoise, AgreesWithWhatFfmpegAddsAndMeasures) {
    if (!support::has_ffmpeg()) GTEST_SKIP() << "the ffmpeg command is not installed";
    const support::TemporaryFolder folder;
    const auto table = table::load_table();
    const std::string source = "testsrc2=s=720x576:r=25:d=0.8,format=yuv422p,lutyuv=y=60+(val-16)*0.6";
    for (const int strength : {8, 24}) {
        const std::string clip = folder.file("noisy.mkv"), log = folder.file("psnr.log");
        const std::string noise = ",noise=c0s=" + std::to_string(strength) + ":c0f=t:c1s=6:c1f=t:c2s=6:c2f=t";
        support::ffmpeg("-f lavfi -i '" + source + noise + "' -c:v ffv1 " + clip);
        support::ffmpeg("-i " + clip + " -f lavfi -i '" + source + "' -lavfi psnr=f=" + log + " -f null -");
        std::ifstream lines(log);
        double squares = 0, frames = 0;
        for (std::string line; std::getline(lines, line); ++frames) {
            std::smatch found;
            ASSERT_TRUE(std::regex_search(line, found, std::regex(R"(mse_y:([0-9.]+))"))) << line;
            squares += std::stod(found[1]);
        }
        ASSERT_GT(frames, 15);
        const auto reader = media::open_clip(clip);
        const ClipReport report = measure_clip(*reader, table);
        const auto* figure = report.figures.find("luma_snr");
        ASSERT_TRUE(figure->is_known()) << figure->reason();
        EXPECT_NEAR(*figure->number(), 10 * std::log10(219.0 * 219.0 / (squares / frames)), 0.7) << strength;
    }
}

struct Filter {
    std::string name, filter;
    bool smears, smooths;
    int noise = 12;
};

void PrintTo(const Filter& f, std::ostream* out) { *out << f.name; }

class NoiseAfterFfmpeg : public testing::TestWithParam<Filter> {};

// Filters against noise that FFmpeg has, on noise that it made.
TEST_P(NoiseAfterFfmpeg, SaysWhatWasDone) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("filtered.mov");
    support::ffmpeg(
        "-f lavfi -i \"testsrc2=s=720x576:r=25:d=1.2,format=yuv422p10,lutyuv=y=240+(val-64)*0.6,"
        "noise=allf=t:alls=" +
        std::to_string(GetParam().noise) + "," + GetParam().filter + "\" -c:v v210 '" + clip + "'");
    const auto reader = media::open_clip(clip);
    support::MadeContext made;
    made.info = reader->info();
    PictureNoise measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    while (const auto frame = reader->next()) measurement.see(*frame, extractor.extract(*frame));
    Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    const auto* luma = figures.find("luma_snr");
    EXPECT_EQ(luma->is_known(), !GetParam().smears) << luma->note();
    if (GetParam().smears) {
        EXPECT_THAT(luma->reason(), HasSubstr("smeared the noise in time"));
    } else {
        EXPECT_EQ(luma->note().find("smoothed down") != std::string::npos, GetParam().smooths) << luma->note();
    }
}

// DV throws noise away: the figure is the file's, and where nothing is left no processor is blamed.
TEST(PictureNoise, SaysThatACodecTookNoiseAway) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("lossy.dv");
    for (const int noise : {24, 1}) {
        support::ffmpeg(
            "-y -f lavfi -i "
            "\"testsrc2=s=720x576:r=25:d=0.6,format=yuv420p,lutyuv=y=60+(val-16)*0.6,noise=allf=t:alls=" +
            std::to_string(noise) + "\" -c:v dvvideo '" + clip + "'");
        const auto found = support::measure_file<PictureNoise>(clip);
        for (const char* id : {"luma_snr", "chroma_snr"})
            EXPECT_THAT(found[id].is_known() ? found[id].note() : found[id].reason(), HasSubstr("file"))
                << id << ' ' << noise;
        EXPECT_EQ(found["luma_snr"].is_known(), noise == 24);
    }
}

const std::string kernel = "0 0 0 1 2 1 0 0 0";

INSTANTIATE_TEST_SUITE_P(
    Filters, NoiseAfterFfmpeg,
    testing::Values(Filter{"recursive, weak", "hqdn3d=0:0:4:4", true, false, 6},
                    Filter{"recursive", "hqdn3d=0:0:6:6", true, false},
                    Filter{"recursive and smooth", "hqdn3d", true, false},
                    Filter{"means of two", "tmix=2", true, false}, Filter{"means of three", "tmix=3", true, false},
                    Filter{"blurred", "gblur=0.7", false, true},
                    Filter{"blurred along the lines",
                           "convolution='" + kernel + ":" + kernel + ":" + kernel + ":" + kernel + "'", false, false},
                    Filter{"none", "null", false, false}));

}  // namespace
}  // namespace guardband::measure
