// Which part of a transport a flutter comes from.
#include "measure/sound/parts.h"

#include <gmock/gmock.h>

#include "measure/sound/tone.h"
#include "quantity/errors.h"
#include "support/made_sound.h"
#include "testsignal/tone_maker.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;

/// A transport such as the workshop of our invented lighthouse museum may meet: 33.35 mm/s.
constexpr const char* transport = R"(
tape_speed = "33.35 mm/s"
[[part]]
name = "capstan"
diameter = "3.00±0.01 mm"
[[part]]
name = "pinch roller"
diameter = "15.0±0.1 mm"
[[part]]
name = "supply reel"
diameter = "80.0±0.5 mm"
[[part]]
name = "take-up reel"
diameter = "41.0±0.5 mm"
[[part]]
name = "capstan motor"
rate = "1500 rev/min"
[[part]]
name = "belt"
length = "240±1 mm"
on = "capstan"
on_diameter = "36.0±0.1 mm"
)";
// By hand: v/(π d) = 3.5386, 0.7077, 0.13270 and 0.25892 turns a second; belt 3.5386 π 36/240 = 1.6675.

TEST(Parts, RatesFollowFromDiametersAndBelts) {
    const std::vector<Part> parts = parse_parts("transport.toml", transport, std::nullopt);
    ASSERT_EQ(parts.size(), 6U);
    EXPECT_NEAR(parts[0].rate_hz, 3.5386, 1e-4);
    EXPECT_NEAR(parts[0].uncertainty_hz, 3.5386 * 0.01 / 3 / 1.732, 0.001);
    EXPECT_NEAR(parts[1].rate_hz, 0.7077, 1e-4);
    EXPECT_NEAR(parts[4].rate_hz, 25, 1e-9);
    EXPECT_NEAR(parts[5].rate_hz, 1.6675, 1e-3);
    EXPECT_NEAR(parse_parts("t", transport, 66.7)[0].rate_hz, 2 * 3.5386, 1e-3) << "the speed given goes first";
}

// The simulated transport, with slip, at a speed 1.2 % high, under noise of a linear track.
TEST(Parts, GetTheirPeaksInASimulatedTransport) {
    struct Truth {
        const char* part;
        double turns_s;
        int harmonic;
        double depth_percent;
    };
    const std::vector<Truth> truths{{"capstan", 3.5386, 1, 0.09},      {"capstan", 3.5386, 2, 0.04},
                                    {"pinch roller", 0.7077, 1, 0.07}, {"pinch roller", 0.7077, 3, 0.02},
                                    {"supply reel", 0.1327, 1, 0.15},  {"take-up reel", 0.25892, 1, 0.12},
                                    {"capstan motor", 25, 1, 0.03},    {"belt", 1.6675, 1, 0.05}};
    testsignal::ToneRecipe recipe;
    recipe.sample_rate_hz = 16'000;
    recipe.duration_s = 60;
    recipe.noise_db = -45;
    recipe.speed_error_percent = 1.2;
    for (const Truth& truth : truths) {
        const double follows = std::string(truth.part) == "capstan motor" ? 1 : 1.012 * 0.998;
        recipe.components.push_back({truth.turns_s * truth.harmonic * follows, truth.depth_percent, 0.13});
    }
    ToneOptions options;
    options.parts = parse_parts("transport.toml", transport, std::nullopt);
    const ToneReport report = measure_tone(support::sound_of(testsignal::make_tone(recipe), 16'000), options);
    const auto& found = std::get<std::vector<quantity::Component>>(report.figures.find("flutter_components")->value());
    for (std::size_t i = 0; i < truths.size(); ++i) {
        const auto match = std::ranges::find_if(
            found, [&](const quantity::Component& c) { return std::abs(c.hz / recipe.components[i].hz - 1) < 0.01; });
        ASSERT_NE(match, found.end()) << truths[i].part << " ×" << truths[i].harmonic;
        EXPECT_EQ(match->part, truths[i].part) << match->hz;
        EXPECT_EQ(match->harmonic, truths[i].harmonic) << match->hz;
        EXPECT_NEAR(match->depth_percent / truths[i].depth_percent, 1, 0.05) << truths[i].part;
    }
}

TEST(Parts, AForeignPeakGetsNone) {
    const std::vector<Part> parts = parse_parts("transport.toml", transport, std::nullopt);
    const std::vector<SpeedLine> lines{{59.3, 0.001, 0.01}};
    EXPECT_EQ(attribute(lines, parts, 1).front().part, "");
}

std::string refusal(const std::string& text) {
    try {
        parse_parts("parts.toml", text, std::nullopt);
        return "read";
    } catch (const quantity::InputError& error) {
        return error.what();
    }
}

TEST(Parts, FaultsOfTheFileAreNamedWithTheirLine) {
    EXPECT_THAT(refusal(""), HasSubstr("parts.toml: lists no part"));
    EXPECT_THAT(refusal("[[part]]\nname = \"capstan\"\ndiameter = \"3 mm\"\n"), HasSubstr("needs the tape's speed"));
    EXPECT_THAT(refusal("[[part]]\nname = \"motor\"\nrate = \"fast\"\n"),
                HasSubstr("parts.toml:3: [[part]].rate: \"fast\" is not a number"));
    EXPECT_THAT(refusal("[[part]]\nname = \"motor\"\nrate = \"-3 Hz\"\n"), HasSubstr("rate"));
    EXPECT_THAT(refusal("[[part]]\nname = \"motor\"\n"), HasSubstr("neither diameter, rate nor length"));
    EXPECT_THAT(refusal("[[part]]\nname = \"m\"\nrate = \"3 Hz\"\ncolour = \"red\"\n"), HasSubstr("colour"));
    EXPECT_THAT(refusal("[[part]]\nname = \"b\"\nlength = \"3 mm\"\non = \"x\"\non_diameter = \"3 mm\"\n"),
                HasSubstr("no part above"));
}

}  // namespace
}  // namespace guardband::measure
