// `cadence` and `converted_from` on clips that were pulled down or converted so, by the test signal and by FFmpeg's own
// filters (telecine, fps, framerate, minterpolate), which share nothing with us. What must not be named so is in
// clean_clips_test.cpp.
#include "measure/clip/cadence.h"

#include <gmock/gmock.h>

#include <cmath>
#include <functional>
#include <random>

#include "measure/clip/whole_pass.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;
using testsignal::ConversionMethod;
using testsignal::Recipe;

double converted_from_hz(const ClipReport& report) {
    return report.figures.find("converted_from")->number().value_or(0);
}

void be_american(Recipe& recipe) {
    recipe.raster.height = recipe.raster.height * 5 / 6;
    recipe.raster.frame_rate = quantity::Rational(30000, 1001);
}

struct Case {
    bool to_50;
    ConversionMethod method;
    bool whole_frames;
    double motion_px;
    std::optional<double> snr_db;
    double direction_deg = 20;
    testsignal::FieldOrder order = testsignal::FieldOrder::TopFirst;
};

void PrintTo(const Case& c, std::ostream* out) {
    *out << c.motion_px << " px, " << (c.to_50 ? "60 to 50" : "50 to 60")
         << (c.method == ConversionMethod::Blend ? " mixed, " : " stepped, ")
         << (c.whole_frames ? "frames, " : "fields, ") << c.snr_db.value_or(0) << " dB";
}

class Conversions : public testing::TestWithParam<Case> {};

TEST_P(Conversions, AreNamed) {
    const Case& c = GetParam();
    Recipe recipe = small_clip(c.motion_px, c.snr_db, 2.6);
    // At half of the width a pan of 8 samples a field is out of sight too soon.
    if (c.motion_px >= 8 || c.whole_frames) recipe.raster.width = 720, recipe.raster.height = 576;
    recipe.picture.direction_deg = c.direction_deg;
    recipe.field_order = c.order;
    if (!c.to_50) be_american(recipe);
    recipe.conversion.emplace();
    recipe.conversion->from_field_rate = c.to_50 ? quantity::Rational(60000, 1001) : quantity::Rational(50, 1);
    recipe.conversion->method = c.method, recipe.conversion->whole_frames = c.whole_frames;
    const ClipReport report = measured(recipe);
    EXPECT_NEAR(converted_from_hz(report), c.to_50 ? 60000.0 / 1001 : 50, 1e-6);
    EXPECT_EQ(text_of(report, "cadence"), "none");
    if (c.method == ConversionMethod::Blend)
        EXPECT_THAT(report.figures.find("converted_from")->note(),
                    HasSubstr(c.whole_frames ? "each frame mixes" : "each field mixes"));
    else
        EXPECT_THAT(report.figures.find("converted_from")->note(), HasSubstr(c.to_50 ? "every sixth" : "every fifth"));
    // What belongs to the conversion is no fault.
    EXPECT_THAT(events_of(report, "repeated"), IsEmpty());
    EXPECT_THAT(events_of(report, "missing"), IsEmpty());
}

constexpr auto blend = ConversionMethod::Blend, steps = ConversionMethod::Repeat;
constexpr auto bottom = testsignal::FieldOrder::BottomFirst;

INSTANTIATE_TEST_SUITE_P(Table, Conversions,
                         testing::Values(Case{true, steps, false, 0.5, 30}, Case{false, steps, false, 0.5, 30},
                                         Case{true, blend, false, 1, 36}, Case{false, blend, false, 1, 36, 20, bottom},
                                         Case{true, steps, false, 2, 30, 90},
                                         Case{false, steps, false, 2, 30, 90, bottom},
                                         Case{true, blend, false, 2, 30, 90, bottom},
                                         Case{false, blend, false, 2, 30, 90}, Case{true, steps, false, 8, 40},
                                         Case{true, blend, true, 2, 30}, Case{false, steps, true, 2, 36},
                                         // A pan along the lines, whose fields might lie beside each other instead.
                                         Case{true, steps, false, 2, 36, 0}, Case{true, steps, true, 2, 36, 15}));

struct Film {
    std::vector<int> pulldown;
    bool american;
    std::string cadence;
};

void PrintTo(const Film& f, std::ostream* out) { *out << f.cadence; }

class Films : public testing::TestWithParam<Film> {};

TEST_P(Films, AreNamedByTheFieldsOfTheirPictures) {
    Recipe recipe = small_clip(2, 32, 2.6);
    if (GetParam().american) be_american(recipe);
    recipe.pulldown = GetParam().pulldown;
    recipe.faults.repeat_stage = testsignal::RepeatStage::BeforeNoise;
    const ClipReport report = measured(recipe);
    EXPECT_EQ(text_of(report, "cadence"), GetParam().cadence);
    EXPECT_FALSE(report.figures.find("converted_from")->is_known());
    EXPECT_THAT(events_of(report, "repeated"), IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(Table, Films,
                         testing::Values(Film{{2, 3}, true, "2:3"}, Film{{2, 3, 3, 2}, true, "2:3:3:2"},
                                         Film{{2, 2, 2, 4}, true, "2:2:2:4"}, Film{{2, 2, 3, 2, 3}, true, "2:2:3:2:3"},
                                         Film{{2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 3}, false, "2:2:2:2:2:2:2:2:2:2:2:3"},
                                         Film{{2}, false, "2:2"}, Film{{4}, false, "4:4"}));

TEST(Cadence, OneEventStandsForAllRepeatsOfAPattern) {
    Recipe recipe = small_clip(2, 32, 2.6);
    be_american(recipe);
    recipe.pulldown = {2, 3};
    const ClipReport report = measured(recipe);
    ASSERT_THAT(events_of(report, "cadence"), SizeIs(1));
    EXPECT_THAT(report.figures.find("repeated_fields")->note(), HasSubstr("by design"));
}

TEST(Cadence, FramesAtTheRateOfFieldsAreNoFilm) {
    Recipe recipe = small_clip(2, 36, 1.4);
    recipe.scan = testsignal::Scan::Progressive;
    EXPECT_EQ(text_of(measured(recipe), "cadence"), "2:2");
    recipe.raster.frame_rate = quantity::Rational(50, 1);
    EXPECT_EQ(text_of(measured(recipe), "cadence"), "none");
    recipe.raster.frame_rate = quantity::Rational(24, 1);
    EXPECT_EQ(text_of(measured(recipe), "cadence"), "not known");
}

TEST(Cadence, SaysWhenTooLittleMoves) {
    Recipe recipe = small_clip(0, 36, 1.5);
    recipe.picture.still = true;
    const ClipReport report = measured(recipe);
    EXPECT_THAT(report.figures.find("cadence")->reason(), HasSubstr("too little"));
    EXPECT_THAT(report.figures.find("converted_from")->reason(), HasSubstr("too little"));
}

/// Letters, some of them with more above than below, on grey.
double letters(double x, double y) {
    const auto column = static_cast<unsigned>(x / 10), row = static_cast<unsigned>(std::floor(y / 26) + 100);
    const double up = y - 26 * std::floor(y / 26);
    const unsigned bits = (column * 2654435761U ^ row * 2246822519U) * 3266489917U >> 20;
    if (up > 18) return 0;
    return (bits >> static_cast<unsigned>(up / 3)) % 2 == 1 ? 1 : 0;
}

/// Letters that roll up. @param place_of  in lines, by field in time
ClipReport rolled(const std::function<double(int)>& place_of) {
    std::mt19937 noise(3);
    return measured(small_clip(0, 40, 2.6), [&](testsignal::ClipFrame& frame, int index) {
        for (int y = 0; y < 288; ++y)
            for (int x = 0; x < 400; ++x)
                frame.planes[0].samples[static_cast<std::size_t>(400 * y + x)] = static_cast<std::uint16_t>(
                    200 + 500 * letters(x, y + place_of(2 * index + y % 2)) + static_cast<double>(noise() % 12));
    });
}

// A picture that moves on with every second field, that of the lower lines.
TEST(Cadence, PicturesThatLieAcrossFramesAreNamed) {
    const ClipReport report = rolled([](int field) { return 3 * ((field + 1) / 2); });
    EXPECT_EQ(text_of(report, "cadence"), "2:2");
    EXPECT_THAT(report.figures.find("cadence")->note(), HasSubstr("follow one another"));
}

// Each field is a moment of its own, however the lines of the letters suit the step from one to the next.
TEST(Cadence, TitlesThatRollHaveNone) {
    EXPECT_EQ(text_of(rolled([](int field) { return 2.0 * field; }), "cadence"), "none");
}

// FFmpeg's filters on FFmpeg's pictures.

struct Source {
    std::string name, source, filter, cadence;
    double from_hz;
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class PatternsOfFfmpeg : public testing::TestWithParam<Source> {};

TEST_P(PatternsOfFfmpeg, AreNamed) {
    GUARDBAND_NEEDS_FFMPEG();
    const Source& s = GetParam();
    const ClipReport report = measured_of_ffmpeg("-f lavfi -i \"" + s.source + ",format=yuv422p10,trim=duration=2.6," +
                                                 s.filter + "\" -c:v ffv1 -level 3 -g 1");
    EXPECT_EQ(text_of(report, "cadence"), s.cadence);
    EXPECT_NEAR(converted_from_hz(report), s.from_hz, 1e-6);
}

const std::string weave = ",tinterlace=mode=interleave_top,setfield=tff";
const std::string linear = "interp_start=0:interp_end=255:scene=100";

INSTANTIATE_TEST_SUITE_P(
    Sources, PatternsOfFfmpeg,
    testing::Values(
        Source{"framerate, 60 to 50", "testsrc2=s=400x288:r=60000/1001", "framerate=fps=50:" + linear + weave, "none",
               60000.0 / 1001},
        Source{"framerate, 50 to 60", "testsrc2=s=400x240:r=50", "framerate=fps=60000/1001:" + linear + weave, "none",
               50},
        Source{"minterpolate, 60 to 50", "testsrc2=s=400x288:r=60000/1001", "minterpolate=fps=50:mi_mode=blend" + weave,
               "none", 60000.0 / 1001},
        Source{"fps, 60 to 50", "testsrc2=s=400x288:r=60000/1001", "fps=50" + weave, "none", 60000.0 / 1001},
        Source{"fps, 50 to 60", "testsrc2=s=400x240:r=50", "fps=60000/1001" + weave, "none", 50},
        Source{"fps of frames, 25 to 30", "testsrc2=s=400x240:r=25", "fps=30000/1001,setfield=tff", "2:2", 50},
        Source{"fps of frames, 30 to 25", "testsrc2=s=720x576:r=30000/1001", "fps=25,setfield=tff", "2:2",
               60000.0 / 1001},
        Source{"telecine 2:3", "testsrc2=s=400x240:r=24000/1001", "telecine=first_field=top:pattern=23,setfield=tff",
               "2:3", 0},
        Source{"telecine 2:3:3:2", "testsrc2=s=400x240:r=24000/1001",
               "telecine=first_field=top:pattern=2332,setfield=tff", "2:3:3:2", 0},
        Source{"telecine 25 to 30", "testsrc2=s=400x240:r=25", "telecine=first_field=top:pattern=22323,setfield=tff",
               "2:2:3:2:3", 0},
        Source{"telecine 24 to 25", "testsrc2=s=400x288:r=24",
               "telecine=first_field=top:pattern=222222222223,setfield=tff", "2:2:2:2:2:2:2:2:2:2:2:3", 0},
        Source{"2:2 across frames", "testsrc2=s=400x288:r=25",
               "setfield=tff,separatefields,select='gte(n\\,1)',weave=first_field=bottom,setfield=bff,setpts=N/25/"
               "TB,fps=25",
               "2:2", 0}));

}  // namespace
}  // namespace guardband::measure
