// Recipes of tones and pulses, and that what is made of them is what they say.
#include "testsignal/sound_recipe.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "quantity/errors.h"
#include "shell.h"
#include "testsignal/command.h"

namespace guardband::testsignal {
namespace {

using testing::HasSubstr;

std::string text_of(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

std::string refusal(const std::string& text) {
    try {
        (void)parse_sound_recipe("r.toml", text);
        return "read";
    } catch (const quantity::InputError& error) {
        return error.what();
    }
}

TEST(SoundRecipe, EveryKeyIsRead) {
    std::string text = text_of(std::string(GUARDBAND_SOURCE) + "/tools/testsignal/every-sound-key.toml");
    const auto tone = parse_sound_recipe("every", text);
    ASSERT_TRUE(tone);
    EXPECT_EQ(std::get<ToneRecipe>(tone->signal).components.size(), 2U);
    EXPECT_EQ(std::get<ToneRecipe>(tone->signal).drift_percent, -0.1);
    // The same with [pulses] in place of [tone].
    text.erase(text.find("\n[tone]") + 1, text.find("# [pulses]") - text.find("\n[tone]") - 1);
    for (std::size_t at = text.find("# [pulses]"); at != std::string::npos; at = text.find("\n# ", at))
        text.erase(text[at] == '\n' ? at + 1 : at, 2);
    const auto pulses = parse_sound_recipe("every", text);
    ASSERT_TRUE(pulses);
    EXPECT_EQ(std::get<PulseRecipe>(pulses->signal).missing.size(), 2U);
}

TEST(SoundRecipe, FaultsAreNamedWithTheirLine) {
    EXPECT_FALSE(parse_sound_recipe("r.toml", "name = 'clip'\nsystem = '625/50'\n"));
    EXPECT_THAT(refusal("name = 'a'\n[tone]\nhertz = 3150\n"), HasSubstr("r.toml:3: tone.hertz"));
    EXPECT_THAT(refusal("name = 'a'\n[tone]\nhz = 30000.0\n"), HasSubstr("half of the sampling rate"));
    EXPECT_THAT(refusal("name = 'a'\n[pulses]\nkind = 'round'\n"), HasSubstr("bumps"));
    EXPECT_THAT(refusal("name = 'a'\n[pulses]\nrate_hz = [25.0, 50.0]\n"), HasSubstr("not as long"));
    EXPECT_THAT(refusal("name = 'a/b'\n[tone]\n"), HasSubstr("names no file"));
    EXPECT_THAT(refusal("name = 'a'\n[tone]\n[pulses]\n"), HasSubstr("one signal"));
}

TEST(ToneMaker, PhaseIsTheIntegralOfTheSpeed) {
    ToneRecipe recipe;
    recipe.sample_rate_hz = 48'000;
    recipe.duration_s = 2;
    recipe.speed_error_percent = 1;
    recipe.drift_percent = 2;
    recipe.components = {{4, 0.5, 0.1}};
    const std::vector<float> samples = make_tone(recipe);
    double phase = 0;  // added up step by step, each with the speed at its middle
    for (std::size_t n = 0; n < samples.size(); ++n) {
        ASSERT_NEAR(samples[n], 0.5 * std::sin(2 * std::numbers::pi * phase), 1e-4) << n;
        const double t = (static_cast<double>(n) + 0.5) / 48'000;
        const double speed = 1.01 + 0.02 * (t / 2 - 0.5) + 0.005 * std::sin(2 * std::numbers::pi * (4 * t + 0.1));
        phase += 3150 * speed / 48'000;
    }
}

TEST(PulseMaker, LeavesOutAndAddsWhatItIsTold) {
    PulseRecipe recipe;
    recipe.missing = {3, 4};
    recipe.extra = {10};
    const PulseTruth truth = make_pulses(recipe);
    EXPECT_EQ(truth.times_s.size(), 99U);
    EXPECT_NEAR(truth.times_s[3] - truth.times_s[2], 3 / 25.0, 1e-9);
    EXPECT_NEAR(truth.times_s[9] - truth.times_s[8], 0.75 / 25.0, 1e-9);
}

TEST(SoundCommand, WritesAWavFileAndItsTruth) {
    const TemporaryFolder folder;
    std::ofstream(folder / "t.toml") << "name = 'tone'\ntitle = 'a test'\n[tone]\nduration_s = 0.5\nhz = 1000.0\n";
    std::ostringstream out, err;
    ASSERT_EQ(run({folder / "t.toml", "-o", folder / "made"}, out, err, nullptr), 0) << err.str();
    EXPECT_THAT(out.str(), HasSubstr("tone.wav: 0.5 s of sound"));
    const std::string wav = text_of(folder / "made/tone.wav");
    ASSERT_EQ(wav.size(), 44U + 3 * 24'000);
    EXPECT_EQ(wav.substr(0, 4) + wav.substr(8, 8), "RIFFWAVEfmt ");
    const auto truth = nlohmann::json::parse(text_of(folder / "made/tone.truth.json"));
    EXPECT_EQ(truth["schema"], "guardband.testsignal-sound/1");
    EXPECT_EQ(truth["samples"], 24'000);
    EXPECT_EQ(truth["recorded_hz"], 1000.0);
}

}  // namespace
}  // namespace guardband::testsignal
