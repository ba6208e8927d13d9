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
    explicit ClipFile(double duration_s) : ClipFile(unsteady(duration_s)) {}
    explicit ClipFile(const testsignal::Recipe& recipe)
        : path_(fs::path(testing::TempDir()) /
                (std::string("guardband_") + testing::UnitTest::GetInstance()->current_test_info()->name() + ".mkv")),
          truth_(testsignal::write_clip(recipe, path_.string())) {}
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

/// Small pictures, and sound with a bit of everything.
testsignal::Recipe with_sound() {
    testsignal::Recipe recipe;
    recipe.raster.width = 64, recipe.raster.height = 64;
    recipe.picture.objects = false;
    recipe.duration_s = 8;
    auto& sound = recipe.sound_track.emplace();
    sound.programme_db = -20, sound.bandwidth_khz = 10, sound.half_taps = 400, sound.noise_db = -60;
    sound.hum_db = -45, sound.whistle_db = -65, sound.speed_error_percent = 0.3;
    sound.delay_us = 12, sound.gaps = {{3, 0.05}};
    sound.longer_ms = 120;
    return recipe;
}

// DV rounds what differs from line to line within its blocks, and keeps what goes on smoothly: 25 ns of jitter would
// read 20, and the RMS of 5 ns is lost in what the rounding adds. What is stated covers the truth in any case.
TEST(MeasuredClip, KnowsWhatDvTakesOfJitter) {
    struct Case {
        double random_ns, sine_ns;
    };
    for (const Case& one : {Case{25, 0}, Case{5, 0}, Case{0, 70}}) {
        testsignal::Recipe recipe;
        recipe.system = "625/50", recipe.codec = testsignal::Codec::Dv, recipe.container = "dv";
        recipe.bit_depth = 8, recipe.chroma = testsignal::ChromaSampling::C420;
        recipe.duration_s = 1.2, recipe.seed = 29, recipe.noise.snr_db = 40, recipe.picture.motion_px = 1.1;
        recipe.blanking.emplace(), recipe.time_base.emplace().random_ns = one.random_ns;
        if (one.sine_ns > 0) recipe.time_base->sine_ns = {one.sine_ns}, recipe.time_base->sine_hz = {61.7};
        const fs::path path = fs::path(testing::TempDir()) / "guardband_dv_jitter.dv";
        const auto truth = *testsignal::write_clip(recipe, path.string()).time_base;
        const json figures = json::parse(measure(path, {"--json"}).out).at("figures");
        fs::remove(path);
        for (const auto& [id, true_ns] : {std::pair("time_base_error_rms", truth.time_base_error_rms_ns),
                                          std::pair("line_jitter_rms", truth.line_jitter_rms_ns)}) {
            const json& figure = figures.at(id);
            const double off_ns = figure.at("value").get<double>() - true_ns;
            EXPECT_LE(std::abs(off_ns), std::max(3.0, 0.1 * true_ns)) << id << ", " << true_ns;
            EXPECT_LE(std::abs(off_ns), 2 * figure.at("uncertainty").get<double>()) << id << ", " << true_ns;
        }
    }
}

TEST(MeasuredClip, HearsItsSoundInTheSamePass) {
    const fs::path path = fs::path(testing::TempDir()) / "guardband_HearsItsSound.mkv";
    (void)testsignal::write_clip(with_sound(), path.string());
    const Ended run = measure(path, {"--json"});
    const Ended part = measure(path, {"--json", "--start", "1", "--duration", "1.5"});
    const Ended judged = measure(path, {"--enforce"});
    std::ostringstream identified, complaint;
    const std::vector<std::string> as_evidence{"identify", "--capture", path.string(), "--playing-as", "vhs:625/50:SP"};
    EXPECT_EQ(command_line::run(as_evidence, {identified, complaint}), 0) << complaint.str();
    for (const char* kind : {"sound_bandwidth", "sound_speed_ratio"})
        EXPECT_NE(identified.str().find(kind), std::string::npos) << kind << " is evidence, too: " << identified.str();
    fs::remove(path);
    ASSERT_EQ(run.status, 0) << run.err;
    EXPECT_EQ(judged.status, 3);
    EXPECT_NE(judged.out.find("the sound stops for 50 ms"), std::string::npos) << judged.out;
    const json whole = json::parse(run.out), figures = whole.at("figures");
    EXPECT_EQ(whole.at("input").at("sound_channels"), 2);
    const auto expect = [&](const char* id, double value, double tolerance) {
        ASSERT_TRUE(figures.contains(id)) << id;
        ASSERT_TRUE(figures.at(id).at("value").is_number()) << id << ": " << figures.at(id);
        EXPECT_NEAR(figures.at(id).at("value").get<double>(), value, tolerance) << id;
    };
    expect("hum_frequency", 50.15, 0.01);
    expect("hum_level", -45 + 1.3, 0.6);
    expect("line_whistle_frequency", 15'625 * 1.003, 0.2);
    expect("sound_speed_ratio", 1.003, 2e-5);
    expect("sound_bandwidth", 10, 0.4);
    expect("channel_delay", 12, 0.5);
    expect("channel_correlation", 1, 0.5);
    expect("loudness", -25, 6);
    expect("true_peak", -5, 8);
    expect("sound_gaps", 1, 0);
    expect("sound_picture_difference", 120, 2);
    ASSERT_EQ(part.status, 0) << part.err;
    const json stretch = json::parse(part.out).at("figures");
    EXPECT_EQ(stretch.at("sound_gaps").at("value"), 0);
    EXPECT_NE(stretch.at("sound_picture_difference").at("reason").get<std::string>().find("part"), std::string::npos);
}

TEST(MeasuredClip, WithoutSoundSaysSo) {
    const ClipFile clip(0.2);
    const Ended run = measure(clip.path(), {"--json"});
    const json figures = json::parse(run.out).at("figures");
    for (const char* id :
         {"hum_frequency", "hum_level", "line_whistle_frequency", "sound_speed_ratio", "sound_bandwidth", "loudness",
          "true_peak", "channel_delay", "channel_correlation", "sound_gaps", "sound_picture_difference"})
        EXPECT_EQ(figures.at(id).at("reason"), "the clip has no sound") << id;
}

/// A tape that begins with bars, its colour weak and late, its luma narrow.
testsignal::Recipe narrow_and_late() {
    testsignal::Recipe recipe;
    recipe.duration_s = 2;
    recipe.noise.snr_db = 40;
    recipe.blanking.emplace();
    recipe.picture.luma_bandwidth_mhz = 3;
    recipe.picture.chroma_delay_ns = 180, recipe.picture.tint = 0.15;
    recipe.levels.chroma_gain = 0.8;
    recipe.test_picture.emplace().until_s = 0.8;
    return recipe;
}

TEST(MeasuredClip, HasFrameSharpnessAndBarsInItsJson) {
    const ClipFile clip(narrow_and_late());
    const Ended run = measure(clip.path(), {"--json"});
    ASSERT_EQ(run.status, 0) << run.err;
    const json report = json::parse(run.out), &figures = report.at("figures");
    const auto expect = [&](const char* id, double value, double tolerance, const char* unit, const char* verdict) {
        ASSERT_TRUE(figures.contains(id)) << id;
        const json& figure = figures.at(id);
        ASSERT_TRUE(figure.at("value").is_number()) << id << ": " << figure;
        EXPECT_NEAR(figure.at("value").get<double>(), value, tolerance) << id;
        EXPECT_EQ(figure.at("unit"), unit) << id;
        EXPECT_EQ(figure.at("verdict"), verdict) << id;
    };
    // Each within what its measurement claims.
    expect("active_left", 9.5, 0.5, "pixels", "within");
    expect("active_top", 0, 0.5, "lines", "no limit");
    expect("luma_bandwidth", 3, 0.15, "MHz", "no limit");
    expect("chroma_delay", 180, 10, "ns", "outside");
    expect("chroma_lower", 0, 0.25, "lines", "within");
    expect("bars_luma_error", 0, 0.25, "%", "within");
    expect("bars_chroma_gain", -1.94, 0.05, "dB", "outside");
    expect("bars_chroma_phase", 0, 0.3, "deg", "within");
    const auto is_bars = [](const json& event) { return event.at("kind") == "colour bars"; };
    EXPECT_EQ(std::ranges::count_if(report.at("events"), is_bars), 1);
    EXPECT_EQ(measure(clip.path(), {"--enforce"}).status, 3);
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

/// A tape that was converted from the other standard, played by a machine that loses track and picture.
testsignal::Recipe much_travelled() {
    testsignal::Recipe recipe;
    recipe.duration_s = 3;
    recipe.raster.width = 400, recipe.raster.height = 288;
    recipe.picture.motion_px = 2;
    recipe.noise.snr_db = 40;
    recipe.conversion.emplace();
    recipe.player.blue = {{71, 2}};
    recipe.noise_band = testsignal::NoiseBandSettings{0.5, 0.12, 0, 2.52, 0.24};
    return recipe;
}

TEST(MeasuredClip, TellsItsHistoryAndItsDamage) {
    const fs::path path = fs::path(testing::TempDir()) / "guardband_history.mkv";
    testsignal::write_clip(much_travelled(), path.string());
    const Ended as_json = measure(path, {"--json", "--enforce"}), as_text = measure(path, {});
    fs::remove(path);
    ASSERT_EQ(as_json.status, 3) << as_json.err;  // noise lies outside its limit
    const json report = json::parse(as_json.out);
    EXPECT_NEAR(report.at("figures").at("converted_from").at("value").get<double>(), 60000.0 / 1001, 1e-6);
    EXPECT_EQ(report.at("figures").at("cadence").at("value"), "none");
    EXPECT_EQ(report.at("figures").at("tracking_band").at("verdict"), "outside");
    std::vector<std::string> kinds;
    for (const json& event : report.at("events")) kinds.push_back(event.at("kind"));
    EXPECT_THAT(kinds, testing::ElementsAre("noise band", "drawn picture"));
    for (const char* words : {"History", "converted from", "Damage", "noise bands", "flat blue"})
        EXPECT_THAT(as_text.out, testing::HasSubstr(words));
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
