// What `identify` prints: 80 columns, and the contract's JSON.
#include "report/identify_report.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "quantity/errors.h"
#include "report/figures_json.h"
#include "report/text_table.h"
#include "support/table_questions.h"

namespace guardband::report {
namespace {

using support::built_in;

using identify::Answer;

const identify::Models& models() {
    static const identify::Models all(built_in());
    return all;
}

Answer answer_to(const std::vector<std::string>& texts) {
    std::vector<identify::Observation> observations;
    for (const std::string& text : texts) observations.push_back(identify::parse_observation(built_in(), text));
    return answer_of(models(), identify::Prior(models()), std::move(observations));
}

void expect_narrow(const std::string& text) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(display_width(line), 80U) << line;
}

TEST(IdentifyReport, FitsEightyColumns) {
    expect_narrow(evidence_kinds_text(built_in()));
    expect_narrow(alike_text(models()));
    const std::vector<std::vector<std::string>> tapes{
        {},
        {"shell=vhs"},
        {"label=a very long label that names no grade at all", "tape_width=12.65"},
        {"control_track_rate=25.0±0.01@vhs:625/50:standard play", "control_track_rate=50.0±0.01@vhs:625/50:SP"},
        {"shell=type-l-small", "tape_width=12.65mm±0.05mm", "programme_time=0:20:30±10s", "colour=PAL",
         "sound_speed_ratio=1.002±0.001@type-l-digital:625/50:standard", "field_rate=50.0", "line_rate=15625.0"},
        {"tape_width=40", "tracks_per_mm=0.7", "label=L-750"},
    };
    for (const auto& texts : tapes) expect_narrow(identify_text(answer_to(texts), models(), {}));
}

TEST(IdentifyReport, JsonIsTheContracts) {
    const auto json =
        nlohmann::json::parse(identify_json(answer_to({"shell=beta", "tracks_per_mm=3.0"}), models(), {}));
    double sum = 0, before = 1;
    for (const auto& candidate : json.at("candidates")) {
        const double probability = candidate.at("probability").get<double>();
        EXPECT_LE(probability, before);
        before = probability;
        sum += probability;
        EXPECT_TRUE(candidate.at("address").is_string());
    }
    EXPECT_NEAR(sum, 1, 1e-9);
    const auto& evidence = json.at("candidates")[0].at("evidence");
    ASSERT_EQ(evidence.size(), 2U);
    EXPECT_EQ(evidence[0].at("observed"), "beta");
    EXPECT_NEAR(evidence[1].at("expected").get<double>(), 2.997, 0.001);
    EXPECT_GT(evidence[1].at("weight_db").get<double>(), 10);
    EXPECT_EQ(json.at("fit").at("verdict"), "consistent");
    before = 100;
    for (const auto& next : json.at("next")) {
        EXPECT_LE(next.at("information_bits").get<double>(), before);
        before = next.at("information_bits").get<double>();
        EXPECT_GT(next.at("minutes").get<double>(), 0);
    }
    EXPECT_EQ(json.at("table_version"), built_in().edition.version);
}

TEST(IdentifyReport, OneSentenceFirst) {
    const auto sentence = [](const std::vector<std::string>& texts) { return identify_sentence(answer_to(texts)); };
    EXPECT_THAT(sentence({"shell=vcr", "tracks_per_mm=0.35", "track_pitch=187"}), testing::StartsWith("VCR"));
    EXPECT_THAT(sentence({"shell=vhs", "tracks_per_mm=2.14"}), testing::StartsWith("VHS family, 625/50, SP, 9"));
    EXPECT_THAT(sentence({"tape_width=40", "tracks_per_mm=0.7"}), testing::StartsWith("No known format fits"));
    EXPECT_THAT(sentence({"tape_width=12.65"}), testing::StartsWith("Not settled: "));
}

TEST(MeasuredFigures, AreReadBackAndOtherFilesRefused) {
    const quantity::Figures figures = read_figures(
        R"({"figures": {"a": {"value": 3.5, "unit": "Hz", "uncertainty": 0.1}, "b": {"value": null, "reason": "x"},
            "c": {"value": "PAL"}}})",
        "file");
    EXPECT_EQ(figures.find("a")->number(), 3.5);
    EXPECT_EQ(figures.find("a")->uncertainty(), 0.1);
    EXPECT_FALSE(figures.find("b")->is_known());
    for (const char* text :
         {"", "{", "[]", "{}", R"({"figures": 3})", R"({"figures": {"a": 3}})", R"({"figures": {"a": {}}})"})
        EXPECT_THROW(read_figures(text, "file"), quantity::InputError) << text;
}

}  // namespace
}  // namespace guardband::report
