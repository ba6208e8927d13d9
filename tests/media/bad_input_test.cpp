// Files that are no clips, are cut short, are damaged or mean harm: one line each, or what can be read of them; never a
// crash, a hang or a print.
#include <gmock/gmock.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <array>
#include <random>

#include "media/clip.h"
#include "quantity/errors.h"
#include "support/ffmpeg.h"

namespace guardband::media {
namespace {

using quantity::InputError;
using support::ffmpeg;
using testing::HasSubstr;

/// Reads a file to its end. @returns the error's line, or the number of frames and the reader's trouble
std::string outcome(const std::string& path) {
    try {
        const auto clip = open_clip(path);
        std::int64_t frames = 0;
        while (clip->next()) ++frames;
        return std::to_string(frames) + " frames; " + clip->trouble();
    } catch (const InputError& error) {
        EXPECT_EQ(error.input(), path);
        EXPECT_FALSE(error.fault().empty());
        EXPECT_FALSE(error.remedy().empty());
        EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
        return error.what();
    }
}

class BadInput : public testing::Test {
protected:
    std::string write(const std::string& name, const std::string& text) const {
        support::write_text(folder_.file(name), text);
        return folder_.file(name);
    }

    std::string make(const std::string& name, const std::string& arguments) const {
        ffmpeg(arguments + " " + folder_.file(name));
        return folder_.file(name);
    }

    support::TemporaryFolder folder_;
};

TEST_F(BadInput, WhatIsNoFileAtAll) {
    EXPECT_EQ(outcome(folder_.file("none.mkv")), folder_.file("none.mkv") + ": no such file; check the path");
    EXPECT_THAT(outcome(folder_.file("")), HasSubstr("is a folder"));
    EXPECT_THAT(outcome("/dev/null"), HasSubstr("not a regular file"));
    EXPECT_THAT(outcome("/dev/zero"), HasSubstr("not a regular file"));
    EXPECT_THAT(outcome("http://localhost/clip.mkv"), HasSubstr("no such file"));
    EXPECT_THAT(outcome("concat:a|b"), HasSubstr("no such file"));
    EXPECT_THAT(outcome(write("file", "x") + "/clip.mkv"), HasSubstr("no such file"));
}

TEST_F(BadInput, APipeWithoutAWriterDoesNotHang) {
    ASSERT_EQ(mkfifo(folder_.file("pipe").c_str(), 0600), 0);
    EXPECT_THAT(outcome(folder_.file("pipe")), HasSubstr("not a regular file"));
}

TEST_F(BadInput, WhatIsNoClip) {
    EXPECT_THAT(outcome(write("empty.mkv", "")), HasSubstr("is empty"));
    EXPECT_THAT(outcome(write("one.mkv", "x")), HasSubstr("is not a clip"));
    EXPECT_THAT(outcome(write("notes.txt", "The lighthouse museum's tapes, first shelf.\n")),
                HasSubstr("is not a clip"));
    EXPECT_THAT(outcome(write("notes.mov", std::string(100'000, 'a') + "\n")), HasSubstr("is not a clip"));
    EXPECT_THAT(outcome(write("art.ans", "\x1b[31mred\x1b[0m\n")), HasSubstr("is not a clip"));
    EXPECT_THAT(outcome(write("zeros.dv", std::string(300'000, '\0'))), HasSubstr("is not a clip"));
}

TEST_F(BadInput, APlaylistOpensNothingElse) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string clip = make("real.ts", "-f lavfi -i testsrc2=s=96x80:d=1 -c:v mpeg2video");
    const auto opens_nothing = testing::Not(HasSubstr("frames;"));
    EXPECT_THAT(outcome(write("a.ffconcat", "ffconcat version 1.0\nfile real.ts\n")), opens_nothing);
    const std::string hls = "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n" + clip + "\n#EXT-X-ENDLIST\n";
    for (const char* name : {"a.m3u8", "b.mkv"}) EXPECT_THAT(outcome(write(name, hls)), opens_nothing) << name;
    const std::string dash =
        "<?xml version=\"1.0\"?><MPD xmlns=\"urn:mpeg:dash:schema:mpd:2011\" type=\"static\" "
        "mediaPresentationDuration=\"PT1S\"><Period>"
        "<AdaptationSet mimeType=\"video/mp4\"><Representation id=\"1\" "
        "bandwidth=\"1\"><BaseURL>http://localhost:1/a.mp4</BaseURL>"
        "</Representation></AdaptationSet></Period></MPD>";
    EXPECT_THAT(outcome(write("a.mpd", dash)), opens_nothing);
}

TEST_F(BadInput, SoundAlone) {
    GUARDBAND_NEEDS_FFMPEG();
    EXPECT_THAT(outcome(make("a.wav", "-f lavfi -i sine=d=1")), HasSubstr("has sound but no video"));
}

TEST_F(BadInput, PicturesThatChangeTheirSize) {
    GUARDBAND_NEEDS_FFMPEG();
    auto bytes = support::read_file(make("small.ts", "-f lavfi -i testsrc2=s=320x240:d=1 -c:v mpeg2video"));
    const auto more = support::read_file(make("large.ts", "-f lavfi -i testsrc2=s=640x480:d=1 -c:v mpeg2video"));
    bytes.insert(bytes.end(), more.begin(), more.end());
    support::write_file(folder_.file("both.ts"), bytes);
    EXPECT_THAT(outcome(folder_.file("both.ts")),
                HasSubstr("the picture changes from 320×240 to 640×480; cut it into one file per size"));
}

TEST_F(BadInput, PicturesThatAreTooLarge) {
    GUARDBAND_NEEDS_FFMPEG();
    EXPECT_THAT(outcome(make("wide.mkv", "-f lavfi -i color=s=9000x16:d=0.1 -c:v ffv1")),
                HasSubstr("9000×16 are larger than 8192×8192"));
}

/// Replaces each four bytes that follow `mark` (and `skip` bytes more) in a file.
void patch(const std::string& path, const std::string& mark, std::size_t skip, std::array<unsigned char, 4> value) {
    auto bytes = support::read_file(path);
    const auto* text = reinterpret_cast<const char*>(bytes.data());
    const std::string_view all(text, bytes.size());
    std::size_t found = 0;
    for (std::size_t at = all.find(mark); at != std::string_view::npos; at = all.find(mark, at + 1), ++found)
        for (std::size_t i = 0; i < value.size(); ++i)
            bytes[at + mark.size() + skip + i] = static_cast<std::byte>(value[i]);
    ASSERT_GT(found, 0U);
    support::write_file(path, bytes);
}

// AVI's header holds the rate as two numbers after the stream's kind: scale and rate, 20 bytes behind `vids`.
TEST_F(BadInput, AbsurdRatesAreNotDeclaredRates) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = make("a.avi", "-f lavfi -i testsrc2=s=96x80:d=1 -c:v mjpeg -vtag MJPG");
    for (const std::array<unsigned char, 4> rate : {std::array<unsigned char, 4>{0, 0, 0, 0},
                                                    {0xff, 0xff, 0xff, 0x7f},
                                                    {0xff, 0xff, 0xff, 0xff},
                                                    {1, 0, 0, 0x80}}) {
        patch(path, "vidsMJPG", 16, rate);
        EXPECT_THAT(outcome(path), HasSubstr("")) << "must come back";
        try {
            const auto declared = open_clip(path)->info().declared_frame_rate;
            if (declared) {
                EXPECT_GT(declared->value(), 0);
                EXPECT_LE(declared->value(), 1000);
            }
        } catch (const InputError&) {
        }
    }
}

// Clips of the kinds that captures come in, each cut at many places.
class CutShort : public BadInput, public testing::WithParamInterface<std::pair<const char*, const char*>> {};

INSTANTIATE_TEST_SUITE_P(Kinds, CutShort,
                         testing::Values(std::pair("a.mkv", "-c:v ffv1 -level 3 -slices 4 -slicecrc 1 -g 1"),
                                         std::pair("a.avi", "-c:v ffv1 -level 3"),
                                         std::pair("a.mov", "-c:v v210 -movflags +faststart"),
                                         std::pair("a.dv", "-s 720x576 -pix_fmt yuv420p -c:v dvvideo"),
                                         std::pair("a.mpg", "-pix_fmt yuv420p -c:v mpeg2video"),
                                         std::pair("a.ts", "-pix_fmt yuv420p -c:v libx264 -preset ultrafast"),
                                         std::pair("a.mxf", "-pix_fmt yuv422p -c:v mpeg2video")),
                         [](const auto& kind) { return std::string(kind.param.first).substr(2); });

TEST_P(CutShort, GivesWhatIsThereAndSaysSo) {
    GUARDBAND_NEEDS_FFMPEG();
    const auto& [name, codec] = GetParam();
    const auto whole = support::read_file(
        make(name, std::string("-f lavfi -i testsrc2=s=192x160:r=25:d=2,format=yuv422p10 ") + codec));
    const std::string path = folder_.file(std::string("cut") + (name + 1));
    EXPECT_EQ(outcome(folder_.file(name)), "50 frames; ");
    for (const int percent : {90, 60, 30}) {
        auto cut = whole;
        cut.resize(whole.size() * static_cast<std::size_t>(percent) / 100 -
                   777);  // within a frame: DV has no header that counts them
        support::write_file(path, cut);
        const std::string result = outcome(path);
        EXPECT_THAT(result, testing::Not(HasSubstr("50 frames"))) << percent;
        EXPECT_THAT(result, testing::Not(testing::EndsWith("frames; ")))
            << percent << " %: says nothing of what is missing";
    }
    for (const std::size_t length : {1, 3, 4, 16, 64, 200, 1000, 5000}) {
        auto cut = whole;
        cut.resize(length);
        support::write_file(path, cut);
        outcome(path);
    }
}

TEST_P(CutShort, BearsDamageAnywhere) {
    GUARDBAND_NEEDS_FFMPEG();
    const auto& [name, codec] = GetParam();
    const auto whole = support::read_file(
        make(name, std::string("-f lavfi -i testsrc2=s=192x160:r=25:d=0.4,format=yuv422p10 ") + codec));
    const std::string path = folder_.file(std::string("hurt") + (name + 1));
    std::mt19937 random(7);
    for (int trial = 0; trial < 30; ++trial) {
        auto hurt = whole;
        // Half of the trials hurt headers: the first 2000 bytes; the others all of it. Every third also replaces the
        // rest by noise.
        const std::size_t reach = trial % 2 == 0 ? std::min<std::size_t>(2000, hurt.size()) : hurt.size();
        for (int i = 0; i < 1 + trial; ++i) hurt[random() % reach] = static_cast<std::byte>(random());
        if (trial % 3 == 0)
            for (std::size_t i = 1500 + random() % 1000; i < hurt.size(); ++i)
                hurt[i] = static_cast<std::byte>(random());
        support::write_file(path, hurt);
        outcome(path);
    }
}

std::int64_t peak_kib() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

TEST_F(BadInput, MemoryDoesNotGrowWithLength) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = make("long.mpg", "-f lavfi -i testsrc2=s=720x576:r=25:d=40 -c:v mpeg2video -g 15");
    ReadOptions options;
    options.duration_s = 4;
    const auto shorter = open_clip(path, options);
    while (shorter->next()) {
    }
    const std::int64_t after_100_frames = peak_kib();
    EXPECT_EQ(outcome(path), "1000 frames; ");
    // Nine hundred frames more take 560 MB. A fifth of that leaves room for what memory checkers hold back.
    EXPECT_LT(peak_kib() - after_100_frames, 110'000);
}

}  // namespace
}  // namespace guardband::media
