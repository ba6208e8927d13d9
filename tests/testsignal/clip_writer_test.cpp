// What we write, as FFmpeg's own programs read it.
#include "testsignal/clip_writer.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "quantity/errors.h"
#include "shell.h"

namespace guardband::testsignal {
namespace {

class ClipFile : public testing::Test {
protected:
    void SetUp() override {
        if (!has_ffmpeg()) GTEST_SKIP() << "the programs ffmpeg and ffprobe are not installed";
        silence_libav();
    }

    std::string written(const Recipe& r) {
        std::string path = folder_ / (r.name + "." + r.container);
        write_clip(r, path);
        return path;
    }
    static nlohmann::json probed(const std::string& path) {
        return nlohmann::json::parse(
            output_of("ffprobe -v error -of json -show_streams -show_frames -select_streams v " + path));
    }
    /// All decoded samples, planar, low byte first.
    static std::string decoded(const std::string& path) {
        return output_of("ffmpeg -v error -i " + path + " -an -vsync passthrough -f rawvideo -");
    }

    TemporaryFolder folder_;
};

Recipe small(Codec codec = Codec::Ffv1, std::string container = "mkv") {
    Recipe r;
    r.raster.width = 192, r.raster.height = 144;
    r.duration_s = 0.4;
    r.noise.snr_db = 35;
    r.codec = codec, r.container = std::move(container);
    return r;
}

Recipe dv(bool american, std::string container = "dv") {
    Recipe r = small(Codec::Dv, std::move(container));
    r.system = american ? "525/60" : "625/50";
    r.raster.width = 720, r.raster.height = american ? 480 : 576;
    r.raster.frame_rate = american ? quantity::Rational(30000, 1001) : quantity::Rational(25);
    r.chroma = american ? ChromaSampling::C411 : ChromaSampling::C420;
    r.bit_depth = 8;
    r.field_order = FieldOrder::BottomFirst;
    return r;
}

/// The samples of all frames as the decoder gives them.
std::string made(const Recipe& r) {
    ClipMaker maker(r);
    ClipFrame frame;
    std::string out;
    while (maker.next(frame))
        for (const auto& plane : frame.planes)
            for (const std::uint16_t sample : plane.samples) {
                out.push_back(static_cast<char>(sample & 255U));
                if (r.bit_depth > 8) out.push_back(static_cast<char>(sample >> 8U));
            }
    return out;
}

TEST_F(ClipFile, LosslessCodecsKeepEverySample) {
    Recipe eight = small();
    eight.bit_depth = 8;
    Recipe quarter = eight;
    quarter.chroma = ChromaSampling::C411;
    Recipe half = small();
    half.chroma = ChromaSampling::C420;
    for (const auto& r : {small(), eight, quarter, half, small(Codec::Ffv1, "mov"), small(Codec::Ffv1, "nut"),
                          small(Codec::Ffv1, "avi"), small(Codec::V210, "mov"), small(Codec::V210, "avi")})
        EXPECT_TRUE(decoded(written(r)) == made(r)) << r.container << " " << r.bit_depth;
}

TEST_F(ClipFile, DvKeepsThePictures) {
    for (const bool american : {false, true}) {
        const Recipe r = dv(american);
        const std::string got = decoded(written(r)), expected = made(r);
        ASSERT_EQ(got.size(), expected.size());
        double sum = 0;
        for (std::size_t i = 0; i < got.size(); ++i)
            sum += std::pow(static_cast<std::uint8_t>(got[i]) - static_cast<std::uint8_t>(expected[i]), 2);
        // 5:1 compression of noise at 35 dB leaves it 35 dB or better; pictures out of place would leave less than 20.
        EXPECT_GT(10 * std::log10(255 * 255 / (sum / static_cast<double>(got.size()))), 33) << american;
    }
}

TEST_F(ClipFile, FrameCountRateAndStampsAreAsAsked) {
    Recipe r = small(Codec::Ffv1, "mov");
    r.raster.frame_rate = {30000, 1001};
    const auto info = probed(written(r));
    EXPECT_EQ(info["streams"][0]["avg_frame_rate"], "30000/1001");
    ASSERT_EQ(info["frames"].size(), 12U);
    for (std::size_t n = 0; n < 12; ++n)
        EXPECT_NEAR(std::stod(info["frames"][n]["pts_time"].get<std::string>()), static_cast<double>(n) * 1001 / 30000,
                    1e-6);
}

TEST_F(ClipFile, MissingFramesLeaveGapsInTheStamps) {
    for (const bool keep_gap : {true, false}) {
        Recipe r = small();
        r.faults.missing_frames = {3, 4};
        r.faults.stamps_keep_gap = keep_gap;
        const auto frames = probed(written(r))["frames"];
        ASSERT_EQ(frames.size(), 8U);
        const auto stamp = [&](std::size_t n) { return std::stod(frames[n]["pts_time"].get<std::string>()); };
        EXPECT_NEAR(stamp(3) - stamp(2), keep_gap ? 0.12 : 0.04, 1e-6);
        EXPECT_NEAR(stamp(7) - stamp(6), 0.04, 1e-6);
    }
}

TEST_F(ClipFile, StampsAreRoundedAndJitteredAsTheMakerSays) {
    for (const std::string container : {"mkv", "mov", "nut"}) {
        Recipe r = small(Codec::Ffv1, container);
        r.raster.frame_rate = {30000, 1001};
        r.stamps.rounding_ms = 1, r.stamps.jitter_rms_ms = 3;
        const auto frames = probed(written(r))["frames"];
        ClipMaker maker(r);
        ClipFrame frame;
        for (std::size_t n = 0; n < frames.size(); ++n) {
            maker.make(static_cast<std::int64_t>(n), frame);
            EXPECT_NEAR(std::stod(frames[n]["pts_time"].get<std::string>()), frame.time_s, 2e-6)
                << container << " " << n;
        }
    }
}

TEST_F(ClipFile, TheOrderIsDeclaredAsAsked) {
    const auto declared = [&](Recipe r, std::optional<DeclaredOrder> order) {
        r.declared_order = order;
        return probed(written(r))["streams"][0].value("field_order", "none");
    };
    for (const auto& r : {small(), small(Codec::V210, "mov"), small(Codec::Ffv1, "nut")}) {
        if (r.container == "nut") continue;  // has no place for it
        EXPECT_EQ(declared(r, std::nullopt), "tt") << r.container;
        EXPECT_EQ(declared(r, DeclaredOrder::BottomFirst), "bb") << r.container;
        EXPECT_EQ(declared(r, DeclaredOrder::Progressive), "progressive") << r.container;
    }
    // libavformat 5.1 writes "undetermined" into Matroska as no entry; FFmpeg reads that back as unknown
    EXPECT_THAT(declared(small(), DeclaredOrder::Unknown), testing::AnyOf("unknown", "none"));
}

TEST_F(ClipFile, DvFramesSayBottomFirst) {
    const auto frame = probed(written(dv(false)))["frames"][0];
    EXPECT_EQ(frame["interlaced_frame"], 1);
    EXPECT_EQ(frame["top_field_first"], 0);
}

TEST_F(ClipFile, DvGoesIntoItsThreeContainers) {
    for (const std::string container : {"dv", "avi", "mov"}) {
        Recipe r = dv(true, container);
        r.duration_s = 0.2;
        const auto info = probed(written(r));
        EXPECT_EQ(info["streams"][0]["codec_name"], "dvvideo") << container;
        EXPECT_EQ(info["streams"][0]["pix_fmt"], "yuv411p") << container;
        EXPECT_EQ(info["frames"].size(), 6U) << container;
    }
}

/// Counts of FFmpeg's idet, which looks at the pictures alone: top first, bottom first, progressive.
std::array<int, 3> interlace_counts(const std::string& path) {
    const std::string log = output_of("ffmpeg -nostats -hide_banner -i " + path + " -an -vf idet -f null - 2>&1");
    std::array<int, 3> counts{-1, -1, -1};
    const auto line = log.find("Multi frame detection:");
    if (line != std::string::npos)
        std::sscanf(log.c_str() + line, "Multi frame detection: TFF: %d BFF: %d Progressive: %d", &counts[0],
                    &counts[1], &counts[2]);
    return counts;
}

TEST_F(ClipFile, IdetSeesTheScanThatWasDrawn) {
    using testing::ElementsAre;
    Recipe top = small();
    top.raster.width = 360, top.raster.height = 288;
    top.picture.motion_px = 2;
    Recipe bottom = top;
    bottom.field_order = FieldOrder::BottomFirst;
    bottom.declared_order = DeclaredOrder::TopFirst;  // the picture counts, not the flag
    Recipe progressive = top;
    progressive.scan = Scan::Progressive;
    Recipe segmented = top;
    segmented.pulldown = {2};
    EXPECT_THAT(interlace_counts(written(top)), ElementsAre(10, 0, 0));
    EXPECT_THAT(interlace_counts(written(bottom)), ElementsAre(0, 10, 0));
    // of a progressive clip it leaves the first frame undecided
    EXPECT_THAT(interlace_counts(written(progressive)), ElementsAre(0, 0, testing::Ge(9)));
    EXPECT_THAT(interlace_counts(written(segmented)), ElementsAre(0, 0, testing::Ge(9)));
    EXPECT_THAT(interlace_counts(written(dv(false))), ElementsAre(0, 10, 0));
}

// idet reports fields that repeat the one two before; of 2:3 pull-down it should see two in ten.
TEST_F(ClipFile, IdetSeesThePullDown) {
    Recipe r = small();
    r.raster.width = 360, r.raster.height = 288;
    r.duration_s = 2;
    r.picture.motion_px = 3;
    r.pulldown = {2, 3};
    r.noise.snr_db.reset();
    const std::string log = output_of("ffmpeg -nostats -hide_banner -i " + written(r) + " -an -vf idet -f null - 2>&1");
    int neither = -1, top = -1, bottom = -1;
    const auto line = log.find("Repeated Fields:");
    ASSERT_NE(line, std::string::npos);
    std::sscanf(log.c_str() + line, "Repeated Fields: Neither: %d Top: %d Bottom: %d", &neither, &top, &bottom);
    const auto truth = ClipMaker(r).truth();
    EXPECT_EQ(truth.repeated_fields.size(), 20U);
    EXPECT_NEAR(top + bottom, static_cast<int>(truth.repeated_fields.size()), 2);  // idet takes a few frames to settle
}

TEST_F(ClipFile, HasATone) {
    for (const auto& recipe : {small(Codec::Ffv1, "mkv"), small(Codec::V210, "mov"), dv(false)}) {
        Recipe r = recipe;
        r.sound = true;
        r.duration_s = 1;
        const std::string log = output_of("ffmpeg -nostats -hide_banner -i " + written(r) +
                                          " -vn -af astats=measure_perchannel=none -f null - 2>&1");
        const auto value = [&](const std::string& name) { return std::stod(log.substr(log.find(name) + name.size())); };
        EXPECT_NEAR(value("Peak level dB:"), -18.06, 0.05) << r.container;
        EXPECT_NEAR(value("RMS level dB:"), -21.07, 0.05) << r.container;
        EXPECT_NEAR(value("Number of samples:"), 48000, 0) << r.container;
    }
}

std::string bytes_of(const std::string& path) {
    std::ostringstream out;
    out << std::ifstream(path, std::ios::binary).rdbuf();
    return out.str();
}

TEST(ClipWriter, TheSameRecipeGivesTheSameFile) {
    TemporaryFolder folder;
    for (const auto& r : {small(), small(Codec::V210, "mov"), small(Codec::Ffv1, "nut"), dv(true)}) {
        const std::string a = folder / "a", b = folder / "b";
        write_clip(r, a);
        write_clip(r, b);
        EXPECT_FALSE(bytes_of(a).empty());
        EXPECT_TRUE(bytes_of(a) == bytes_of(b)) << r.container;
    }
}

TEST(ClipWriter, LeavesNothingWhenItIsNotFinished) {
    TemporaryFolder folder;
    {
        ClipWriter writer(small(), folder / "clip.mkv");
        ClipMaker maker(small());
        ClipFrame frame;
        maker.next(frame);
        writer.write(frame);
        EXPECT_EQ(folder.file_count(), 1U);
    }
    EXPECT_EQ(folder.file_count(), 0U);
}

TEST(ClipWriter, SaysWhenItCannotWrite) {
    silence_libav();
    EXPECT_THROW(ClipWriter(small(), "/no/such/folder/clip.mkv"), quantity::InputError);
    TemporaryFolder folder;
    Recipe odd = dv(false);
    odd.raster.height = 480;  // a size that DV has not
    EXPECT_THROW(ClipWriter(odd, folder / "clip.dv"), quantity::InputError);
    EXPECT_EQ(folder.file_count(), 0U);
}

}  // namespace
}  // namespace guardband::testsignal
