// Recipes of composite video, and the files that are made of them.
#include <gmock/gmock.h>

#include <cmath>
#include <cstring>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "../shell.h"
#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "testsignal/command.h"
#include "testsignal/composite/recipe_reader.h"

namespace guardband::testsignal {
namespace {

using testing::HasSubstr;

std::string text_of(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

using support::built_in;

std::string refusal(const std::string& text) {
    try {
        (void)parse_composite_recipe("r.toml", text, built_in());
        return "read";
    } catch (const quantity::InputError& error) {
        return error.what();
    }
}

TEST(CompositeRecipe, EveryKeyIsRead) {
    const auto text = text_of(std::string(GUARDBAND_SOURCE) + "/tools/testsignal/every-composite-key.toml");
    const auto recipe = parse_composite_recipe("every", text, built_in());
    ASSERT_TRUE(recipe);
    EXPECT_EQ(recipe->system.colour, "PAL");
    EXPECT_EQ(recipe->insertions.size(), 4U);
    EXPECT_EQ(recipe->time_base.head_switch_steps_us.size(), 2U);
    EXPECT_EQ(recipe->sampling.file, SampleFile::Flac);
    EXPECT_EQ(recipe->distortion.chroma_delay_ns, 40);
}

TEST(CompositeRecipe, EverySystemOfTheTableCanBeDrawn) {
    for (const table::Colour& colour : built_in().colours) {
        if (built_in().find_scanning(colour.scanning)->lines().numerator() > 1000) continue;
        const auto recipe =
            parse_composite_recipe("r", "name = 'a'\n[composite]\nsystem = '" + colour.id + "'\n", built_in());
        EXPECT_EQ(recipe->system.colour, colour.id);
    }
    EXPECT_EQ(parse_composite_recipe("r", "name = 'a'\n[composite]\nsystem = '405/50'\n", built_in())->system.lines,
              405);
}

TEST(CompositeRecipe, FaultsAreNamedWithTheirLine) {
    EXPECT_FALSE(parse_composite_recipe("r.toml", "name = 'clip'\nsystem = '625/50'\n", built_in()));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\nsystem = 'PLA'\n"), HasSubstr("r.toml:3: composite.system"));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\nsystem = '1125/60'\n"), HasSubstr("composite.system"));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\nsistem = 'PAL'\n"), HasSubstr("r.toml:3: composite.sistem"));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\n[insertions]\nmultiburst = [700]\n"), HasSubstr("no line"));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\n[sampling]\nfile = 'flac'\nsamples = 'u8'\n"), HasSubstr("FLAC s16"));
    EXPECT_THAT(refusal("name = 'a'\n[composite]\n[time_base]\nhead_switch_steps_us = [1.0]\n"), HasSubstr("6.5"));
    EXPECT_THAT(refusal("name = 'a/b'\n[composite]\n"), HasSubstr("names no file"));
}

/// Makes a recipe's files in a folder. @returns what the program said
std::string made(const TemporaryFolder& folder, const std::string& sampling) {
    std::ofstream(folder / "r.toml") << "name = 'w'\n[composite]\nduration_s = 0.003\n[picture]\nkind = 'flat'\n"
                                        "[sampling]\n"
                                     << sampling;
    std::ostringstream out, err;
    EXPECT_EQ(run({folder / "r.toml", "-o", folder / "made"}, out, err, nullptr), 0) << err.str();
    return out.str();
}

TEST(CompositeFiles, PlainSamplesAreWhatTheyAreCalled) {
    const TemporaryFolder folder;
    made(folder, "file = 'raw'\nsamples = 'f32'\n");
    const std::string exact = text_of(folder / "made/w.f32");
    ASSERT_EQ(exact.size(), 4U * 48'000);
    const auto value = [&](std::size_t n) {
        float sample = 0;
        std::memcpy(&sample, exact.data() + 4 * n, 4);
        return static_cast<double>(sample);
    };
    made(folder, "file = 'raw'\nsamples = 'u8'\n");
    made(folder, "file = 'raw'\nsamples = 's8'\n");
    made(folder, "file = 'raw'\nsamples = 'u16'\n");
    made(folder, "file = 'raw'\nsamples = 's16'\n");
    const std::string u8 = text_of(folder / "made/w.u8"), s8 = text_of(folder / "made/w.s8");
    const std::string u16 = text_of(folder / "made/w.u16"), s16 = text_of(folder / "made/w.s16");
    ASSERT_EQ(u8.size(), 48'000U);
    ASSERT_EQ(s16.size(), 96'000U);
    const auto wide = [](const std::string& bytes, std::size_t n) {
        return static_cast<unsigned char>(bytes[2 * n]) | static_cast<unsigned char>(bytes[2 * n + 1]) << 8;
    };
    for (std::size_t n = 0; n < 48'000; n += 7) {
        ASSERT_NEAR(static_cast<unsigned char>(u8[n]), 127.5 + 127.5 * value(n), 0.503);
        ASSERT_NEAR(static_cast<signed char>(s8[n]), 127 * value(n), 0.503);
        ASSERT_NEAR(wide(u16, n), 32767.5 + 32767.5 * value(n), 0.51);
        ASSERT_NEAR(static_cast<std::int16_t>(wide(s16, n)), 32767 * value(n), 0.51);
    }
}

TEST(CompositeFiles, WavFlacAndTruth) {
    const TemporaryFolder folder;
    EXPECT_THAT(made(folder, "rate_hz = '17734475'\nclock_error_ppm = 10.0\nsamples = 'u8'\n"),
                HasSubstr("w.wav: 0.003 s of PAL at 17.7345 MS/s"));
    const std::string wav = text_of(folder / "made/w.wav");
    EXPECT_EQ(wav.size(), 44U + 53'203);
    EXPECT_EQ(wav.substr(0, 4) + wav.substr(8, 8), "RIFFWAVEfmt ");
    const auto truth = nlohmann::json::parse(text_of(folder / "made/w.truth.json"));
    EXPECT_EQ(truth["schema"], "guardband.testsignal-composite/1");
    EXPECT_EQ(truth["sampling"]["samples"], 53'203);
    EXPECT_NEAR(truth["signal"]["subcarrier_hz"].get<double>(), 4433618.75, 1e-6);
    EXPECT_NEAR(truth["signal"]["subcarrier_seen_hz"].get<double>() / 4433618.75, 1 - 10e-6, 1e-10);
    EXPECT_NEAR(truth["signal"]["line_rate_hz"].get<double>(), 15625, 1e-8);
    if (!has_ffmpeg()) GTEST_SKIP() << "no FFmpeg to read FLAC by";
    made(folder, "file = 'raw'\nsamples = 's16'\n");
    made(folder, "file = 'flac'\n");
    EXPECT_EQ(output_of("ffmpeg -v error -i " + (folder / "made/w.flac") + " -f s16le -"),
              text_of(folder / "made/w.s16"));
    EXPECT_EQ(output_of("ffprobe -v error -show_entries stream=sample_rate -of csv=p=0 " + (folder / "made/w.flac")),
              "16000\n");
}

}  // namespace
}  // namespace guardband::testsignal
