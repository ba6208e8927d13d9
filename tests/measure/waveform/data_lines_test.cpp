// Data of the field interval against known truth: what each line says, at any rate and in bad shape.
#include <gmock/gmock.h>

#include <cmath>
#include <numbers>

#include "measure/waveform/made_video.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

testsignal::CompositeRecipe with_data(const char* system) {
    auto recipe = video_recipe(system);
    recipe.duration_s = 0.36;
    testsignal::DataLines& data = recipe.data;
    data.caption_text = "LAMP LIT";
    data.time_code_start = {10, 59, 59, 20};
    if (recipe.system.lines == 525) {
        data.captions = {21, 284};
        data.wide_screen = {20, 283};
        data.wide_screen_word = 0x1000;
        data.time_code = {14, 16, 277, 279};
        data.drop_frame = true;
    } else {
        data.teletext = {17, 18, 20, 330, 331};
        data.captions = {22, 335};
        data.wide_screen = {23};
        data.wide_screen_word = 0x1B;
        data.label = {16};
        data.time_code = {19, 21, 332, 334};
    }
    return recipe;
}

std::vector<quantity::LineService> services(const WaveformReport& report) {
    const quantity::Figure* figure = report.figures.find("data_lines");
    const auto* list = figure == nullptr ? nullptr : std::get_if<std::vector<quantity::LineService>>(&figure->value());
    quantity::LineService unknown;
    unknown.name = "unknown";
    return list == nullptr ? std::vector{unknown} : *list;
}

/// The service of that name, or one that says nothing.
quantity::LineService find(const WaveformReport& report, const std::string& name) {
    for (const quantity::LineService& service : services(report))
        if (service.name == name) return service;
    return {};
}

std::vector<std::string> names(const WaveformReport& report) {
    std::vector<std::string> names;
    for (const quantity::LineService& service : services(report)) names.push_back(service.name);
    return names;
}

void expect_all_of_525(const WaveformReport& report) {
    EXPECT_THAT(names(report), ElementsAre("captions", "wide-screen signalling", "time code"));
    EXPECT_THAT(find(report, "captions").lines, ElementsAre(21, 284));
    EXPECT_THAT(find(report, "captions").says, HasSubstr("LAMP LIT"));
    EXPECT_THAT(find(report, "wide-screen signalling").lines, ElementsAre(20, 283));
    EXPECT_EQ(find(report, "wide-screen signalling").says, "16:9, letterbox");
    EXPECT_THAT(find(report, "time code").lines, ElementsAre(14, 16, 277, 279));
    EXPECT_THAT(find(report, "time code").says, HasSubstr("10:59:59;2"));
    EXPECT_THAT(find(report, "time code").says, HasSubstr("without a jump"));
    EXPECT_THAT(find(report, "time code").says, HasSubstr("to 11:00:00;0"));
}

void expect_all_of_625(const WaveformReport& report) {
    EXPECT_THAT(names(report), ElementsAre("teletext, system B", "captions", "wide-screen signalling",
                                           "programme label", "time code"));
    EXPECT_THAT(find(report, "teletext, system B").lines, ElementsAre(17, 18, 20, 330, 331));
    EXPECT_EQ(find(report, "teletext, system B").says, "page 100; \"LIGHTHOUSE MUSEUM\"");
    EXPECT_THAT(find(report, "captions").lines, ElementsAre(22, 335));
    EXPECT_THAT(find(report, "captions").says, HasSubstr("LAMP LIT"));
    EXPECT_THAT(find(report, "wide-screen signalling").lines, ElementsAre(23));
    EXPECT_EQ(find(report, "wide-screen signalling").says, "16:9, letterbox in the middle; film");
    EXPECT_THAT(find(report, "programme label").lines, ElementsAre(16));
    EXPECT_EQ(find(report, "programme label").says, "network D94; day 27, month 11, 20:15");
    EXPECT_THAT(find(report, "time code").lines, ElementsAre(19, 21, 332, 334));
    EXPECT_THAT(find(report, "time code").says, HasSubstr("without a jump"));
    EXPECT_THAT(find(report, "time code").says, HasSubstr("to 11:00:00:0"));
}

/// Hardly anything misses, and what is there passes its checks.
void expect_right(const WaveformReport& report, double least) {
    for (const quantity::LineService& service : services(report)) {
        EXPECT_GE(static_cast<double>(service.fields), 0.95 * static_cast<double>(service.of_fields)) << service.name;
        EXPECT_GE(service.right.value_or(1), least) << service.name;
    }
}

void expect_all(const testsignal::CompositeRecipe& recipe, double least = 1) {
    const WaveformReport report = measured(recipe, 8);
    recipe.system.lines == 525 ? expect_all_of_525(report) : expect_all_of_625(report);
    expect_right(report, least);
}

class DataRates : public testing::TestWithParam<std::int64_t> {};

TEST_P(DataRates, AllServicesOf525AreRead) {
    auto recipe = with_data("NTSC");
    recipe.sampling.rate_hz = GetParam();
    expect_all(recipe);
}

TEST_P(DataRates, AllServicesOf625AreRead) {
    auto recipe = with_data("PAL");
    recipe.sampling.rate_hz = GetParam();
    expect_all(recipe);
}

INSTANTIATE_TEST_SUITE_P(Rates, DataRates, testing::Values(10'000'000, 13'500'000, 17'734'475, 28'636'363, 40'000'000));

/// What is done to a signal before it is measured.
struct Shape {
    const char* name;
    void (*change)(testsignal::CompositeRecipe&);
};
void PrintTo(const Shape& shape, std::ostream* out) { *out << shape.name; }

constexpr Shape shapes[] = {
    {"inverted, AC coupled, hum of half the video",
     [](testsignal::CompositeRecipe& r) {
         r.sampling.inverted = true, r.sampling.gain_per_volt = 0.6, r.sampling.offset = 0;
         r.disturbance.hum_mv = 500, r.disturbance.coupling_hz = 5;
     }},
    {"30 dB of noise", [](testsignal::CompositeRecipe& r) { r.disturbance.snr_db = 30; }},
    {"time-base error of a recorder",
     [](testsignal::CompositeRecipe& r) {
         r.time_base.sine_ns = {8000}, r.time_base.sine_hz = {25}, r.time_base.random_ns = 20;
         r.time_base.flagging_ns = 5000, r.time_base.head_switch_line = 6.3;
         r.time_base.head_switch_steps_us = {3, -2};
     }},
    {"data 6 dB low", [](testsignal::CompositeRecipe& r) { r.data.level_percent = 50; }},
    {"data 6 dB high", [](testsignal::CompositeRecipe& r) { r.data.level_percent = 200; }},
    {"a quarter of the level", [](testsignal::CompositeRecipe& r) { r.sampling.gain_per_volt = 0.3; }},
    {"a clock 500 ppm off", [](testsignal::CompositeRecipe& r) { r.sampling.clock_error_ppm = 500; }},
    {"lines 0.5 % too fast", [](testsignal::CompositeRecipe& r) { r.line_rate_error_ppm = 5000; }},
};

class DataShapes : public testing::TestWithParam<Shape> {};

TEST_P(DataShapes, AllServicesAreRead) {
    for (const char* system : {"PAL", "NTSC"}) {
        SCOPED_TRACE(system);
        auto recipe = with_data(system);
        GetParam().change(recipe);
        expect_all(recipe, 0.99);
    }
}

INSTANTIATE_TEST_SUITE_P(Shapes, DataShapes, testing::ValuesIn(shapes));

TEST(DataLinesOfSecamAndMonochrome, AreReadToo) {
    expect_all(with_data("SECAM"));
    expect_all(with_data("625/50"));
    expect_all(with_data("PAL-M"));
}

TEST(DataLinesOfNone, NameNothing) {
    for (const char* system : {"PAL", "NTSC"}) {
        auto recipe = video_recipe(system);
        recipe.duration_s = 0.3;
        using enum testsignal::InsertionSignal;
        recipe.insertions = {
            {17, BarPulseStaircase}, {18, Multiburst}, {19, ChromaBars}, {20, BarPulseModulatedStaircase}};
        for (const int snr_db : {60, 20}) {
            recipe.disturbance.snr_db = snr_db;
            EXPECT_THAT(names(measured(recipe, 8)), IsEmpty()) << system << ", " << snr_db << " dB";
        }
    }
    EXPECT_THAT(names(measured(video_recipe("405/50"), 8)), ElementsAre("unknown"));
}

// Whatever stands on the lines: random levels held for any time, as a damaged head or another coding leaves them.
TEST(DataLinesOfGarbage, NameNothing) {
    for (const char* system : {"PAL", "NTSC"}) {
        auto recipe = video_recipe(system);
        recipe.duration_s = 0.5, recipe.sampling.rate_hz = 13'500'000;
        recipe.sampling.gain_per_volt = 1, recipe.sampling.offset = 0;
        std::vector<float> samples = video_samples(recipe);
        const testsignal::Timeline timeline(recipe);
        testsignal::Random random(9);
        for (std::int64_t line = 0; line < static_cast<std::int64_t>(0.5 * recipe.system.line_rate_hz.value()) - 30;
             ++line) {
            const std::int64_t in_field = line * 2 % recipe.system.lines / 2;
            if (in_field < 9 || in_field > 22) continue;
            const double hold = random.uniform(1, 40);
            const auto edge = static_cast<std::size_t>(timeline.edge_sample(line));
            float level = 0;
            for (std::size_t n = 140, next = 140; n < 800; ++n) {
                if (n >= next)
                    level = static_cast<float>(random.uniform(0, 0.7)), next += static_cast<std::size_t>(hold);
                samples[edge + n] = level;
            }
        }
        const WaveformReport report = measured(samples, 13.5e6);
        EXPECT_THAT(names(report), IsEmpty()) << system;
        EXPECT_THAT(report.events, IsEmpty()) << system;
    }
}

TEST(DataLinesCutShort, GiveWhatThereIs) {
    auto recipe = with_data("PAL");
    const std::vector<float> samples = video_samples(recipe, 8);
    for (const double seconds : {0.0257, 0.0413, 0.0621, 0.0803, 0.1207}) {
        const WaveformReport report =
            measured(std::vector(samples.begin(), samples.begin() + static_cast<std::ptrdiff_t>(seconds * 16e6)), 16e6);
        for (const quantity::LineService& service : services(report)) {
            EXPECT_LE(service.fields, service.of_fields) << service.name;
            EXPECT_LE(service.right.value_or(1), 1) << service.name;
        }
        EXPECT_LE(services(report).size(), 5U);
    }
}

TEST(TimeCode, ThatJumpsGivesAnEventEach) {
    auto recipe = with_data("PAL");
    recipe.data.jump_at_frame = 4, recipe.data.jump_by_frames = 250;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_THAT(find(report, "time code").says, HasSubstr("one jump"));
    ASSERT_EQ(report.events.size(), 1U);
    EXPECT_EQ(report.events[0].kind, "time code jumps");
    EXPECT_EQ(report.events[0].what, "time code jumps to 11:00:09:24 where 10:59:59:24 is due");
    EXPECT_NEAR(report.events[0].time_s, 4 * 0.04, 0.04);
}

TEST(TimeCode, RunsOnOverMidnightAndTheLabelsThatDropFrameSkips) {
    auto recipe = with_data("NTSC");
    recipe.data.time_code_start = {23, 59, 59, 26};
    EXPECT_THAT(find(measured(recipe, 8), "time code").says, HasSubstr("to 00:00:00;0"));
    recipe.data.time_code_start = {10, 0, 59, 26};
    const WaveformReport report = measured(recipe, 8);
    EXPECT_THAT(find(report, "time code").says, HasSubstr("without a jump"));
    EXPECT_THAT(report.events, IsEmpty());
}

// Errors set in as noise takes what is left of the eye: teletext first. A bit is wrong where Gaussian noise passes half
// the height of the data; of the bytes of a packet then 8 times as many.
struct NoisyCase {
    double snr_db, least_teletext, least_time_code;
};
class NoisyData : public testing::TestWithParam<NoisyCase> {};

TEST_P(NoisyData, IsReadAsFarAsNoiseAllows) {
    const NoisyCase& c = GetParam();
    auto recipe = with_data("PAL");
    recipe.disturbance.snr_db = c.snr_db;
    const WaveformReport report = measured(recipe, 8);
    const auto teletext = find(report, "teletext, system B"), code = find(report, "time code");
    std::printf(
        "  %g dB: teletext in %lld of %lld fields, %.4f of bytes right; time code in %lld of %lld, %.4f right\n",
        c.snr_db, static_cast<long long>(teletext.fields), static_cast<long long>(teletext.of_fields),
        teletext.right.value_or(0), static_cast<long long>(code.fields), static_cast<long long>(code.of_fields),
        code.right.value_or(0));
    EXPECT_GE(teletext.right.value_or(0), c.least_teletext);
    EXPECT_GE(code.right.value_or(0), c.least_time_code);
    EXPECT_THAT(code.says, HasSubstr("without a jump"));
}

INSTANTIATE_TEST_SUITE_P(Noise, NoisyData,
                         testing::Values(NoisyCase{30, 1, 1}, NoisyCase{24, 0.99, 1}, NoisyCase{20, 0.95, 1}));

}  // namespace
}  // namespace guardband::measure
