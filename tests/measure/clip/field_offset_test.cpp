// `scan` and `field_order` of clips whose fields lie beside each other. Bias and scatter: that the figures are right
// over the whole table, and that they are not guessed where the pictures don't tell.
#include "measure/clip/field_offset.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <tuple>

#include "measure/clip/interlace.h"
#include "measure/clip/whole_pass.h"
#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

using testsignal::FieldOrder;
using testsignal::Recipe;

struct Found {
    std::string scan, order, reason, note;
};

/// Moves the rows of the bottom field to the right, by linear interpolation.
void move_bottom_field(support::Planes& planes, double px) {
    const double whole = std::floor(-px), share = -px - whole;
    for (std::size_t y = 1; y < planes.luma.size() / 720; y += 2) {
        const auto begin = planes.luma.begin() + static_cast<std::ptrdiff_t>(720 * y);
        const std::vector<std::uint16_t> row(begin, begin + 720);
        const auto at = [&row](int i) { return row[static_cast<std::size_t>(std::clamp(i, 0, 719))]; };
        for (int x = 0; x < 720; ++x) {
            const int from = x + static_cast<int>(whole);
            begin[x] = static_cast<std::uint16_t>(std::lround(at(from) * (1 - share) + at(from + 1) * share));
        }
    }
}

/// What is drawn over a frame's luma.
using Drawing = std::function<void(std::vector<std::uint16_t>& luma, int index)>;

Found measure(const Recipe& recipe, double offset_px = 0, const Drawing& draw = {}) {
    support::MadeContext made;
    support::MadeClip clip(recipe);
    FeatureExtractor extractor(clip.format());
    Interlace interlace(made.context);
    int index = 0;
    while (auto planes = clip.next_planes()) {
        if (draw) draw(planes->luma, index);
        if (offset_px != 0) move_bottom_field(*planes, offset_px);
        const auto frame = support::make_frame(clip.format(), *planes, index++);
        interlace.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    interlace.finish(figures, events);
    const auto text = [&](const char* id) {
        const auto& figure = *figures.find(id);
        return figure.is_known() ? std::get<std::string>(figure.value()) : std::string("unknown");
    };
    const auto& order = *figures.find("field_order");
    return {text("scan"), text("field_order"), order.reason(), order.note()};
}

/// Sideways, through noise of 30 dB. The objects of the scene move at speeds of their own.
Recipe panned(double motion_px) {
    Recipe recipe;
    recipe.duration_s = 0.6;
    recipe.picture.motion_px = motion_px;
    recipe.noise.snr_db = 30;
    return recipe;
}

/// What a clip may be said to be and is not.
bool is_wrong(const Found& found, const std::string& scan, const std::string& order) {
    return (found.scan != "unknown" && found.scan != scan) || (found.order != "unknown" && found.order != order);
}

class FieldOffsets : public testing::TestWithParam<std::tuple<double, double>> {};

// An offset of the fields as heads that come early and late by turns leave it. Things move at several speeds.
TEST_P(FieldOffsets, IsToldFromMotion) {
    const auto [motion_px, offset_px] = GetParam();
    for (const auto order : {FieldOrder::TopFirst, FieldOrder::BottomFirst}) {
        Recipe recipe = panned(motion_px);
        recipe.field_order = order;
        const Found found = measure(recipe, offset_px);
        EXPECT_EQ(found.scan, "interlaced");
        EXPECT_EQ(found.order, order == FieldOrder::TopFirst ? "top first" : "bottom first");
    }
    Recipe recipe = panned(2 * motion_px);
    recipe.scan = testsignal::Scan::Progressive;
    EXPECT_EQ(measure(recipe, offset_px).scan, "progressive");
}

INSTANTIATE_TEST_SUITE_P(Table, FieldOffsets,
                         testing::Combine(testing::Values(0.5, 5.0), testing::Values(-2.6, -0.5, 0.5, 2.6)));

/// A time base that swings once per frame, so that the fields lie apart by up to 8 samples in their middles.
Recipe swinging(double motion_px, FieldOrder order) {
    Recipe recipe = panned(motion_px);
    recipe.field_order = order;
    recipe.time_base.emplace();
    recipe.time_base->sine_ns = {300}, recipe.time_base->sine_hz = {25};
    return recipe;
}

TEST(FieldOffset, ATimeBaseThatSwingsOncePerFrameIsToldFromMotion) {
    for (const double motion_px : {0.5, 1.0, 5.0})
        for (const auto order : {FieldOrder::TopFirst, FieldOrder::BottomFirst}) {
            const std::string truth = order == FieldOrder::TopFirst ? "top first" : "bottom first";
            Recipe recipe = swinging(motion_px, order);
            EXPECT_FALSE(is_wrong(measure(recipe), "interlaced", truth)) << motion_px;
            recipe.blanking.emplace();  // stands still
            const Found found = measure(recipe);
            EXPECT_EQ(found.scan, "interlaced") << motion_px;
            EXPECT_EQ(found.order, truth) << motion_px;
        }
}

/// Outlines of many slopes and level ones, all of which move to the right and down. @param right_px, down_lines  per
/// field
Drawing slanting(double right_px, double down_lines, FieldOrder order) {
    std::mt19937 random(7);
    std::vector<double> levels(4096);
    for (double& level : levels) level = 100 + static_cast<double>(random() % 300);
    return [=](std::vector<std::uint16_t>& luma, int index) {
        const auto level = [&levels](double at) {
            const auto step = static_cast<std::size_t>(at);
            const double part = at - static_cast<double>(step);
            return levels[step] * (1 - part) + levels[step + 1] * part;
        };
        for (std::size_t y = 0; y < luma.size() / 720; ++y) {
            const bool second = (y % 2 == 1) == (order == FieldOrder::TopFirst);
            const double fields = 2 * index + (second ? 1 : 0), down = static_cast<double>(y) - down_lines * fields;
            for (std::size_t x = 0; x < 720; ++x) {
                const double across = static_cast<double>(x) - right_px * fields + 2000;
                const double patch = std::floor(across / 90), slope = 0.8 * std::sin(2.4 * patch);
                const double slanting = level((across + slope * down + 500) / 7);
                luma[720 * y + x] = static_cast<std::uint16_t>(slanting + level((down + 300) / 9 + 100 * patch));
            }
        }
    };
}

// The bottom field's lines lie one lower: slanting outlines that move by one or two lines a frame lie aside from field
// to field as if the other field came first, or none.
TEST(FieldOffset, WhatMovesUpOrDownIsNoOffset) {
    for (const double down_lines : {0.5, -1.0}) {
        const auto order = down_lines > 0 ? FieldOrder::TopFirst : FieldOrder::BottomFirst;
        const Found found = measure(panned(0), 0, slanting(1.5, down_lines, order));
        EXPECT_EQ(found.scan, "interlaced") << down_lines << ": " << found.reason;
        EXPECT_EQ(found.order, down_lines > 0 ? "top first" : "bottom first") << down_lines;
    }
}

// Where all moves alike, an offset shows the same pictures as another order and another offset.
TEST(FieldOffset, AnOffsetThatCannotBeToldFromMotionIsNotGuessed) {
    for (const double offset_px : {-2.6, 2.6})
        for (const double motion_px : {0.5, 4.0}) {
            Recipe recipe = panned(motion_px);
            recipe.picture.objects = false;
            const Found found = measure(recipe, offset_px);
            EXPECT_EQ(found.scan, "unknown") << motion_px << ", " << offset_px;
            EXPECT_EQ(found.order, "unknown") << motion_px << ", " << offset_px;
            EXPECT_THAT(found.reason, testing::HasSubstr("beside each other"));
        }
}

// ... and where no offset is seen the figures stand, and say what they take for granted.
TEST(FieldOffset, WhatIsTakenForGrantedIsSaid) {
    Recipe recipe = panned(2);
    EXPECT_EQ(measure(recipe).note.find("taking it"), std::string::npos);
    recipe.picture.objects = false;
    const Found found = measure(recipe);
    EXPECT_EQ(found.order, "top first");
    EXPECT_THAT(found.note, testing::HasSubstr("taking it that the fields lie straight"));
}

// Slanting outlines that move down seem to move sideways by other speeds, and lie apart in the two fields. FFmpeg's
// expressions, panned across and down, as frames of one moment and as fields of two.
TEST(FieldOffset, OutlinesThatSlantAreNone) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string slants =
        "-f lavfi -i \"nullsrc=s=1600x1400:r=50,format=gray,geq=lum='128+50*sin(0.03*X+6*sin(0.011*Y))+40*sin(0.05*Y+"
        "7*sin(0.013*X))+25*sin(0.11*X+0.06*Y*sin(X/300))',trim=end_frame=1,loop=loop=40:size=1,setpts=N/50/TB,"
        "format=yuv422p,";
    for (const std::string pan : {"100+3*n:200+n", "300-4*n:200-n"})
        for (const bool woven : {false, true}) {
            const ClipReport report = measured_of_ffmpeg(
                slants + "crop=1440:1152:" + pan + ":exact=1,scale=720:576:flags=area,noise=alls=4:allf=t+u," +
                (woven ? "tinterlace=mode=interleave_top" : "fps=25") + "\" -frames:v 16 -c:v ffv1");
            EXPECT_EQ(text_of(report, "scan"), woven ? "interlaced" : "progressive") << pan;
            EXPECT_EQ(text_of(report, "field_order"), woven ? "top first" : "not known") << pan;
        }
}

}  // namespace
}  // namespace guardband::measure
