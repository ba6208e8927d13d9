// Bands of noise, pictures that a player draws, lost and alternating colour, freezes, slips: on clips whose faults are
// known because they were made so.
#include <gmock/gmock.h>

#include <random>

#include "measure/clip/drawn_picture.h"
#include "measure/clip/noise_band.h"
#include "measure/clip/slips.h"
#include "measure/clip/whole_pass.h"
#include "support/clip_frames.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testsignal::Recipe;

Recipe damaged(std::optional<double> snr_db = 40) { return small_clip(1, snr_db, 2.6); }

const quantity::Event* find_event(const ClipReport& report, std::string_view kind) {
    for (const auto& event : report.events)
        if (event.kind == kind) return &event;
    return nullptr;
}

struct Band {
    double top, height, drift_per_s;
    std::optional<double> snr_db;
};

void PrintTo(const Band& b, std::ostream* out) { *out << b.height << " high, drift " << b.drift_per_s; }

class NoiseBands : public testing::TestWithParam<Band> {};

// Claim: the share within three of its own standard uncertainties, and its bias below a hundredth of the height.
TEST_P(NoiseBands, AreMeasured) {
    const Band& b = GetParam();
    Recipe recipe = damaged(b.snr_db);
    recipe.noise_band = testsignal::NoiseBandSettings{b.top, b.height, b.drift_per_s, 0.4, 1.6};
    const ClipReport report = measured(recipe);
    const auto& share = *report.figures.find("tracking_band");
    const double truth = b.height * 40 / 65;  // frames
    EXPECT_NEAR(*share.number(), truth, 3 * *share.uncertainty() + 0.005);
    EXPECT_THAT(events_of(report, "noise band"), ElementsAre("10+40"));
    const std::string what = find_event(report, "noise band")->what;
    EXPECT_THAT(what, HasSubstr(b.drift_per_s == 0 ? "stands" : b.drift_per_s > 0 ? "drifts down" : "drifts up"));
}

INSTANTIATE_TEST_SUITE_P(Table, NoiseBands,
                         testing::Values(Band{0.5, 0.11, 0, 40}, Band{0.3, 0.12, 0.3, 36}, Band{0.9, 0.2, -0.5, {}},
                                         Band{0.1, 0.4, 0.1, 30}, Band{0.7, 0.25, 0.9, 40}));

TEST(NoiseBand, OneBandCountsAsOneAndNoneAsNone) {
    Recipe recipe = damaged();
    EXPECT_EQ(*measured(recipe).figures.find("tracking_band_count")->number(), 0);
    recipe.noise_band = testsignal::NoiseBandSettings{0.4, 0.15, 0, 0.4, 1.2};
    EXPECT_EQ(*measured(recipe).figures.find("tracking_band_count")->number(), 1);
}

struct Crossings {
    int height_lines;  ///< of the frame
    int bands;
    double spacing, height, drift_per_s, other_head;
};

void PrintTo(const Crossings& c, std::ostream* out) { *out << c.bands << " bands, drift " << c.drift_per_s; }

class TrackCrossings : public testing::TestWithParam<Crossings> {};

// Claim: the number, the spacing within a row of cells, eight lines, the drift within 0.03 heights a second.
TEST_P(TrackCrossings, AreCountedAndFollowed) {
    const Crossings& c = GetParam();
    Recipe recipe = damaged(38);
    recipe.raster.height = c.height_lines;
    recipe.noise_band =
        testsignal::NoiseBandSettings{0.06, c.height, c.drift_per_s, 0.4, 1.6, c.bands, c.spacing, c.other_head, 0, 1};
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "track crossings"), ElementsAre("10+40"));
    EXPECT_THAT(events_of(report, "noise band"), IsEmpty());
    EXPECT_EQ(*report.figures.find("tracking_band_count")->number(), c.bands);
    const std::string& note = report.figures.find("tracking_band_count")->note();
    EXPECT_NEAR(std::atof(note.c_str()), c.spacing, 16.0 / c.height_lines) << note;
    const std::string what = find_event(report, "track crossings")->what;
    const auto at = what.find("heights/s");
    const double drift = at == std::string::npos ? 0 : std::atof(what.c_str() + at - 5);
    EXPECT_NEAR(drift, std::abs(c.drift_per_s), 0.03) << what;
    EXPECT_THAT(what, HasSubstr(c.drift_per_s == 0 ? "stand" : c.drift_per_s > 0 ? "drift down" : "drift up"));
    const auto& share = *report.figures.find("tracking_band");
    EXPECT_NEAR(*share.number(), c.bands * c.height * 40 / 65, 3 * *share.uncertainty() + 0.005);
}

INSTANTIATE_TEST_SUITE_P(Table, TrackCrossings,
                         testing::Values(Crossings{288, 2, 0.45, 0.2, 0, 0}, Crossings{288, 3, 0.3, 0.15, 0.1, 0.15},
                                         Crossings{576, 4, 0.23, 0.09, -0.05, 0.1},
                                         Crossings{576, 6, 0.15, 0.07, 0, 0.06}));

// Bands of heights and places that are no whole number of cells: no bias beyond a quarter of a cell.
TEST(NoiseBand, ItsShareHasNoBias) {
    double error_cells = 0;
    int cases = 0;
    for (const double height : {0.1, 0.15})
        for (const double top : {0.21, 0.43, 0.6}) {
            Recipe recipe = damaged(38);
            recipe.duration_s = 1.2;
            recipe.noise_band = testsignal::NoiseBandSettings{top, height, 0.2, 0.2, 0.8};
            const double share = *measured(recipe).figures.find("tracking_band")->number();
            error_cells += (share * 30 / 20 - height) * (recipe.raster.height / 16.0), ++cases;
        }
    EXPECT_NEAR(error_cells / cases, 0, 0.25);
}

// A servo that hunts: the band swings by a twelfth of the height.
TEST(NoiseBand, ASwingIsTold) {
    Recipe recipe = damaged(38);
    recipe.noise_band = testsignal::NoiseBandSettings{0.4, 0.15, 0, 0.2, 2.2, 1, 0.2, 0, 0.08, 1.6};
    const ClipReport report = measured(recipe);
    ASSERT_THAT(events_of(report, "noise band"), testing::SizeIs(1));
    EXPECT_THAT(find_event(report, "noise band")->what, HasSubstr("swings by 8 % 1.6 times a second"));
}

// Frames that a converter repeated before the tape, which then lost its track: the band goes on moving over them.
TEST(NoiseBand, HidesNoRepeat) {
    Recipe recipe = damaged();
    recipe.faults.repeated_frames = {20, 35}, recipe.faults.repeat_stage = testsignal::RepeatStage::BeforeNoise;
    recipe.noise_band = testsignal::NoiseBandSettings{0.2, 0.2, 0.3, 0.4, 2};
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "repeated"), ElementsAre("20+2", "35+2"));
    recipe.faults.repeated_frames.clear();
    EXPECT_THAT(events_of(measured(recipe), "repeated"), IsEmpty());
}

TEST(NoiseBand, NoiseAllOverIsALostPicture) {
    Recipe recipe = damaged();
    recipe.player.snow = {{20, 8}};
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "picture loss"), ElementsAre("20+8"));
    EXPECT_THAT(events_of(report, "noise band"), IsEmpty());
}

TEST(DrawnPicture, BlackGreyAndBlueAreTold) {
    Recipe recipe = damaged();
    recipe.player.black = {{10, 4}}, recipe.player.grey = {{25, 3}}, recipe.player.blue = {{40, 9}};
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "drawn picture"), ElementsAre("10+4", "25+3", "40+9"));
    // Their frames repeat one another, which is no fault of its own.
    EXPECT_THAT(events_of(report, "repeated"), IsEmpty());
    EXPECT_THAT(events_of(report, "freeze"), IsEmpty());
    EXPECT_THAT(find_event(report, "drawn picture")->what, HasSubstr("black"));
    EXPECT_EQ(find_event(report, "drawn picture")->severity, quantity::Severity::Fault);
}

// Light letters, as bars, on a plain blue ground without noise.
media::Frame title(const media::PictureFormat& format, std::int64_t index, int moved_px) {
    support::Planes planes;
    for (int i = 0; i < format.width * format.height; ++i) {
        const int y = i / format.width, x = i % format.width + moved_px;
        planes.luma.push_back(y >= 60 && y < 84 && x % 16 < 5 ? 200 : 41);
    }
    planes.cb.assign(planes.luma.size() / 2, 200), planes.cr.assign(planes.luma.size() / 2, 110);
    return support::make_frame(format, planes, index);
}

// A player's picture rests, but for a counter; titles crawl and roll over such a ground in what was drawn by others.
TEST(DrawnPicture, TitlesThatMoveAreThoseOfTheProgramme) {
    for (const int step_px : {0, 4}) {
        support::MadeContext made;
        made.info.picture = support::luma_format(360, 288, 8);
        made.info.picture.has_chroma = true, made.info.picture.chroma_shift_x = 1;
        DrawnPicture measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        for (int i = 0; i < 20; ++i) {
            const media::Frame frame = title(made.info.picture, i, i * step_px);
            measurement.see(frame, extractor.extract(frame));
        }
        quantity::Figures figures;
        std::vector<quantity::Event> events;
        measurement.finish(figures, events);
        EXPECT_EQ(events.size(), step_px == 0 ? 1U : 0U);
    }
}

TEST(ColourState, ALossWithinASceneIsTold) {
    Recipe recipe = damaged();
    recipe.player.colourless = {{20, 12}};
    EXPECT_THAT(events_of(measured(recipe), "colour lost"), ElementsAre("20+12"));
}

// A tape whose colour drops out goes on with noise in its place.
TEST(ColourState, NoiseIsNoColour) {
    Recipe recipe = damaged();
    recipe.noise.chroma_snr_db = 28;
    recipe.player.colourless = {{20, 12}};
    EXPECT_THAT(events_of(measured(recipe), "colour lost"), ElementsAre("20+12"));
}

TEST(ColourState, ColoursThatAlternateAreTold) {
    Recipe recipe = damaged();
    recipe.player.colour_alternates = {{20, 20}};  // frames 21, 23 … 39 have the wrong sign
    const ClipReport report = measured(recipe);
    // The first to come back is frame 22.
    EXPECT_THAT(events_of(report, "colour alternates"), ElementsAre("22+19"));
    EXPECT_THAT(find_event(report, "colour alternates")->what, HasSubstr("frame to frame"));
}

class AlternatingRows : public testing::TestWithParam<int> {};

// C_R turned round in every second field, and in every second line of each.
TEST_P(AlternatingRows, AreTold) {
    const int step = GetParam();
    const ClipReport report = measured(damaged(), [step](testsignal::ClipFrame& frame, int) {
        auto& cr = frame.planes[2];
        for (int y = 0; y < cr.height; ++y)
            if (y / step % 2 == 1)
                for (int x = 0; x < cr.width; ++x) cr.row(y)[x] = static_cast<std::uint16_t>(1024 - cr.row(y)[x]);
    });
    ASSERT_THAT(events_of(report, "colour alternates"), testing::SizeIs(1));
    EXPECT_THAT(find_event(report, "colour alternates")->what,
                HasSubstr(step == 1 ? "field to field" : "line to line"));
}

// Patches of colours that have nothing to do with one another.
TEST(ColourState, PatchesOfColoursDoNotAlternate) {
    const ClipReport report = measured(damaged(), [](testsignal::ClipFrame& frame, int) {
        std::mt19937 random(3);
        for (std::size_t plane : {1, 2})
            for (int y = 0; y < frame.planes[plane].height; ++y)
                for (int x = 0; x < frame.planes[plane].width; ++x) {
                    auto& sample = frame.planes[plane].row(y)[x];
                    sample = x % 16 == 0 ? static_cast<std::uint16_t>(350 + random() % 324) : *(&sample - 1);
                }
    });
    EXPECT_THAT(events_of(report, "colour alternates"), IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(Rows, AlternatingRows, testing::Values(1, 2));

TEST(Freeze, AHeldPictureThatJumpsOnIsTold) {
    Recipe recipe = damaged();
    for (std::int64_t frame = 30; frame < 42; ++frame) recipe.faults.repeated_frames.push_back(frame);
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "freeze"), ElementsAre("30+24"));  // fields
    EXPECT_THAT(events_of(report, "repeated"), IsEmpty());
}

TEST(Slips, ARepeatAndTheGapThatMakesUpForItAreOneEvent) {
    Recipe recipe = damaged();
    recipe.faults.repeated_frames = {20}, recipe.faults.missing_frames = {35};
    recipe.faults.stamps_keep_gap = false;
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "slip"), ElementsAre("35+1"));
    EXPECT_THAT(find_event(report, "slip")->what, HasSubstr("15 frames before"));
    EXPECT_THAT(events_of(report, "repeated"), IsEmpty());
    EXPECT_THAT(events_of(report, "missing"), IsEmpty());
}

TEST(Slips, AGapThatTheTimeStampsShowIsToldOnce) {
    support::MadeContext made;
    made.evidence.picture_gap_list = {{35, 1, 1.4}, {50, 1, 2.0}};
    Slips slips(made.context);
    std::vector<quantity::Event> events(1);
    events[0].kind = "stamp gap", events[0].frame = 35;
    quantity::Figures figures;
    slips.finish(figures, events);
    ASSERT_EQ(events.size(), 2U);
    EXPECT_EQ(events[1].kind, "missing");
    EXPECT_EQ(events[1].frame, 50);
}

TEST(Slips, AGapAloneIsMissing) {
    Recipe recipe = damaged();
    recipe.faults.missing_frames = {35}, recipe.faults.stamps_keep_gap = false;
    EXPECT_THAT(events_of(measured(recipe), "missing"), ElementsAre("35+1"));
}

// Where a tilt stands still for a frame, or leaves one out, the picture jumps: that is told once.
TEST(Slips, OfATiltAreNoJumps) {
    Recipe recipe = damaged();
    recipe.raster.width = 720, recipe.duration_s = 1.6;
    recipe.picture.motion_px = 3, recipe.picture.direction_deg = 90;
    recipe.faults.repeated_frames = {12}, recipe.faults.missing_frames = {30};
    const ClipReport report = measured(recipe);
    EXPECT_THAT(events_of(report, "repeated"), ElementsAre("12+2"));
    EXPECT_THAT(events_of(report, "vertical jump"), IsEmpty());
}

// Twice as far apart as those of a conversion from 30 frames a second to 25.
TEST(Slips, GapsThatComeEvenlyAreNoConversion) {
    Recipe recipe = damaged();
    recipe.picture.objects = false, recipe.picture.direction_deg = 0;
    recipe.faults.missing_frames = {10, 21, 32, 43, 54}, recipe.faults.stamps_keep_gap = false;
    const ClipReport report = measured(recipe);
    EXPECT_FALSE(report.figures.find("converted_from")->is_known());
    EXPECT_THAT(events_of(report, "missing"), ElementsAre("10+1", "20+1", "30+1", "40+1", "50+1"));
}

// FFmpeg's pictures, held and blacked out by FFmpeg: black from frame 25 on, frame 48 held for 15 more.
TEST(Damage, FfmpegsBlackAndHeldFramesAreTold) {
    GUARDBAND_NEEDS_FFMPEG();
    const ClipReport report = measured_of_ffmpeg(
        "-f lavfi -i \"testsrc2=s=400x288:r=25:d=3,noise=alls=6:allf=t,format=yuv422p10,"
        "drawbox=color=black:t=fill:enable='between(n\\,25\\,34)',loop=loop=15:size=1:start=49,setpts=N/25/TB\""
        " -c:v ffv1 -level 3 -g 1");
    EXPECT_THAT(events_of(report, "drawn picture"), ElementsAre("25+10"));
    EXPECT_THAT(events_of(report, "freeze"), ElementsAre("49+30"));  // as `framemd5` has it
}

TEST(Damage, TinyPicturesDoNoHarm) {
    for (const auto& [width, height] : {std::pair{16, 16}, std::pair{18, 20}, std::pair{80, 40}}) {
        Recipe recipe = damaged(30);
        recipe.raster.width = width, recipe.raster.height = height, recipe.duration_s = 1.4;
        recipe.picture.objects = false;
        const ClipReport report = measured(recipe);
        EXPECT_THAT(events_of(report, "noise band"), IsEmpty());
        EXPECT_FALSE(report.figures.find("converted_from")->is_known());
    }
}

}  // namespace
}  // namespace guardband::measure
