// What the lines' displacement does in time: clips whose lines were moved by sines, at random and by patterns that
// return with each field, all of known size. Bias and scatter of amplitude and rate; and the fixed part.
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "measure/clip/line_displacement.h"
#include "measure/time_base_components.h"
#include "support/built_in_table.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "testsignal/recipe_reader.h"

namespace guardband::measure {
namespace {

using quantity::Component;
using testsignal::Recipe;

using support::built_in;

Recipe recipe(double seconds, const std::function<void(testsignal::TimeBaseSettings&)>& change) {
    Recipe r;
    r.duration_s = seconds;
    r.noise.snr_db = 40;
    r.blanking.emplace();
    change(r.time_base.emplace());
    return r;
}

struct Moved {
    quantity::Figures figures;
    testsignal::TimeBaseTruth truth;

    std::vector<Component> components(std::string_view address = "") {
        EXPECT_TRUE(figures.find("time_base_components")->is_known());
        name_time_base_components(figures, built_in(), "625/50", address);
        return std::get<std::vector<Component>>(figures.find("time_base_components")->value());
    }
    const quantity::Figure& fixed() const { return *figures.find("time_base_error_fixed"); }
};

Moved measured(const Recipe& r) {
    support::MadeClip clip(r);
    support::MadeContext made;
    made.info.picture = clip.format();
    made.evidence.rate_value = MeasuredRate{25, 1e-4};
    made.evidence.order_value = r.field_order == testsignal::FieldOrder::TopFirst
                                    ? InterlaceEvidence::Order::TopFirst
                                    : InterlaceEvidence::Order::BottomFirst;
    LineDisplacement measurement(made.context);
    const FrameFeatures unused;
    while (const auto frame = clip.next()) measurement.see(*frame, unused);
    Moved out;
    std::vector<quantity::Event> events;
    measurement.finish(out.figures, events);
    out.truth = *clip.truth().time_base;
    return out;
}

struct Sine {
    double hz, ns;
};

struct Case {
    const char* name;
    std::vector<Sine> sines;
    double random_ns = 20;
    std::function<void(Recipe&)> change = {};
    double rate_off_hz = 0.03;  ///< what noise leaves unsure in so short a clip
};

void PrintTo(const Case& c, std::ostream* out) { *out << c.name; }

class LineMotionSines : public testing::TestWithParam<Case> {};

// Claim: amplitudes within 3 % and 2 ns, all of them found and none beside them.
TEST_P(LineMotionSines, AreFoundWithRateAndAmplitude) {
    const Case& c = GetParam();
    Recipe r = recipe(1.2, [&](testsignal::TimeBaseSettings& t) {
        t.random_ns = c.random_ns;
        for (const Sine& sine : c.sines) t.sine_hz.push_back(sine.hz), t.sine_ns.push_back(sine.ns);
    });
    if (c.change) c.change(r);
    const auto found = measured(r).components();
    EXPECT_EQ(found.size(), c.sines.size());
    for (const Sine& sine : c.sines) {
        const auto component = std::ranges::find_if(
            found, [&](const Component& one) { return std::abs(one.hz - sine.hz) < c.rate_off_hz; });
        ASSERT_NE(component, found.end()) << sine.hz << " Hz";
        EXPECT_NEAR(*component->amplitude_ns, sine.ns, 0.03 * sine.ns + 2) << sine.hz << " Hz";
        EXPECT_NEAR(component->depth_percent, 2e-7 * std::numbers::pi * component->hz * *component->amplitude_ns,
                    1e-9 * component->depth_percent + 1e-12);
    }
}

INSTANTIATE_TEST_SUITE_P(
    Range, LineMotionSines,
    testing::Values(Case{"none: a perfect clip", {}, 0}, Case{"none: jitter alone", {}, 150},
                    Case{"none: noise of 30 dB", {}, 0, [](Recipe& r) { r.noise.snr_db = 30; }},
                    Case{"small", {{61.7, 8}}, 10}, Case{"slow and fast", {{5.2, 300}, {87.3, 90}, {310, 40}}},
                    Case{"line by line", {{1234.5, 30}, {7812.5, 40}}},
                    Case{"larger than blanking is wide", {{27, 7000}}}, Case{"locked", {{25, 200}, {50, 120}}},
                    Case{"8 bits, a sixteenth of the lines lost", {{25, 200}, {33, 100}}, 20, [](Recipe& r) {
                             r.bit_depth = 8;
                             r.dropouts.emplace().per_minute = 60 * 50 * 6;
                             r.dropouts->length_us = 50, r.dropouts->lines = 3;
                         }}));

TEST(LineMotion, WhatTurnsIsNamed) {
    quantity::Figures figures;
    std::vector<Component> all;
    for (const double hz : {25.0, 50.0, 75.0, 49.9, 7812.5, 3.3}) all.push_back(time_base_component(hz, 100));
    figures.add("time_base_components", quantity::Figure::components(all));
    const auto names = [&](const char* scanning, const char* address) {
        quantity::Figures named = figures;
        name_time_base_components(named, built_in(), scanning, address);
        std::vector<std::string> out;
        for (const Component& c : std::get<std::vector<Component>>(named.find("time_base_components")->value()))
            out.push_back(c.part + (c.harmonic > 1 ? " " + std::to_string(c.harmonic) : ""));
        return out;
    };
    const std::string frame(frame_rate_part);
    EXPECT_THAT(names("625/50", ""),
                testing::ElementsAre(frame, "field rate", frame + " 3", "mains", "every other line", ""));
    EXPECT_THAT(names("625/50", "vhs:625/50:SP"),
                testing::ElementsAre("drum", "field rate", "drum 3", "mains", "every other line", ""));
    EXPECT_THAT(names("", ""), testing::ElementsAre("", "mains", "", "mains", "", ""));
}

// A bend at the top returns in every field alike: one motion, the field's. The fixed part is all but the jitter.
TEST(LineMotion, FlaggingIsFixedToTheField) {
    Moved m = measured(recipe(1.2, [](auto& t) { t.flagging_ns = 1000, t.random_ns = 20; }));
    const auto found = m.components();
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].part, "field rate");
    const double rms = m.truth.time_base_error_rms_ns, fixed = std::sqrt(rms * rms - 20 * 20);
    EXPECT_NEAR(*m.fixed().number(), fixed, 0.03 * fixed);
    EXPECT_THAT(m.fixed().note(), testing::HasSubstr("100 % of its square in both fields"));
}

// 25 Hz is fixed to the frame and turns round from field to field; 33 Hz and jitter move.
TEST(LineMotion, FixedAndMovingArePartedInEitherOrderOfFields) {
    for (const auto order : {testsignal::FieldOrder::TopFirst, testsignal::FieldOrder::BottomFirst}) {
        Recipe r = recipe(1.2, [](auto& t) {
            t.sine_ns = {150, 200, 100}, t.sine_hz = {25, 33, 83};
            t.random_ns = 30;
        });
        r.field_order = order;
        const Moved m = measured(r);
        const double fixed = 150 / std::numbers::sqrt2;
        // All but field blanking is seen, and there a sine isn't at its mean.
        EXPECT_NEAR(*m.fixed().number(), fixed, 0.04 * fixed);
        EXPECT_THAT(m.fixed().note(), testing::HasSubstr(" 0 % of its square in both fields"));
    }
}

// Nothing is fixed: what is said must lie within its own uncertainty of that.
TEST(LineMotion, JitterIsNotFixed) {
    const Moved m = measured(recipe(1.2, [](auto& t) { t.random_ns = 100; }));
    EXPECT_LT(*m.fixed().number(), 3 * *m.fixed().uncertainty());
    EXPECT_LT(*m.fixed().uncertainty(), 10);
}

TEST(LineMotion, NothingIsSaidWithoutEdgesOrASystem) {
    Recipe r = recipe(0.6, [](auto& t) { t.flagging_ns = 500; });
    r.blanking.reset();
    const Moved m = measured(r);
    EXPECT_FALSE(m.fixed().is_known());
    EXPECT_FALSE(m.figures.find("time_base_components")->is_known());
}

}  // namespace
}  // namespace guardband::measure
