// What a reader hands out against what the ffmpeg command writes as raw video of the same clip, sample for sample.
#include <gmock/gmock.h>

#include "media/clip.h"
#include "media/picture.h"
#include "support/ffmpeg.h"

namespace guardband::media {
namespace {

using support::ffmpeg;

struct Kind {
    std::string name;      ///< of the test
    std::string stored;    ///< pixel format that the clip is made in
    std::string codec;     ///< encoder and its options
    std::string file;      ///< name with the container's extension
    std::string expected;  ///< planar pixel format that frames must come in
    int bit_depth = 8;
    int chroma_shift_x = 1, chroma_shift_y = 0;
    bool has_chroma = true;
    int width = 150, height = 98;  ///< not multiples of 16: edges count too
};

std::ostream& operator<<(std::ostream& out, const Kind& kind) { return out << kind.name; }

class PictureOf : public testing::TestWithParam<Kind> {
protected:
    void SetUp() override { GUARDBAND_NEEDS_FFMPEG(); }
    support::TemporaryFolder folder_;
};

// clang-format off
INSTANTIATE_TEST_SUITE_P(Kinds, PictureOf, testing::Values(
    Kind{"ffv1_422_10", "yuv422p10le", "ffv1 -level 3", "a.mkv", "yuv422p10le", 10},
    Kind{"ffv1_420_8", "yuv420p", "ffv1", "a.mkv", "yuv420p", 8, 1, 1},
    Kind{"ffv1_444_12", "yuv444p12le", "ffv1", "a.mkv", "yuv444p12le", 12, 0, 0},
    Kind{"ffv1_422_9", "yuv422p9le", "ffv1", "a.mkv", "yuv422p9le", 9},
    Kind{"ffv1_411", "yuv411p", "ffv1", "a.mkv", "yuv411p", 8, 2, 0},
    Kind{"ffv1_alpha", "yuva422p10le", "ffv1", "a.mkv", "yuv422p10le", 10},
    Kind{"v210", "yuv422p10le", "v210", "a.mov", "yuv422p10le", 10},
    Kind{"dv_pal", "yuv420p", "dvvideo", "a.dv", "yuv420p", 8, 1, 1, true, 720, 576},
    Kind{"dv_ntsc", "yuv411p", "dvvideo", "a.dv", "yuv411p", 8, 2, 0, true, 720, 480},
    Kind{"mpeg2_422", "yuv422p", "mpeg2video -qscale 2", "a.mpg", "yuv422p", 8, 1, 0, true, 144, 96},
    Kind{"jpeg", "yuvj422p", "mjpeg -qscale 2", "a.avi", "yuvj422p"},
    Kind{"h264", "yuv420p", "libx264 -preset ultrafast", "a.mp4", "yuv420p", 8, 1, 1},
    Kind{"grey", "gray", "ffv1", "a.mkv", "gray", 8, 0, 0, false},
    Kind{"grey_10", "gray10le", "ffv1", "a.mkv", "gray10le", 10, 0, 0, false},
    Kind{"grey_16", "gray16le", "ffv1", "a.mkv", "gray12le", 12, 0, 0, false},
    Kind{"uyvy", "uyvy422", "rawvideo", "a.mov", "yuv422p"},
    Kind{"yuyv", "yuyv422", "rawvideo", "a.nut", "yuv422p"},
    Kind{"nv12", "nv12", "rawvideo", "a.nut", "yuv420p", 8, 1, 1},
    Kind{"big_endian", "yuv422p10be", "rawvideo", "a.nut", "yuv422p10le", 10},
    Kind{"ffv1_422_14", "yuv422p14le", "ffv1", "a.mkv", "yuv422p12le", 12},
    Kind{"ffv1_422_16", "yuv422p16le", "ffv1", "a.mkv", "yuv422p12le", 12},
    Kind{"rgb24", "rgb24", "rawvideo", "a.nut", "yuv444p", 8, 0, 0},
    Kind{"bgr_in_avi", "bgr24", "rawvideo", "a.avi", "yuv444p", 8, 0, 0},
    Kind{"gbr_10", "gbrp10le", "ffv1", "a.mkv", "yuv444p10le", 10, 0, 0},
    Kind{"palette", "pal8", "rawvideo", "a.nut", "yuv444p", 8, 0, 0}),
    [](const auto& kind) { return kind.param.name; });
// clang-format on

/// The plane's samples, row after row without gaps.
void append(std::vector<std::byte>& bytes, const Plane& plane, int sample_bytes) {
    for (int y = 0; y < plane.height; ++y)
        bytes.insert(bytes.end(), plane.row(y), plane.row(y) + static_cast<std::ptrdiff_t>(plane.width) * sample_bytes);
}

/// All frames as raw video.
std::vector<std::byte> raw_video(ClipReader& clip) {
    std::vector<std::byte> bytes;
    while (const auto frame = clip.next())
        for (const Plane& plane : frame->planes) append(bytes, plane, frame->format.bit_depth > 8 ? 2 : 1);
    return bytes;
}

TEST_P(PictureOf, IsWhatTheFfmpegCommandDecodes) {
    const Kind& kind = GetParam();
    const std::string clip = folder_.file(kind.file), raw = folder_.file("raw.yuv");
    const std::string rate = kind.height == 480 ? "30000/1001" : "25";
    ffmpeg("-f lavfi -i testsrc2=s=" + std::to_string(kind.width) + "x" + std::to_string(kind.height) + ":r=" + rate +
           " -frames:v 4 -pix_fmt " + kind.stored + " -c:v " + kind.codec + " " + clip);
    ffmpeg("-i " + clip + " -f rawvideo -sws_flags bicubic+accurate_rnd+full_chroma_inp -pix_fmt " + kind.expected +
           " " + raw);
    const auto reader = open_clip(clip);
    const PictureFormat& picture = reader->info().picture;
    EXPECT_EQ(picture.width, kind.width);
    EXPECT_EQ(picture.height, kind.height);
    EXPECT_EQ(picture.bit_depth, kind.bit_depth);
    EXPECT_EQ(picture.has_chroma, kind.has_chroma);
    EXPECT_EQ(picture.chroma_shift_x, kind.chroma_shift_x);
    EXPECT_EQ(picture.chroma_shift_y, kind.chroma_shift_y);
    EXPECT_TRUE(raw_video(*reader) == support::read_file(raw));
}

TEST(Picture, IsPlanarAndLosesNoDepthBelow12) {
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_P010), AV_PIX_FMT_YUV420P10);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_Y210), AV_PIX_FMT_YUV422P10);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_AYUV64), AV_PIX_FMT_YUV444P12);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_RGB48), AV_PIX_FMT_YUV444P12);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_MONOBLACK), AV_PIX_FMT_GRAY8);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_YA8), AV_PIX_FMT_GRAY8);
    EXPECT_EQ(planar_format_for(AV_PIX_FMT_VAAPI), AV_PIX_FMT_NONE);
}

TEST(Picture, SaysWhetherTheFileDeclaresFullRange) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string source = "-f lavfi -i testsrc2=s=96x64:d=0.1 -vf scale=out_range=",
                      codec = " -pix_fmt yuv422p -c:v ffv1 ";
    ffmpeg(source + "full" + codec + "-color_range pc " + folder.file("full.mkv"));
    ffmpeg(source + "limited" + codec + "-color_range tv " + folder.file("limited.mkv"));
    EXPECT_TRUE(open_clip(folder.file("full.mkv"))->info().picture.full_range);
    EXPECT_FALSE(open_clip(folder.file("limited.mkv"))->info().picture.full_range);
    ffmpeg("-f lavfi -i testsrc2=s=96x64:d=0.1 -pix_fmt yuvj422p -c:v mjpeg " +
           folder.file("jpeg.avi"));  // JFIF's range
    EXPECT_TRUE(open_clip(folder.file("jpeg.avi"))->info().picture.full_range);
}

}  // namespace
}  // namespace guardband::media
