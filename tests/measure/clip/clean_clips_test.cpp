// Material of all kinds on which nothing may be named that is not there: no conversion, no film, no dropout, no band of
// noise, no lost picture or colour, no freeze; no figure outside its limit and no event.
#include <gmock/gmock.h>

#include <random>

#include "judge/judge.h"
#include "measure/clip/whole_pass.h"

namespace guardband::measure {
namespace {

using testing::AnyOf;
using testsignal::ClipFrame;
using testsignal::Recipe;
using Edit = support::MadeReader::Edit;

constexpr const char* alarms[] = {
    "noise band", "picture loss", "drawn picture", "colour lost",     "colour alternates", "freeze",       "repeated",
    "missing",    "slip",         "cadence",       "track crossings", "vertical roll",     "vertical jump"};

void expect_clean(const ClipReport& report) {
    EXPECT_THAT(text_of(report, "cadence"), AnyOf("none", "not known"));
    EXPECT_FALSE(report.figures.find("converted_from")->is_known()) << report.figures.find("converted_from")->note();
    for (const char* id : {"scaled_from_width", "scaled_from_height"})
        EXPECT_FALSE(report.figures.find(id)->is_known()) << id << ": " << report.figures.find(id)->note();
    EXPECT_EQ(report.figures.find("tracking_band")->number().value_or(0), 0);
    for (const char* alarm : alarms)
        for (const auto& event : report.events)
            EXPECT_NE(event.kind, alarm) << "frame " << event.frame.value_or(-1) << ": " << event.what;
}

constexpr double duration_s = 2.6;  // two windows of 30 frames and what they need before
constexpr int count = 65;           // frames

/// Blends each sample towards a code. @param share  0 leaves it
void fade(ClipFrame& frame, double share, double luma_code) {
    for (std::size_t plane = 0; plane < 3; ++plane)
        for (auto& sample : frame.planes[plane].samples) {
            const double target = plane == 0 ? luma_code : 512;
            sample = static_cast<std::uint16_t>(std::lround(sample + share * (target - sample)));
        }
}

void flatten(ClipFrame& frame, std::uint16_t luma_code) {
    std::ranges::fill(frame.planes[0].samples, luma_code);
    for (std::size_t plane : {1, 2}) std::ranges::fill(frame.planes[plane].samples, std::uint16_t{512});
}

/// Bright streaks, new in each field, that fall slanting over the picture.
void rain(ClipFrame& frame, int index) {
    auto& luma = frame.planes[0];
    for (int field = 0; field < 2; ++field) {
        std::mt19937 random(static_cast<unsigned>(2 * index + field));
        for (int streak = 0; streak < 300; ++streak) {
            const int x0 = static_cast<int>(random() % 390), y0 = static_cast<int>(random() % 260);
            for (int y = y0 + (y0 + field) % 2; y < y0 + 24; y += 2) {
                auto& sample = luma.row(y)[x0 + (y - y0) / 4];
                sample = static_cast<std::uint16_t>(std::min(940, sample + 220));
            }
        }
    }
}

/// The scene seen from its other side, which is another picture.
void mirror(ClipFrame& frame) {
    for (auto& plane : frame.planes)
        for (int y = 0; y < plane.height; ++y) std::reverse(plane.row(y), plane.row(y) + plane.width);
}

unsigned mixed(unsigned a, unsigned b, unsigned c) {
    unsigned h = a * 0x9e3779b1U ^ b * 0x85ebca6bU ^ c * 0xc2b2ae35U;
    h ^= h >> 15U, h *= 0x2c1b3c6dU, h ^= h >> 12U, h *= 0x297a2d39U;
    return h ^ h >> 15U;
}

/// Patches of 3 × 3 samples, anywhere, over the whole width. @param moving  a crowd that a camera pans over; else they
/// glitter
void crowd(ClipFrame& frame, int index, bool moving) {
    auto& luma = frame.planes[0];
    for (int y = 60; y < 180; ++y)
        for (int x = 0; x < luma.width; ++x) {
            const auto field = static_cast<unsigned>(2 * index + y % 2);
            const unsigned column =
                (moving ? static_cast<unsigned>(x) + 4000 - 3 * field : static_cast<unsigned>(x)) / 3;
            const unsigned patch = (static_cast<unsigned>(y) + mixed(column, 1, 1) % 3) / 3;
            // A camera's noise is in each sample, or else lines of a patch would be true copies.
            const unsigned noise = mixed(static_cast<unsigned>(x), static_cast<unsigned>(y), field + 7) % 24;
            luma.row(y)[x] = static_cast<std::uint16_t>(200 + mixed(column, patch, moving ? 0 : field) % 500 + noise);
        }
}

/// Cells as small as they can be, alive or dead, of which six in ten are drawn anew from frame to frame.
void cells(ClipFrame& frame, int index) {
    auto& luma = frame.planes[0];
    for (int y = 60; y < 200; ++y)
        for (int x = 0; x < luma.width; ++x) {
            const auto place = static_cast<unsigned>(y * luma.width + x);
            int born = index;
            while (born > 0 && mixed(place, static_cast<unsigned>(born), 3) % 100 >= 95) --born;
            luma.row(y)[x] = mixed(place, static_cast<unsigned>(born), 5) % 2 == 0 ? 300 : 800;
        }
}

/// As fine as samples are, past which a camera sweeps.
void gravel(ClipFrame& frame, int index) {
    auto& luma = frame.planes[0];
    for (int y = 60; y < 200; ++y)
        for (int x = 0; x < luma.width; ++x)
            luma.row(y)[x] = static_cast<std::uint16_t>(
                300 + mixed(static_cast<unsigned>(x + 23 * index), static_cast<unsigned>(y), 5) % 500);
}

Recipe plain(double motion_px, std::optional<double> snr_db) { return small_clip(motion_px, snr_db, duration_s); }

Recipe still_picture(std::optional<double> snr_db) {
    Recipe recipe = plain(0, snr_db);
    recipe.picture.still = true;
    return recipe;
}

template <typename Change>
Recipe with(Recipe recipe, const Change& change) {
    change(recipe);
    return recipe;
}

void be_american(Recipe& r) { r.raster.height = 240, r.raster.frame_rate = quantity::Rational(30000, 1001); }

struct Clip {
    std::string name;
    Recipe recipe;
    Edit edit = {};
    std::vector<std::string> faults = {};  ///< figures that are rightly outside their limits
};

void PrintTo(const Clip& c, std::ostream* out) { *out << c.name; }

// What is rightly outside its limit: noise that the ends of the range cut, and light that flickers.
const std::vector<std::string> cut_by_noise{"clipped_black", "clipped_white"}, flickering{"flicker_depth"},
    of_a_raw_tape{"dropouts_per_minute", "time_base_error_rms", "line_jitter_rms", "flagging"};

class CleanClips : public testing::TestWithParam<Clip> {};

std::vector<std::string> outside(ClipReport& report) {
    judge::judge(report.figures, built_in(), {});
    std::vector<std::string> ids;
    for (const auto& [id, figure] : report.figures.all())
        if (figure.verdict() == quantity::Verdict::Outside) ids.push_back(id);
    return ids;
}

TEST_P(CleanClips, RaiseNoAlarm) {
    ClipReport report = measured(GetParam().recipe, GetParam().edit);
    expect_clean(report);
    EXPECT_THAT(outside(report), testing::UnorderedElementsAreArray(GetParam().faults));
    if (GetParam().faults == of_a_raw_tape) return;
    for (const quantity::Event& event : report.events)
        ADD_FAILURE() << event.kind << " in frame " << event.frame.value_or(-1) << ": " << event.what;
}

INSTANTIATE_TEST_SUITE_P(
    Content, CleanClips,
    testing::Values(Clip{"a slow pan without noise", plain(0.3, {})}, Clip{"a pan", plain(2, 40)},
                    Clip{"a noisy pan", with(plain(1, 26), be_american), {}, cut_by_noise},
                    Clip{"up and down", with(plain(3, 36), [](Recipe& r) { r.picture.direction_deg = 90; })},
                    Clip{"sport: fast, to and fro, cuts", with(plain(9, 38),
                                                               [](Recipe& r) {
                                                                   r.picture.sway_px = 40,
                                                                   r.picture.sway_period_s = 0.7;
                                                                   r.picture.cuts_s = {0.5, 1.1, 1.3, 2.1};
                                                               })},
                    Clip{
                        "a shaking hand",
                        with(plain(0.5, 40), [](Recipe& r) { r.picture.sway_px = 4, r.picture.sway_period_s = 0.12; })},
                    Clip{"a still picture", still_picture(40)},
                    Clip{"a still picture, very noisy", still_picture(22), {}, cut_by_noise},
                    Clip{"a still picture without noise", still_picture({})},
                    Clip{"cuts", with(plain(1, 40),
                                      [](Recipe& r) {
                                          r.picture.cuts_s = {0.3, 0.7, 0.9, 1.6, 2.2};
                                      })},
                    Clip{"a fade to black and up again", plain(1, 40),
                         [](ClipFrame& f, int i) { fade(f, std::clamp(1 - std::abs(i - 32) / 20.0, 0.0, 1.0), 64); }},
                    Clip{"a cut to black, then another scene", plain(1, 40),
                         [](ClipFrame& f, int i) {
                             if (i >= 20 && i < 35) flatten(f, 64);
                             if (i >= 35) mirror(f);
                         }},
                    Clip{"flashes", plain(1, 40),
                         [](ClipFrame& f, int i) {
                             if (i % 5 == 3) fade(f, 0.8, 940);
                         },
                         flickering},
                    Clip{"titles", still_picture(40),
                         [](ClipFrame& f, int i) {
                             if (i / 10 % 2 == 1)
                                 for (int y = 200; y < 250; ++y)
                                     for (int x = 40; x < 360; ++x)
                                         if (x / 5 * (y / 8) % 3 == 0) f.planes[0].row(y)[x] = 920;
                         }},
                    Clip{"cells", still_picture(40), cells}, Clip{"gravel", still_picture(40), gravel},
                    Clip{"rain", plain(0.5, 40), rain},
                    Clip{"a crowd in a pan", plain(3, 40), [](ClipFrame& f, int i) { crowd(f, i, true); }},
                    Clip{"glittering water", still_picture(40), [](ClipFrame& f, int i) { crowd(f, i, false); }},
                    Clip{"a screen of 60 Hz before a camera of 50",
                         with(plain(1, 40),
                              [](Recipe& r) {
                                  r.screen = testsignal::ScreenSettings{};
                                  r.screen->rate_hz = 60000.0 / 1001, r.screen->depth = 0.2;
                              }),
                         {},
                         flickering},
                    Clip{"a screen of 50 Hz before a camera of 60",
                         with(plain(1, 40),
                              [](Recipe& r) {
                                  be_american(r);
                                  r.screen = testsignal::ScreenSettings{};
                                  r.screen->rate_hz = 50, r.screen->depth = 0.2;
                              }),
                         {},
                         flickering},
                    Clip{"a lamp on 50 Hz mains before a camera of 60",
                         with(plain(1, 40),
                              [](Recipe& r) {
                                  be_american(r);
                                  r.lamp = testsignal::LampSettings{};
                                  r.lamp->depth = 0.1, r.camera.exposure_ms = 4;
                              }),
                         {},
                         flickering},
                    Clip{"a raw tape",
                         with(plain(1, 34),
                              [](Recipe& r) {
                                  r.blanking.emplace();
                                  auto& base = r.time_base.emplace();
                                  base.random_ns = 150, base.flagging_ns = 4000, base.vertical_rms_lines = 0.3;
                                  base.head_switch_line = 6, base.head_switch_steps_ns = {2000, -1000};
                                  r.dropouts.emplace().per_minute = 600;
                              }),
                         {},
                         of_a_raw_tape},
                    Clip{"colour comes and goes with cuts", plain(1, 40), [](ClipFrame& f, int i) {
                             if (i < 25 || i >= 45) return;
                             mirror(f);
                             for (std::size_t plane : {1, 2})
                                 std::ranges::fill(f.planes[plane].samples, std::uint16_t{512});
                         }}));

// Block codecs spend bits by groups of pictures, which come round every third, sixth or twelfth picture.

class CleanClipsOfFfmpeg : public testing::TestWithParam<std::array<std::string, 3>> {};

TEST_P(CleanClipsOfFfmpeg, RaiseNoAlarm) {
    GUARDBAND_NEEDS_FFMPEG();
    const auto& [name, file, arguments] = GetParam();
    ClipReport report = measured_of_ffmpeg("-f lavfi -i \"" + arguments, file);
    expect_clean(report);
    EXPECT_THAT(outside(report), testing::Not(testing::Contains("black_level")))
        << report.figures.find("black_level")->note();
}

const std::string zoom = "mandelbrot=maxiter=200:end_scale=0.003:end_pts=1500:";

INSTANTIATE_TEST_SUITE_P(
    Codecs, CleanClipsOfFfmpeg,
    testing::Values(
        std::array<std::string, 3>{
            "MPEG-2, 60 Hz", "a.mpg",
            zoom + "s=400x240:r=60000/"
                   "1001,noise=alls=8:allf=t,format=yuv420p,trim=duration=2.6,tinterlace=mode=interleave_top,"
                   "setfield=tff\" -c:v mpeg2video -flags +ildct+ilme -top 1 -b:v 3M -g 12 -bf 2"},
        std::array<std::string, 3>{
            "MPEG-2, 50 Hz, pattern", "a.mpg",
            "testsrc2=s=400x288:r=50,format=yuv420p,trim=duration=2.6,tinterlace=mode=interleave_top,"
            "setfield=tff\" -c:v mpeg2video -flags +ildct+ilme -top 1 -b:v 3M -g 12 -bf 2"},
        std::array<std::string, 3>{"DV", "a.dv",
                                   "testsrc2=s=720x480:r=60000/1001,format=yuv411p,trim=start=1.2:duration=2.3,setpts="
                                   "PTS-STARTPTS,tinterlace=mode=interleave_bottom,setfield=bff\" -c:v dvvideo"}));

}  // namespace
}  // namespace guardband::measure
