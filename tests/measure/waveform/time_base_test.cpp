// When lines come: each line's own error, and the figures made of it, against known truth.
#include <gmock/gmock.h>

#include <cmath>

#include "measure/waveform/made_video.h"
#include "measure/waveform/sync_reader.h"

namespace guardband::measure {
namespace {

/// Collects the leading edges of sync.
class Leads final : public LineSink {
public:
    void see_line(const VideoLine& line, const SampleWindow&) override {
        if (line.kind == PulseKind::Line) places.push_back(line.sync.lead);
    }
    std::vector<double> places;
};

/// Mean and RMS of the error of every line's edge, ns.
struct EdgeErrors {
    double bias_ns = 0, rms_ns = 0;
    std::size_t lines = 0;
};

EdgeErrors edge_errors(const testsignal::CompositeRecipe& recipe, int bits) {
    const std::vector<float> samples = video_samples(recipe, bits);
    const double rate_hz = recipe.sampling.rate_hz.value();
    const auto shape = find_sync(samples, rate_hz);
    Leads leads;
    SyncReader reader(shape.value(), rate_hz, leads);
    reader.see(samples);
    reader.finish();
    const testsignal::CompositeMaker maker(recipe);
    const double line_samples = rate_hz / recipe.system.line_rate_hz.value();
    double sum = 0, squares = 0;
    for (const double place : leads.places) {
        const auto line =
            static_cast<std::int64_t>(std::lround(place / line_samples)) + maker.timeline().runs(0).front().line;
        const double error_ns = (place - maker.timeline().edge_sample(line)) / rate_hz * 1e9;
        sum += error_ns;
        squares += error_ns * error_ns;
    }
    const auto n = static_cast<double>(leads.places.size());
    return {sum / n, std::sqrt(squares / n), leads.places.size()};
}

// The claim: 2 ns RMS on clean samples of 8 bits at 16 MS/s, 10 ns under noise of 36 dB.
TEST(Edges, AreTimedWithinTwoNanosecondsAtEightBits) {
    auto recipe = video_recipe("PAL");
    recipe.time_base.sine_ns = {300};
    recipe.time_base.sine_hz = {80};
    const EdgeErrors errors = edge_errors(recipe, 8);
    EXPECT_GT(errors.lines, 2500U);
    EXPECT_LT(errors.rms_ns, 2);
    EXPECT_LT(std::abs(errors.bias_ns), 1);
}

TEST(Edges, AreTimedWithinTenNanosecondsInNoise) {
    for (const char* system : {"PAL", "NTSC"}) {
        auto recipe = video_recipe(system);
        recipe.disturbance.snr_db = 36;
        const EdgeErrors errors = edge_errors(recipe, 8);
        EXPECT_LT(errors.rms_ns, 10) << system;
        EXPECT_LT(std::abs(errors.bias_ns), 2) << system;
    }
}

struct Motion {
    const char* name;
    double sine_ns, sine_hz, random_ns, noise_db;
};

void PrintTo(const Motion& m, std::ostream* out) { *out << m.name; }

class Motions : public testing::TestWithParam<Motion> {};

TEST_P(Motions, AreMeasured) {
    const Motion& m = GetParam();
    auto recipe = video_recipe("PAL");
    recipe.duration_s = 0.4;
    if (m.sine_ns > 0) recipe.time_base.sine_ns = {m.sine_ns}, recipe.time_base.sine_hz = {m.sine_hz};
    recipe.time_base.random_ns = m.random_ns;
    if (m.noise_db > 0) recipe.disturbance.snr_db = m.noise_db;
    testsignal::CompositeMaker maker(recipe);
    std::vector<float> samples, some;
    while (maker.next(some)) samples.insert(samples.end(), some.begin(), some.end());
    const auto truth = maker.truth();
    const WaveformReport report = measured(samples, 16e6);
    const auto* error = report.figures.find("time_base_error_rms");
    // A field's first and last lines may count here and not there: 2 % of a motion that is locked to fields.
    EXPECT_NEAR(value(report, "time_base_error_rms"), truth.time_base_error_rms_ns,
                2 + 0.02 * truth.time_base_error_rms_ns + 2 * *error->uncertainty());
    EXPECT_NEAR(value(report, "line_jitter_rms"), truth.line_jitter_rms_ns, 1 + 0.02 * truth.line_jitter_rms_ns);
}

INSTANTIATE_TEST_SUITE_P(Motion, Motions,
                         testing::Values(Motion{"none", 0, 0, 0, 0}, Motion{"none in noise", 0, 0, 0, 36},
                                         Motion{"slow", 500, 30, 0, 46}, Motion{"jitter", 0, 0, 40, 46},
                                         Motion{"both in noise", 200, 110, 25, 36},
                                         Motion{"large", 3000, 12.5, 100, 40}),
                         [](const auto& motion) {
                             std::string name = motion.param.name;
                             for (char& c : name) c = c == ' ' ? '_' : c;
                             return name;
                         });

class Switches : public testing::TestWithParam<double> {};

// The claim: the step within 20 ns; its place within a quarter of a line.
TEST_P(Switches, AreFound) {
    auto recipe = video_recipe("PAL");
    recipe.duration_s = 0.4;
    recipe.time_base.head_switch_line = 6.45;
    recipe.time_base.head_switch_steps_us = {GetParam()};
    recipe.time_base.random_ns = 20;
    recipe.disturbance.snr_db = 40;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_NEAR(value(report, "skew"), GetParam(), 0.02);
    EXPECT_NEAR(value(report, "head_switch_line"), 6.45, 0.26);
}

// Two kinds of field tell the half line in which it lies; its middle is given.
TEST(SwitchPlaces, AreRightToAQuarterOfALine) {
    double squares = 0;
    int n = 0;
    for (const double place : {5.05, 5.45, 6.3, 6.62, 6.9, 7.2, 8.8}) {
        auto recipe = video_recipe("PAL");
        recipe.sampling.rate_hz = 10'000'000;
        recipe.duration_s = 0.15;
        recipe.time_base.head_switch_line = place;
        recipe.time_base.head_switch_steps_us = {0.8};
        recipe.time_base.random_ns = 20;
        recipe.disturbance.snr_db = 40;
        const WaveformReport report = measured(recipe, 8);
        const double off = value(report, "head_switch_line") - place;
        EXPECT_LT(std::abs(off), 0.26) << place;
        squares += std::pow(off / *report.figures.find("head_switch_line")->uncertainty(), 2), ++n;
    }
    EXPECT_LT(std::sqrt(squares / n), 1.5);
}

INSTANTIATE_TEST_SUITE_P(Steps, Switches, testing::Values(-5.0, -0.3, 0.2, 2.0));

TEST(Switch, IsNotFoundWhereThereIsNone) {
    auto recipe = video_recipe("PAL");
    recipe.duration_s = 0.4;
    recipe.disturbance.snr_db = 36;
    recipe.time_base.random_ns = 20;
    EXPECT_TRUE(std::isnan(value(measured(recipe, 8), "skew")));
}

// Capture clocks drift and tapes lose signal: lines keep their count.
TEST(Dropouts, CostOnlyTheirOwnLines) {
    auto recipe = video_recipe("PAL");
    recipe.dropouts.per_minute = 6000;
    recipe.dropouts.length_us = 30;
    recipe.dropouts.level_mv = -200;
    recipe.disturbance.snr_db = 40;
    recipe.disturbance.coupling_hz = 10;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_EQ(text(report, "colour"), "PAL");
    EXPECT_NEAR(value(report, "line_rate") / 15625, 1, 1e-6);
    EXPECT_EQ(value(report, "lines_per_frame"), 625);
    EXPECT_LT(value(report, "time_base_error_rms"), 20);
}

// A motion's speed is 2πf times its amplitude.
TEST(Components, AreFoundInTheLines) {
    auto recipe = video_recipe("625/50");
    recipe.sampling.rate_hz = 10'000'000;
    recipe.duration_s = 2.4;
    recipe.time_base.sine_ns = {500};
    recipe.time_base.sine_hz = {31};
    const WaveformReport report = measured(recipe);
    const auto* figure = report.figures.find("time_base_components");
    ASSERT_TRUE(figure->is_known());
    const auto& components = std::get<std::vector<quantity::Component>>(figure->value());
    ASSERT_FALSE(components.empty());
    EXPECT_NEAR(components.front().hz, 31, 0.1);
    EXPECT_NEAR(components.front().depth_percent, 100 * 2 * 3.14159265 * 31 * 500e-9, 0.0005);
}

}  // namespace
}  // namespace guardband::measure
