// `scan` and `field_order` on pictures that we didn't make: FFmpeg's sources of known scan, and the package
// forensics-samples-files (photographs and short progressive clips by its author, CC-BY-SA-4.0). Each verdict of
// FFmpeg's filter `idet` that is right must be ours, too.
#include <gmock/gmock.h>

#include <filesystem>
#include <fstream>

#include "measure/clip/interlace.h"
#include "media/clip.h"
#include "support/ffmpeg.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

struct Verdict {
    std::string scan, order;
    friend bool operator==(const Verdict&, const Verdict&) = default;
    friend void PrintTo(const Verdict& v, std::ostream* out) { *out << v.scan << ", " << v.order; }
};

Verdict measure(const std::string& path) {
    support::MadeContext made;
    const auto clip = media::open_clip(path);
    made.info = clip->info();
    FeatureExtractor extractor(clip->info().picture);
    Interlace interlace(made.context);
    while (const auto frame = clip->next()) interlace.see(*frame, extractor.extract(*frame));
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    interlace.finish(figures, events);
    const auto text = [&figures](const char* id) {
        const auto& figure = *figures.find(id);
        return figure.is_known() ? std::get<std::string>(figure.value()) : std::string("unknown");
    };
    return {text("scan"), text("field_order")};
}

/// What `idet`'s counts over the whole clip (several frames at a time) come to.
Verdict ask_idet(const std::string& path, const support::TemporaryFolder& folder) {
    const std::string log = folder.file("idet.txt");
    support::ffmpeg("-i '" + path + "' -an -vf idet,metadata=print:file='" + log + "' -f null -");
    std::ifstream in(log);
    double top = 0, bottom = 0, progressive = 0, undetermined = 0;
    for (std::string line; std::getline(in, line);) {
        const auto value = [&line](const std::string& key, double& to) {
            if (line.starts_with("lavfi.idet.multiple." + key + "=")) to = std::stod(line.substr(line.find('=') + 1));
        };
        value("tff", top), value("bff", bottom), value("progressive", progressive), value("undetermined", undetermined);
    }
    if (undetermined > top + bottom + progressive) return {"unknown", "unknown"};
    if (progressive > top + bottom) return {"progressive", "unknown"};
    return {"interlaced", top > bottom ? "top first" : "bottom first"};
}

struct Source {
    std::string name, file, arguments;
    Verdict truth;
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class InterlaceOfFfmpeg : public testing::TestWithParam<Source> {};

TEST_P(InterlaceOfFfmpeg, IsRightAndNeverWorseThanIdet) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file(GetParam().file);
    support::ffmpeg(GetParam().arguments + " '" + path + "'");
    const Verdict ours = measure(path), theirs = ask_idet(path, folder);
    EXPECT_EQ(ours, GetParam().truth);
    EXPECT_TRUE(ours == GetParam().truth || theirs != GetParam().truth) << "worse than idet";
    RecordProperty("idet", theirs.scan + ", " + theirs.order);
}

// Noise on which the codec spends its bits is new in each frame, as movement is, and the same in both of its fields.
TEST(InterlaceOfFfmpeg, NoiseOfACodecIsNotProgressive) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file("a.dv");
    support::ffmpeg(
        "-f lavfi -i testsrc2=s=720x480:r=60000/1001:d=1.2,noise=c0s=5:c0f=t,format=yuv422p,"
        "tinterlace=mode=interleave_bottom,scale=interl=1,format=yuv411p,setfield=bff -c:v dvvideo '" +
        path + "'");
    EXPECT_NE(measure(path).scan, "progressive");
}

const std::string fields_50 = "-f lavfi -i testsrc2=s=720x576:r=50:d=0.6,format=yuv422p10,";
const std::string frames_25 = "-f lavfi -i testsrc2=s=720x576:r=25:d=1.2,format=yuv422p10";
const std::string still_25 =
    "-f lavfi -i testsrc2=s=720x576:r=25:d=1,trim=end_frame=1,loop=loop=14:size=1,setpts=N/25/TB";
const std::string ffv1 = " -c:v ffv1 -level 3 -g 1";
const std::string dv = " -c:v dvvideo -f dv",
                  mpeg2 = " -c:v mpeg2video -flags +ildct+ilme -top 1 -b:v 8M -maxrate 9M -bufsize 1835k -g 15";
const Verdict top_first{"interlaced", "top first"}, bottom_first{"interlaced", "bottom first"},
    progressive{"progressive", "unknown"}, mixed{"mixed", "top first"}, unknown{"unknown", "unknown"};

INSTANTIATE_TEST_SUITE_P(
    Sources, InterlaceOfFfmpeg,
    testing::Values(
        Source{"top first", "a.mkv",
               fields_50 + "tinterlace=mode=interleave_top,setfield=tff" + ffv1 + " -field_order tt", top_first},
        Source{"bottom first", "a.mkv",
               fields_50 + "tinterlace=mode=interleave_bottom,setfield=bff" + ffv1 + " -field_order bb", bottom_first},
        Source{"wrongly flagged", "a.mkv",
               fields_50 + "tinterlace=mode=interleave_top,setfield=bff" + ffv1 + " -field_order bb", top_first},
        Source{"moved by a line", "a.mkv",
               fields_50 + "tinterlace=mode=interleave_top,setfield=tff,fieldorder=bff" + ffv1, bottom_first},
        Source{
            "lines exchanged", "a.mkv",
            fields_50 +
                "tinterlace=mode=interleave_top,separatefields,shuffleframes='1 0',weave=first_field=top,setfield=tff" +
                ffv1,
            bottom_first},
        Source{"525 lines, uncompressed", "a.mov",
               "-f lavfi -i "
               "testsrc2=s=720x486:r=60000/1001:d=0.6,format=yuv422p10,tinterlace=mode=interleave_bottom,setfield=bff "
               "-c:v v210",
               bottom_first},
        Source{"progressive", "a.mkv", frames_25 + ffv1, progressive},
        Source{"progressive in fields", "a.mkv", frames_25 + ",setfield=tff" + ffv1 + " -field_order tt", progressive},
        Source{
            "2:3 pull-down", "a.mkv",
            "-f lavfi -i "
            "testsrc2=s=720x480:r=24000/1001:d=1.6,format=yuv422p10,telecine=first_field=top:pattern=23,setfield=tff" +
                ffv1,
            mixed},
        Source{"24 to 25 by field", "a.mkv",
               "-f lavfi -i "
               "testsrc2=s=720x576:r=24:d=2.5,format=yuv422p10,telecine=first_field=top:pattern=222222222223,setfield="
               "tff" +
                   ffv1,
               mixed},
        Source{"repeated frames", "a.mkv", frames_25 + ",shuffleframes='0 1 2 3 4 5 6 7 8 8'" + ffv1, progressive},
        Source{"DV 625", "a.dv", fields_50 + "tinterlace=mode=interleave_bottom,setfield=bff -pix_fmt yuv420p" + dv,
               bottom_first},
        Source{"DV 525", "a.dv",
               "-f lavfi -i testsrc2=s=720x480:r=60000/1001:d=0.6,tinterlace=mode=interleave_bottom,setfield=bff "
               "-pix_fmt yuv411p" +
                   dv,
               bottom_first},
        Source{"DV progressive", "a.dv", frames_25 + " -pix_fmt yuv420p" + dv, progressive},
        Source{"MPEG-2", "a.mpg", fields_50 + "tinterlace=mode=interleave_top,setfield=tff -pix_fmt yuv420p" + mpeg2,
               top_first},
        Source{
            "noisy zoom", "a.mkv",
            "-f lavfi -i "
            "mandelbrot=s=720x576:r=50:maxiter=300:end_scale=0.003:end_pts=1500,noise=alls=6:allf=t,format=yuv422p10,"
            "tinterlace=mode=interleave_top,setfield=tff -t 0.6" +
                ffv1,
            top_first},
        Source{"still", "a.mkv", still_25 + ",format=yuv422p10" + ffv1, unknown},
        Source{"still with noise", "a.mkv", still_25 + ",noise=alls=12:allf=t,format=yuv422p10" + ffv1, unknown},
        // Codecs that work on both fields at once make noise alike in both.
        Source{"still with noise, DV", "a.dv", still_25 + ",noise=alls=12:allf=t -pix_fmt yuv420p" + dv, unknown},
        Source{"still with noise, MPEG-2", "a.mpg", still_25 + ",noise=alls=12:allf=t -pix_fmt yuv420p" + mpeg2,
               unknown}));

const std::string samples = "/usr/share/forensics-samples/original-files/";

#define NEEDS_SAMPLES()                    \
    if (!std::filesystem::exists(samples)) \
    GTEST_SKIP() << "the package forensics-samples-files is not installed, whose pictures this test uses"

/// Photographs with the texture and contrast of real scenes, panned by a whole sample of an enlarged picture per field,
/// so by `px` of the clip's.
TEST(InterlaceOfPhotographs, PannedAndInterlacedByFfmpegAreRight) {
    GUARDBAND_NEEDS_FFMPEG();
    NEEDS_SAMPLES();
    const support::TemporaryFolder folder;
    for (const std::string photograph :
         {"pic1/IMG_1054.JPG", "pic1/IMG_20200827_231612.jpg", "pic2/IMG_20191224_234846.jpg"})
        for (const int enlarged : {1, 2}) {  // steps of 1 and 0.5 pixel per field
            const std::string path = folder.file("panned.mkv");
            const auto size = [enlarged](int samples_of_clip) { return std::to_string(samples_of_clip * enlarged); };
            support::ffmpeg("-i " + samples + photograph + " -vf \"scale=" + size(1080) +
                            ":-2,format=gray,loop=loop=40:size=1,crop=" + size(720) + ":" + size(576) +
                            ":x=n:y=40:exact=1,scale=720:576:flags=area,noise=c0s=14:c0f=t,"
                            "tinterlace=mode=interleave_bottom,format=gray\" -c:v ffv1 '" +
                            path + "'");
            const Verdict ours = measure(path), theirs = ask_idet(path, folder);
            EXPECT_EQ(ours, bottom_first) << photograph << ", enlarged " << enlarged;
            EXPECT_TRUE(ours == bottom_first || theirs != bottom_first) << "worse than idet";
        }
}

/// Every second field stands three samples aside, more than it moves: by combing alone one of the two is the other
/// order. All of a photograph moves alike, so that nothing can show it.
TEST(InterlaceOfPhotographs, FieldsThatLieBesideEachOtherAreNotTakenForTheOtherOrder) {
    GUARDBAND_NEEDS_FFMPEG();
    NEEDS_SAMPLES();
    const support::TemporaryFolder folder;
    for (const std::string aside : {"-3", "3"}) {
        const std::string path = folder.file("aside.mkv");
        support::ffmpeg("-i " + samples +
                        "pic1/IMG_1054.JPG -vf \"scale=1080:-2,format=gray,loop=loop=40:size=1,crop=720:576:x=4+n+" +
                        aside +
                        "*mod(n\\,2):y=40:exact=1,noise=c0s=14:c0f=t,tinterlace=mode=interleave_bottom,format=gray\" "
                        "-c:v ffv1 '" +
                        path + "'");
        const Verdict ours = measure(path);
        EXPECT_NE(ours.order, "top first") << aside;
        EXPECT_NE(ours.scan, "progressive") << aside;
    }
}

TEST(InterlaceOfFootage, IsProgressive) {
    NEEDS_SAMPLES();
    // A telephone's 1080p, and a recorded presentation in four encodings.
    for (const std::string file : {"movie1/VID_20191220_170832.mp4", "movie2/movie-hello.avi", "movie2/movie-hello.mp4",
                                   "movie2/movie-hello.mpeg", "movie2/movie-hello.ogg"})
        EXPECT_EQ(measure(samples + file), progressive) << file;
    // Street surveillance at 10 frames/s and a hand-held tree, of the package opencv-doc.
    const std::string more = "/usr/share/doc/opencv-doc/examples/data/";
    for (const std::string file : {"vtest.avi", "tree.avi"}) {
        if (!std::filesystem::exists(more + file))
            GTEST_SKIP() << "the package opencv-doc is not installed; the other clips passed";
        EXPECT_EQ(measure(more + file), progressive) << file;
    }
}

}  // namespace
}  // namespace guardband::measure
