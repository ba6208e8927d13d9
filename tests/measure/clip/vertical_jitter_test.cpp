// Vertical jitter against clips whose fields were moved by known amounts.
#include "measure/clip/vertical_jitter.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>

#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

using testsignal::Recipe;

struct Measured {
    quantity::Figure figure = quantity::Figure::unknown("not there");
    double truth = 0;
};

Measured measured(const std::function<void(Recipe&)>& change) {
    Recipe r;
    r.duration_s = 1.6;
    r.noise.snr_db = 40;
    r.time_base.emplace();
    change(r);
    support::MadeClip clip(r);
    support::MadeContext made;
    made.info.picture = clip.format();
    VerticalJitter measurement(made.context);
    FeatureExtractor extractor(clip.format());
    while (const auto frame = clip.next()) measurement.see(*frame, extractor.extract(*frame));
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return {*figures.find("vertical_jitter_rms"), clip.truth().time_base->vertical_jitter_rms_lines};
}

TEST(VerticalJitter, FindsASteadyClipSteady) {
    const auto m = measured([](Recipe&) {});
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.04);
}

// Four seconds of independent fields: the RMS itself scatters by a fourteenth.
TEST(VerticalJitter, SeesWhatTheFieldsWereMovedBy) {
    for (const double rms_lines : {0.1, 0.4}) {
        const auto m = measured([rms_lines](Recipe& r) {
            r.duration_s = 4;
            r.time_base->vertical_rms_lines = rms_lines;
            r.picture.motion_px = 0.5;
        });
        ASSERT_TRUE(m.figure.is_known()) << rms_lines;
        EXPECT_NEAR(*m.figure.number(), m.truth, 0.06) << rms_lines;
        EXPECT_NEAR(*m.figure.number(), m.truth, 2 * *m.figure.uncertainty()) << rms_lines;
        EXPECT_LT(*m.figure.uncertainty(), 0.045) << rms_lines;
    }
}

// Things in front move at speeds of their own, up and down a little.
TEST(VerticalJitter, ThingsThatMoveOnTheirOwnAreNone) {
    const auto m = measured([](Recipe& r) { r.duration_s = 4, r.picture.motion_px = 2, r.seed = 4; });
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.08);
}

TEST(VerticalJitter, SteadyMovementDownIsNone) {
    const auto m = measured([](Recipe& r) { r.picture.motion_px = 0.6, r.picture.direction_deg = 70; });
    ASSERT_TRUE(m.figure.is_known());
    EXPECT_LE(*m.figure.number(), 0.06);
}

TEST(VerticalJitter, TellsJumps) {
    Recipe r;
    r.duration_s = 1.2;
    r.noise.snr_db = 40;
    support::MadeClip clip(r);
    support::MadeContext made;
    made.info.picture = clip.format();
    made.info.time_base = {1, 25};
    VerticalJitter measurement(made.context);
    FeatureExtractor extractor(clip.format());
    constexpr std::ptrdiff_t lines = 10, width = 720;
    for (int index = 0; auto planes = clip.next_planes(); ++index) {
        if (index >= 20) std::rotate(planes->luma.begin(), planes->luma.end() - lines * width, planes->luma.end());
        const auto frame = support::make_frame(clip.format(), *planes, index);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    ASSERT_EQ(events.size(), 1U);
    EXPECT_EQ(events[0].kind, "vertical jump");
    EXPECT_EQ(events[0].frame, 20);
    EXPECT_EQ(events[0].what, "the picture jumps down by 10 lines");
}

TEST(VerticalJitter, NothingFromGrey) {
    support::MadeContext made;
    made.info.picture = support::luma_format();
    VerticalJitter measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    support::Planes grey;
    grey.luma.assign(std::size_t{720} * 576, 400);
    for (int i = 0; i < 12; ++i) {
        const auto frame = support::make_frame(made.info.picture, grey, i);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    EXPECT_FALSE(figures.find("vertical_jitter_rms")->is_known());
}

}  // namespace
}  // namespace guardband::measure
