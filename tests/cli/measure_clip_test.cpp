// `measure clip` over a small clip whose truth is known because it was made so: what comes out of the program for the
// stability of the picture. How good each figure is, the tests of the measurements show.
#include <gmock/gmock.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "guardband/command_line.h"
#include "testsignal/clip_writer.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

/// Half a raw tape: lines that jitter, a bent top, a step near the bottom, a picture that goes up and down.
testsignal::Recipe unsteady(double duration_s) {
    testsignal::Recipe recipe;
    recipe.duration_s = duration_s;
    recipe.noise.snr_db = 40;
    recipe.blanking.emplace();
    auto& time_base = recipe.time_base.emplace();
    time_base.random_ns = 60, time_base.flagging_ns = 800;
    time_base.head_switch_line = 6, time_base.head_switch_steps_ns = {900, 500};
    time_base.vertical_rms_lines = 0.4;
    return recipe;
}

struct Ended {
    int status;
    std::string out, err;
};

Ended measure(const fs::path& clip, const std::vector<std::string>& more) {
    std::vector<std::string> arguments{"measure", "clip", clip.string()};
    arguments.insert(arguments.end(), more.begin(), more.end());
    std::ostringstream out, err;
    const int status = command_line::run(arguments, {out, err});
    return {status, out.str(), err.str()};
}

/// A clip in a file that is gone at the end. Tests may run at the same time, each by itself.
class ClipFile {
public:
    explicit ClipFile(double duration_s)
        : path_(fs::path(testing::TempDir()) /
                (std::string("guardband_") + testing::UnitTest::GetInstance()->current_test_info()->name() + ".mkv")),
          truth_(testsignal::write_clip(unsteady(duration_s), path_.string())) {}
    ~ClipFile() { fs::remove(path_); }
    ClipFile(const ClipFile&) = delete;
    ClipFile& operator=(const ClipFile&) = delete;

    const fs::path& path() const { return path_; }
    const testsignal::TimeBaseTruth& truth() const { return *truth_.time_base; }

private:
    fs::path path_;
    testsignal::Truth truth_;
};

TEST(MeasuredClip, HasEveryFigureOfStabilityInItsJson) {
    const ClipFile clip(2);
    const Ended run = measure(clip.path(), {"--json"});
    ASSERT_EQ(run.status, 0) << run.err;
    const json figures = json::parse(run.out).at("figures");
    const auto& made = clip.truth();
    const auto expect = [&](const char* id, double value, double tolerance, const char* unit) {
        ASSERT_TRUE(figures.contains(id)) << id;
        const json& figure = figures.at(id);
        ASSERT_TRUE(figure.at("value").is_number()) << id << ": " << figure;
        EXPECT_NEAR(figure.at("value").get<double>(), value, tolerance) << id;
        EXPECT_EQ(figure.at("unit"), unit) << id;
        EXPECT_GT(figure.at("uncertainty").get<double>(), 0) << id;
    };
    // Each within what its measurement claims.
    expect("time_base_error_rms", made.time_base_error_rms_ns, 0.1 * made.time_base_error_rms_ns, "ns");
    expect("time_base_error_peak", made.time_base_error_peak_ns, 0.1 * made.time_base_error_peak_ns, "ns");
    expect("line_jitter_rms", made.line_jitter_rms_ns, 0.1 * made.line_jitter_rms_ns, "ns");
    expect("flagging", made.flagging_ns, std::max(15.0, 0.02 * made.flagging_ns), "ns");
    expect("head_switch_line", 6, 0.5, "lines");
    expect("head_switch_step", *made.head_switch_step_ns, 15, "ns");
    const double allowed = 2 * figures.at("vertical_jitter_rms").at("uncertainty").get<double>();
    expect("vertical_jitter_rms", made.vertical_jitter_rms_lines, allowed, "lines");
}

TEST(MeasuredClip, GivesEveryFigureAValueOrAReason) {
    const ClipFile clip(0.4);
    // All of it, and two frames: too little for some and for most.
    for (const std::vector<std::string>& more :
         {std::vector<std::string>{"--json"}, std::vector<std::string>{"--json", "--duration", "0.08"}}) {
        const Ended run = measure(clip.path(), more);
        ASSERT_EQ(run.status, 0) << run.err;
        const json figures = json::parse(run.out).at("figures");
        EXPECT_GE(figures.size(), 20U);
        for (const auto& [id, figure] : figures.items())
            EXPECT_TRUE(!figure.at("value").is_null() || figure.at("reason") != "") << id;
    }
}

TEST(MeasuredClip, ShowsThemUnderTheirHeading) {
    const ClipFile clip(0.4);
    const Ended run = measure(clip.path(), {});
    ASSERT_EQ(run.status, 0) << run.err;
    const std::size_t heading = run.out.find("Stability");
    ASSERT_NE(heading, std::string::npos) << run.out;
    for (const char* title : {"time-base error", "jitter from line to line", "flagging at the top",
                              "head switch before the end", "step at the head switch", "vertical jitter"})
        EXPECT_NE(run.out.find(title, heading), std::string::npos) << title;
}

TEST(MeasuredClip, TellsOfEachDropoutWhereItIs) {
    testsignal::Recipe recipe;
    recipe.duration_s = 0.6;
    recipe.noise.snr_db = 40;
    auto& dropouts = recipe.dropouts.emplace();
    dropouts.per_minute = 1500, dropouts.length_us = 9;
    const fs::path path = fs::path(testing::TempDir()) / "guardband_dropouts.mkv";
    const auto truth = testsignal::write_clip(recipe, path.string());
    const Ended run = measure(path, {"--json"}), text = measure(path, {});
    fs::remove(path);
    ASSERT_EQ(run.status, 0) << run.err;
    const json out = json::parse(run.out);
    int found = 0;
    for (const auto& made : truth.dropouts)
        for (const json& event : out.at("events"))
            found += event.at("kind") == (made.bright ? "bright" : "dark") && event.value("field", -1) == made.field &&
                             event.value("line", -1) == made.line &&
                             std::abs(event.value("start_us", -9.0) - made.start_us) < 0.5
                         ? 1
                         : 0;
    EXPECT_GE(found, 0.8 * static_cast<double>(truth.dropouts.size()));
    EXPECT_EQ(out.at("figures").at("dropouts_per_minute").at("verdict"), "outside");
    EXPECT_NEAR(out.at("figures").at("luma_snr").at("value").get<double>(), 40, 0.7);
    EXPECT_NEAR(out.at("figures").at("chroma_snr").at("value").get<double>(), 40, 0.7);
    for (const char* heading : {"\nNoise\n", "\nDamage\n", "dropouts in a minute"})
        EXPECT_NE(text.out.find(heading), std::string::npos) << heading << text.out;
}

}  // namespace
}  // namespace guardband
