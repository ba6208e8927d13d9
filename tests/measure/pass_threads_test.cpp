// What a pass finds does not depend on how many threads measure: not a digit of it.
#include <fmt/format.h>
#include <gmock/gmock.h>

#include <stdexcept>

#include "measure/clip/whole_pass.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

/// Frames made once and read again and again, with a block of sound behind each if the clip has any.
class Replay final : public media::ClipReader {
public:
    explicit Replay(support::MadeReader&& made) : info_(made.info()) {
        while (auto frame = made.next()) frames_.push_back(std::move(*frame));
    }

    const media::ClipInfo& info() const override { return info_; }
    std::string trouble() const override { return {}; }
    std::uint64_t bytes_read() const override { return 0; }

    std::optional<media::Frame> next() override {
        if (next_ == fails_at_) throw std::runtime_error("the disk is gone");
        return next_ < frames_.size() ? std::optional(frames_[next_++]) : std::nullopt;
    }

    void rewind() { next_ = 0; }
    void fail_at(std::size_t frame) { fails_at_ = frame; }
    void change_format_at(std::size_t frame) { frames_[frame].format.width -= 2; }

private:
    media::ClipInfo info_;
    std::vector<media::Frame> frames_;
    std::size_t next_ = 0, fails_at_ = std::size_t(-1);
};

std::string text_of(const quantity::Figure& figure) {
    std::string text = figure.reason() + figure.note() + figure.unit();
    if (const auto number = figure.number()) text += fmt::format(" {}", *number);
    if (const auto uncertainty = figure.uncertainty()) text += fmt::format(" ± {}", *uncertainty);
    if (const auto* word = std::get_if<std::string>(&figure.value())) text += " " + *word;
    if (const auto* list = std::get_if<std::vector<quantity::Component>>(&figure.value()))
        for (const quantity::Component& c : *list)
            text += fmt::format(" {} {} {}", c.hz, c.depth_percent, c.amplitude_ns.value_or(0));
    for (const double other : figure.alternatives()) text += fmt::format(" or {}", other);
    return text;
}

/// All that a pass found, each number with all its digits.
std::vector<std::string> found_by(Replay& clip, int threads) {
    clip.rewind();
    PassOptions options;
    options.threads = threads;
    const ClipReport report = measure_clip(clip, built_in(), options);
    std::vector<std::string> found{fmt::format("{} frames", report.frames)};
    for (const auto& [id, figure] : report.figures.all()) found.push_back(id + ": " + text_of(figure));
    for (const quantity::Event& e : report.events)
        found.push_back(fmt::format("{} {} {} {} {} {} {}", e.kind, e.time_s, e.frame.value_or(-1),
                                    e.field.value_or(-1), e.count.value_or(-1), e.line.value_or(-1), e.what));
    return found;
}

void expect_same_with_any_threads(Replay& clip) {
    const auto alone = found_by(clip, 1);
    for (const int threads : {2, 3, 4}) EXPECT_EQ(found_by(clip, threads), alone) << threads << " threads";
}

TEST(PassThreads, ChangeNothingOnATapeWithFaults) {
    testsignal::Recipe recipe = small_clip(1.5, 36, 2.6);
    recipe.noise_band = testsignal::NoiseBandSettings{0.5, 0.12, 0.3, 0.4, 1.6};
    const auto repeat_and_damage = [held = testsignal::ClipFrame{}](testsignal::ClipFrame& frame, int index) mutable {
        if (index % 20 == 9) frame = held;  // a frame that stands twice
        held = frame;
    };
    Replay clip(support::MadeReader(recipe, repeat_and_damage));
    expect_same_with_any_threads(clip);
}

TEST(PassThreads, ChangeNothingOnAStillPicture) {
    Replay clip(support::MadeReader(small_clip(0, 42, 1.6)));
    expect_same_with_any_threads(clip);
}

TEST(PassThreads, ChangeNothingOnOddAndShortClips) {
    for (const int frames : {1, 2, 3, 5}) {
        testsignal::Recipe recipe = small_clip(1, 40, frames / 25.0);
        recipe.raster.width = 94, recipe.raster.height = 74;
        Replay clip{support::MadeReader(recipe)};
        expect_same_with_any_threads(clip);
    }
}

TEST(PassThreads, AFailureOfTheReaderComesThrough) {
    Replay clip(support::MadeReader(small_clip(1, 40, 0.4)));
    clip.fail_at(5);
    EXPECT_THROW(found_by(clip, 2), std::runtime_error);
}

TEST(PassThreads, AFrameOfAnotherFormatEndsThePass) {
    Replay clip(support::MadeReader(small_clip(1, 40, 0.4)));
    clip.change_format_at(5);
    EXPECT_THROW(found_by(clip, 2), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::measure
