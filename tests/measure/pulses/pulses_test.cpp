// Rate, jitter, missing pulses and mode of recording of pulses with known truth.
#include "measure/pulses/pulses.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numbers>

#include "quantity/errors.h"
#include "support/made_sound.h"
#include "testsignal/gaussian_noise.h"
#include "testsignal/pulse_maker.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;
using testsignal::PulseKind;
using testsignal::PulseRecipe;

PulseReport measured(const PulseRecipe& recipe, const PulseOptions& options = {}) {
    return measure_pulses(support::sound_of(testsignal::make_pulses(recipe).samples, recipe.sample_rate_hz), options);
}

double value(const PulseReport& report, const char* id) {
    const quantity::Figure* figure = report.figures.find(id);
    return figure != nullptr && figure->number() ? *figure->number() : NAN;
}

/// Twenty seconds of a control track of 625/50 under 30 dB of noise, every pulse 20 µs off.
PulseRecipe control_track() {
    PulseRecipe recipe;
    recipe.sample_rate_hz = 16'000;
    recipe.runs = {{25, 500}};
    recipe.jitter_us = 20;
    recipe.noise_db = -30;
    return recipe;
}

struct Case {
    const char* name;
    PulseKind kind;
    Edge edge;
    double duty;
    bool inverted;
};

PulseOptions timed_at(Edge edge) {
    PulseOptions options;
    options.edge = edge;
    return options;
}

class Kinds : public testing::TestWithParam<Case> {};

// The claim: 10 ppm on 20 s, whatever the pulses look like; missing and extra ones exact.
TEST_P(Kinds, RateIsWithinTenPpmAndFaultsAreExact) {
    const Case& c = GetParam();
    PulseRecipe recipe = control_track();
    recipe.kind = c.kind;
    recipe.duty = c.duty;
    recipe.inverted = c.inverted;
    recipe.missing = {40, 41, 42, 200, 331};
    recipe.extra = {100, 450};
    double sum = 0, squares = 0;
    constexpr int runs = 5;
    for (recipe.seed = 1; recipe.seed <= runs; ++recipe.seed) {
        const PulseReport report = measured(recipe, timed_at(c.edge));
        const double ppm = 1e6 * (value(report, "pulse_rate") / 25 - 1);
        EXPECT_LT(std::abs(ppm), 10);
        EXPECT_EQ(value(report, "missing_pulses"), 5);
        EXPECT_EQ(value(report, "extra_pulses"), 2);
        sum += ppm / runs;
        squares += ppm * ppm / runs;
    }
    EXPECT_LT(std::abs(sum), 2) << "bias, ppm";
    EXPECT_LT(std::sqrt(squares), 3) << "scatter, ppm";
}

INSTANTIATE_TEST_SUITE_P(All, Kinds,
                         testing::Values(Case{"bumps", PulseKind::Bumps, Edge::Rising, 0.5, false},
                                         Case{"bumps_inverted", PulseKind::Bumps, Edge::Falling, 0.6, true},
                                         Case{"square", PulseKind::Square, Edge::Rising, 0.5, false},
                                         Case{"square_falling", PulseKind::Square, Edge::Falling, 0.3, true},
                                         Case{"logic", PulseKind::Logic, Edge::Rising, 0.1, false}),
                         [](const auto& each) { return std::string(each.param.name); });

TEST(Pulses, TheirUncertaintyCoversTheRate) {
    PulseRecipe recipe = control_track();
    recipe.jitter_us = 100;
    int covered = 0;
    constexpr int runs = 20;
    for (recipe.seed = 1; recipe.seed <= runs; ++recipe.seed) {
        const PulseReport report = measured(recipe);
        const quantity::Figure& rate = *report.figures.find("pulse_rate");
        covered += std::abs(*rate.number() - 25) <= 2 * *rate.uncertainty() ? 1 : 0;
    }
    EXPECT_GE(covered, 17) << "19 of 20 are expected";
}

TEST(Pulses, JitterIsReadFreeOfDrift) {
    for (const double jitter_us : {50.0, 400.0}) {
        PulseRecipe recipe = control_track();
        recipe.noise_db = -60;
        recipe.jitter_us = jitter_us;
        recipe.components = {{0.02, 0.02, 0}};  // a wander of 50 s, 3 ms from end to end
        EXPECT_NEAR(value(measured(recipe), "pulse_jitter_rms"), jitter_us, 0.12 * jitter_us) << jitter_us;
    }
}

TEST(Pulses, TheSpectrumOfJitterShowsWhatTurns) {
    PulseRecipe recipe = control_track();
    recipe.runs = {{29.97, 900}};
    recipe.jitter_us = 5;
    recipe.components = {{0.71, 0.3, 0}, {3.5, 0.2, 0.2}};
    const PulseReport report = measured(recipe);
    const auto& found = std::get<std::vector<quantity::Component>>(report.figures.find("jitter_components")->value());
    ASSERT_GE(found.size(), 2U);
    EXPECT_NEAR(found[0].hz, 0.71, 0.01);
    EXPECT_NEAR(found[0].depth_percent, 0.3, 0.02);
    EXPECT_NEAR(found[1].hz, 3.5, 0.01);
    EXPECT_NEAR(found[1].depth_percent, 0.2, 0.02);
}

class Modes : public testing::Test {
protected:
    PulseOptions playing_as(const std::string& address) {
        PulseOptions options;
        std::tie(options.playing_format, options.playing_mode) = table_.at(address, "test");
        return options;
    }

    table::Table table_ = table::load_table();
};

// Pulses recorded at v/f lie further apart the faster the tape ran: played at another speed they come at
// f · v_played / v_recorded. By hand from the table's printed speeds: 33.35 / 11.12 = 2.999, 23.39 / 11.70 = 1.999.
TEST_F(Modes, OfRecordingFollowsFromThePlayersSpeed) {
    struct Row {
        const char *playing, *recorded;
        double rate_hz, ratio;
    };
    for (const Row& row :
         {Row{"vhs:525/60:SP", "vhs:525/60:EP", 29.97 * 2.999, 2.999},
          Row{"vhs:525/60:EP", "vhs:525/60:SP", 29.97 / 2.999, 1 / 2.999},
          Row{"vhs:525/60:SP", "vhs:525/60:SP", 29.97, 1}, Row{"vhs:625/50:SP", "vhs:625/50:LP", 25 * 1.999, 1.999}}) {
        PulseRecipe recipe = control_track();
        recipe.runs = {{row.rate_hz, 300}};
        const PulseReport report = measured(recipe, playing_as(row.playing));
        ASSERT_TRUE(report.figures.find("address")->is_known()) << row.playing << " " << row.recorded;
        EXPECT_EQ(std::get<std::string>(report.figures.find("address")->value()), row.recorded);
        EXPECT_NEAR(value(report, "speed_ratio") / row.ratio, 1, 0.001);
    }
}

TEST_F(Modes, AlikeAreAllNamedTheMachinesOwnFirst) {
    PulseRecipe recipe = control_track();
    recipe.runs = {{250, 2000}};
    const quantity::Figure address = *measured(recipe, playing_as("quadruplex:625/50:HB-15")).figures.find("address");
    EXPECT_EQ(std::get<std::string>(address.value()), "quadruplex:625/50:HB-15");
    EXPECT_THAT(address.note(), HasSubstr("quadruplex:625/50:LB-15"));
}

TEST_F(Modes, ThatFitNoneSaySo) {
    PulseRecipe recipe = control_track();
    recipe.runs = {{37, 300}};
    const PulseReport report = measured(recipe, playing_as("vhs:625/50:SP"));
    EXPECT_THAT(report.figures.find("address")->reason(), HasSubstr("no mode of vhs gives pulses"));
    EXPECT_NEAR(value(report, "speed_ratio"), 37.0 / 25, 0.001);
    const PulseReport pilot = measured(recipe, playing_as("8mm:625/50:SP"));
    EXPECT_THAT(pilot.figures.find("speed_ratio")->reason(), HasSubstr("pilot tones"));
}

TEST_F(Modes, OfAMixedRecordingAreToldStretchByStretch) {
    PulseRecipe recipe = control_track();
    recipe.runs = {{29.97, 200}, {59.9, 500}, {89.88, 300}, {29.97, 100}};
    recipe.missing = {100, 400};
    const PulseReport report = measured(recipe, playing_as("vhs:525/60:SP"));
    std::vector<quantity::Event> stretches;
    for (const quantity::Event& event : report.events)
        if (event.kind == "stretch") stretches.push_back(event);
    ASSERT_EQ(stretches.size(), 4U);
    const double starts[] = {0.5, 0.5 + 200 / 29.97, 0.5 + 200 / 29.97 + 500 / 59.9,
                             0.5 + 200 / 29.97 + 500 / 59.9 + 300 / 89.88};
    const char* modes[] = {"vhs:525/60:SP", "vhs:525/60:LP", "vhs:525/60:EP", "vhs:525/60:SP"};
    for (std::size_t i = 0; i < 4; ++i) {
        EXPECT_NEAR(stretches[i].time_s, starts[i], 0.05);
        EXPECT_THAT(stretches[i].what, HasSubstr(modes[i]));
    }
    EXPECT_EQ(value(report, "missing_pulses"), 2);
    EXPECT_EQ(value(report, "extra_pulses"), 0);
    EXPECT_NEAR(value(report, "pulse_rate"), 59.9, 0.001) << "of the longest stretch";
}

TEST(Pulses, ALongGapEndsAStretch) {
    PulseRecipe recipe = control_track();
    for (std::int64_t i = 200; i < 280; ++i) recipe.missing.push_back(i);
    const PulseReport report = measured(recipe);
    EXPECT_EQ(std::ranges::count(report.events, "stretch", &quantity::Event::kind), 2);
    EXPECT_EQ(value(report, "missing_pulses"), 0) << "an unrecorded part is not a series of missing pulses";
}

TEST(Pulses, OneSecondHasARateAndAReasonForTheRest) {
    PulseRecipe recipe = control_track();
    recipe.runs = {{25, 25}};
    const PulseReport report = measured(recipe);
    EXPECT_NEAR(value(report, "pulse_rate"), 25, 0.01);
    EXPECT_THAT(report.figures.find("jitter_components")->reason(), HasSubstr("takes 5 s"));
}

std::string refusal(std::vector<float> samples) {
    try {
        measure_pulses(support::sound_of(std::move(samples), 16'000), {});
        return "measured";
    } catch (const quantity::InputError& error) {
        return error.what();
    }
}

TEST(NoPulses, NotesOfMusicAreNone) {
    // Ten notes of half a second, each as even by itself as pulses are.
    std::vector<float> music;
    constexpr double rate_hz = 16'000;
    for (int note = 0; note < 10; ++note) {
        const double hz = 220 * std::pow(2, (note * 7 % 12) / 12.0);
        for (int i = 0; i < static_cast<int>(rate_hz / 2); ++i) {
            double sum = 0;
            for (int h = 1; h < 5; ++h) sum += std::sin(2 * std::numbers::pi * hz * h * i / rate_hz) / h;
            music.push_back(static_cast<float>(0.2 * std::exp(-3 * i / rate_hz) * sum));
        }
    }
    EXPECT_THAT(refusal(music), HasSubstr("as in music, speech or video"));
}

TEST(NoPulses, IsSaidWithWhatThereIsInstead) {
    EXPECT_THAT(refusal(std::vector<float>(64'000, 0.0F)), HasSubstr("silence"));
    std::vector<float> noise(96'000);
    testsignal::Random random(3);
    random.fill_gaussian(noise);
    EXPECT_THAT(refusal(noise), HasSubstr("noise or other sound"));
    std::vector<float> music;
    for (std::size_t n = 0; n < 96'000; ++n) {  // two voices and a beat
        const double t = static_cast<double>(n) / 16'000, turn = 2 * std::numbers::pi;
        music.push_back(static_cast<float>(0.2 * std::sin(turn * 262 * t) + 0.15 * std::sin(turn * 415.3 * t) +
                                           0.2 * std::sin(turn * 83 * t * (1 + 0.2 * std::sin(5 * t)))));
    }
    EXPECT_THAT(refusal(music), HasSubstr("noise or other sound"));
    PulseRecipe few = control_track();
    few.runs = {{25, 4}};
    EXPECT_THAT(refusal(testsignal::make_pulses(few).samples), HasSubstr("only 4 edges"));
}

}  // namespace
}  // namespace guardband::measure
