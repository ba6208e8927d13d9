#include "measure/pass.h"

#include <gmock/gmock.h>

#include "measure/registry.h"
#include "support/clip_frames.h"

namespace guardband::measure {
namespace {

/// A clip made in memory: grey pictures at 25 frames/s, one frame missing after the tenth.
class MadeClip final : public media::ClipReader {
public:
    explicit MadeClip(std::int64_t frames) : frames_(frames) {
        info_.picture = support::luma_format(720, 576, 8);
        info_.time_base = quantity::Rational(1, 1000);
        info_.declared_order = media::DeclaredOrder::TopFirst;
        info_.file_bytes = 1000;
    }

    const media::ClipInfo& info() const override { return info_; }
    std::string trouble() const override { return "it ends early"; }
    std::uint64_t bytes_read() const override { return 500; }

    std::optional<media::Frame> next() override {
        if (next_ == frames_) return std::nullopt;
        const support::Planes grey{
            std::vector<std::uint16_t>(720 * 576, static_cast<std::uint16_t>(100 + next_ % 3)), {}, {}};
        media::Frame frame = support::make_frame(info_.picture, grey, next_);
        frame.pts = 40 * (next_ < 10 ? next_ : next_ + 1);
        frame.declared_order = info_.declared_order;
        ++next_;
        return frame;
    }

private:
    std::int64_t frames_, next_ = 0;
    media::ClipInfo info_;
};

TEST(Pass, GivesEveryFigureOfTheRegistryInItsOrder) {
    MadeClip clip(60);
    const table::Table table = table::load_table();
    const ClipReport report = measure_clip(clip, table);
    std::vector<std::string> promised, given;
    for (const ClipEntry& entry : clip_measurements())
        for (const FigureTitle& figure : entry.figures) promised.emplace_back(figure.id);
    for (const auto& [id, figure] : report.figures.all()) given.push_back(id);
    EXPECT_EQ(given, promised);
}

TEST(Pass, FeedsWhatTheClipHolds) {
    MadeClip clip(60);
    const table::Table table = table::load_table();
    const ClipReport report = measure_clip(clip, table);
    EXPECT_EQ(report.frames, 60);
    EXPECT_EQ(report.trouble, "it ends early");
    EXPECT_EQ(report.info.picture.width, 720);
    EXPECT_NEAR(*report.figures.find("frame_rate")->number(), 25, 1e-6);
    EXPECT_EQ(*report.figures.find("missing_frames")->number(), 1);
    EXPECT_EQ(std::get<std::string>(report.figures.find("tv_system")->value()), "625/50");
    EXPECT_TRUE(std::ranges::is_sorted(report.events, {}, &quantity::Event::time_s));
}

TEST(Pass, BearsAClipWithoutFrames) {
    MadeClip clip(0);
    const table::Table table = table::load_table();
    const ClipReport report = measure_clip(clip, table);
    EXPECT_EQ(report.frames, 0);
    for (const auto& [id, figure] : report.figures.all()) {
        EXPECT_FALSE(figure.is_known()) << id;
        EXPECT_FALSE(figure.reason().empty()) << id;
    }
}

TEST(Pass, TellsHowFarItHasCome) {
    MadeClip clip(60);
    const table::Table table = table::load_table();
    PassOptions options;
    options.progress_interval = std::chrono::milliseconds(0);
    std::vector<PassProgress> told;
    options.progress = [&](const PassProgress& progress) { told.push_back(progress); };
    measure_clip(clip, table, options);
    ASSERT_EQ(told.size(), 61U);  // each frame and the end
    EXPECT_EQ(told.front().frames, 1);
    EXPECT_EQ(told.back().frames, 60);
    EXPECT_DOUBLE_EQ(told.back().time_s, 2.4);
    EXPECT_EQ(told.back().bytes_read, 500U);
    EXPECT_GT(told.back().frames_per_s, 0);
}

TEST(Registry, NamesEachFigureOnce) {
    std::vector<std::string_view> ids;
    for (const ClipEntry& entry : clip_measurements())
        for (const FigureTitle& figure : entry.figures) {
            ids.push_back(figure.id);
            EXPECT_FALSE(figure.title.empty()) << figure.id;
        }
    std::ranges::sort(ids);
    EXPECT_EQ(std::ranges::adjacent_find(ids), ids.end());
    ASSERT_NE(find_title("frame_rate"), nullptr);
    EXPECT_EQ(find_title("frame_rate")->unit, "Hz");
    EXPECT_EQ(find_title("no_such_figure"), nullptr);
}

}  // namespace
}  // namespace guardband::measure
