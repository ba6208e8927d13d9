// `--series`: a table of comma-separated values of what the figures were made of.
#include <gmock/gmock.h>

#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <sstream>

#include "guardband/command_line.h"
#include "support/built_in_table.h"
#include "testsignal/composite/maker.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;

fs::path file_named(const std::string& name) {
    const std::string test = testing::UnitTest::GetInstance()->current_test_info()->name();
    return fs::path(testing::TempDir()) / ("guardband_series_" + test + "_" + name);
}

/// A file that is gone at the end.
struct Gone {
    fs::path path;
    explicit Gone(const std::string& name) : path(file_named(name)) {}
    ~Gone() { fs::remove(path); }
    Gone(const Gone&) = delete;
    Gone& operator=(const Gone&) = delete;
};

void write(const fs::path& path, const std::vector<float>& samples) {
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(samples.data()),
               static_cast<std::streamsize>(samples.size() * sizeof(float)));
}

/// A WAV file of floats, by its plain description: 44 bytes of header.
void write_wav(const fs::path& path, const std::vector<float>& samples, std::uint32_t rate) {
    const auto bytes = static_cast<std::uint32_t>(samples.size() * sizeof(float));
    std::ofstream file(path, std::ios::binary);
    const auto word = [&](std::uint32_t value, int size) {
        for (int i = 0; i < size; ++i) file.put(static_cast<char>((value >> (8 * i)) & 0xFFU));
    };
    file << "RIFF", word(36 + bytes, 4), file << "WAVEfmt ", word(16, 4), word(3, 2), word(1, 2), word(rate, 4);
    word(rate * 4, 4), word(4, 2), word(32, 2), file << "data", word(bytes, 4);
    file.write(reinterpret_cast<const char*>(samples.data()), bytes);
}

struct Rows {
    std::string header;
    std::vector<std::vector<double>> values;  ///< no number where a field is empty
};

Rows rows_of(const fs::path& path) {
    std::ifstream file(path);
    Rows rows;
    std::getline(file, rows.header);
    for (std::string line; std::getline(file, line);) {
        std::istringstream fields(line);
        rows.values.emplace_back();
        for (std::string field; std::getline(fields, field, ',');)
            rows.values.back().push_back(field.empty() ? NAN : std::stod(field));
    }
    return rows;
}

int run(const std::vector<std::string>& arguments, std::string* fault = nullptr) {
    std::ostringstream out, err;
    const int status = command_line::run(arguments, {out, err});
    if (fault != nullptr) *fault = err.str();
    return status;
}

TEST(Series, OfAWaveformHasARowALine) {
    testsignal::CompositeRecipe recipe;
    recipe.system = testsignal::composite_system(support::built_in(), "PAL");
    recipe.duration_s = 0.1;
    recipe.time_base.sine_ns = {400};
    recipe.time_base.sine_hz = {200};
    const Gone samples("video.f32"), series("video.csv");
    write(samples.path, testsignal::make_composite(recipe));
    ASSERT_EQ(run({"measure", "waveform", samples.path.string(), "--samples", "f32", "--rate", "16MHz", "--series",
                   series.path.string()}),
              0);
    const Rows rows = rows_of(series.path);
    EXPECT_EQ(rows.header, "time_s,line,field,line_of_field,displacement_ns,sync_width_us,counted");
    EXPECT_NEAR(static_cast<double>(rows.values.size()), 0.1 * 15625, 10);
    double highest = 0;
    for (const auto& row : rows.values) {
        ASSERT_EQ(row.size(), 7U);
        if (row[6] == 1) highest = std::max(highest, std::abs(row[4]));
    }
    EXPECT_NEAR(highest, 400, 40);  // the best line through so short a piece of a sine leans
    EXPECT_NEAR(rows.values[500][0] - rows.values[499][0], 64e-6, 0.1e-6);
}

TEST(Series, OfPulsesHasARowAPulse) {
    std::vector<float> square;
    for (int i = 0; i < 24'000; ++i) square.push_back(i % 320 < 100 ? 0.5F : -0.5F);
    const Gone samples("pulses.f32"), series("pulses.csv");
    write(samples.path, square);
    ASSERT_EQ(run({"measure", "pulses", samples.path.string(), "--samples", "f32", "--rate", "8kHz", "--series",
                   series.path.string()}),
              0);
    const Rows rows = rows_of(series.path);
    EXPECT_EQ(rows.header, "time_s,interval_ms");
    ASSERT_GT(rows.values.size(), 70U);
    EXPECT_TRUE(std::isnan(rows.values[0].size() > 1 ? rows.values[0][1] : NAN));
    for (std::size_t i = 1; i < rows.values.size(); ++i) EXPECT_NEAR(rows.values[i][1], 40, 0.01);
}

TEST(Series, OfAToneHasItsSpeed) {
    constexpr std::uint32_t rate = 16'000;
    std::vector<float> tone;
    double phase = 0;
    for (std::uint32_t i = 0; i < 6 * rate; ++i) {
        phase += 3150 * (1 + 0.01 * std::sin(2 * std::numbers::pi * 2 * i / rate)) / rate;
        tone.push_back(0.5F * static_cast<float>(std::sin(2 * std::numbers::pi * phase)));
    }
    const Gone samples("tone.wav"), series("tone.csv");
    write_wav(samples.path, tone, rate);
    ASSERT_EQ(run({"measure", "tone", samples.path.string(), "--series", series.path.string()}), 0);
    const Rows rows = rows_of(series.path);
    EXPECT_EQ(rows.header, "time_s,speed_percent");
    ASSERT_GT(rows.values.size(), 6U * 1900);
    double highest = 0;
    for (const auto& row : rows.values) highest = std::max(highest, row[1]);
    EXPECT_NEAR(highest, 1, 0.01);
}

TEST(Series, ThatCannotBeWrittenSaysSo) {
    std::vector<float> square;
    for (int i = 0; i < 24'000; ++i) square.push_back(i % 320 < 100 ? 0.5F : -0.5F);
    const Gone samples("pulses.f32");
    write(samples.path, square);
    std::string fault;
    EXPECT_EQ(run({"measure", "pulses", samples.path.string(), "--samples", "f32", "--rate", "8kHz", "--series",
                   "/no-such-folder/pulses.csv"},
                  &fault),
              2);
    EXPECT_THAT(fault, testing::HasSubstr("can't be written"));
}

}  // namespace
}  // namespace guardband
