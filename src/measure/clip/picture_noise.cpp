#include "measure/clip/picture_noise.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Blocks looked at in each of the first frames, and in later ones: the first alone make the figure sure.
constexpr int early_blocks = 16, later_blocks = 3;
constexpr std::int64_t early_frames = 40;
constexpr std::size_t most_samples = 4000;
constexpr double least_contrast = 30;  ///< of a picture, 8-bit codes
/// Left out at the sides, where blanking may be, at the top, where lines may be bent, and at the bottom, below the head
/// switch.
constexpr int side_margin = 24, top_lines = 10, bottom_lines = 14;
constexpr int chroma_samples = 2 * FieldBlock::samples;  // a block of chroma lies below so many of luma
constexpr double most_cut = 0.04;
/// Blocks that have moved less than this, in samples, stand still.
constexpr float still = 0.08F;
/// Noise that changes more over two frames than over one by this share is compared over four.
constexpr double suspicious_over_two = 1.03;
/// Of the noise, what motion of a block may add to it where lines are compared.
constexpr float quite_still = 0.03F;
/// Blocks whose height is off by this part of a line or more are compared with frames further back, and one of these is
/// taken if the lines that were searched with differ by no more than this share.
constexpr float part_of_line = 0.06F, worth_while = 0.9F;

/// Evenly spread over 0 to 1, however many there are: multiples of the plastic number's inverse powers.
double spread_over(std::int64_t n, double step) {
    double whole = 0;
    return std::modf(0.5 + static_cast<double>(n) * step, &whole);
}

}  // namespace

PictureNoise::PictureNoise(const ClipContext& context)
    : format_(context.info.picture),
      usable_(format_.width >= 2 * (side_margin + chroma_samples) && format_.height >= 96),
      is_lossy_(context.info.is_lossy),
      lowest_code_(1 << format_.bit_depth),
      highest_code_(-1),
      crushing_(context),
      search_(format_.bit_depth),
      meter_(format_.bit_depth) {}

void PictureNoise::see(const media::Frame& frame, const FrameFeatures& features) {
    if (!usable_) return;
    if (frame.damaged) {
        kept_ = {};
        return;
    }
    note_codes(features);
    crushing_.see(frame, features);
    if (is_drawn_beside_picture(features)) kept_ = {};
    if (kept_[0] && frames_++ % every_ == 0) {
        const int count = frames_ <= early_frames ? early_blocks : later_blocks;
        for (int i = 0; i < count; ++i, ++blocks_) {
            // A field that repeats the one before says nothing, or would say that there is no noise.
            if (features.has_previous && features.identical[static_cast<std::size_t>(blocks_ % 2)]) continue;
            measure_block(frame);
        }
        if (samples_.size() >= most_samples) thin_out();
    }
    std::rotate(kept_.begin(), kept_.end() - 1, kept_.end());
    kept_[0] = frame;  // shares the samples
}

/// Whether this frame or the one before is flat while the other shows a picture: what a player draws has nothing in
/// common with what stands before and after it.
bool PictureNoise::is_drawn_beside_picture(const FrameFeatures& features) {
    const double code = 1 << (format_.bit_depth - 8);
    const LumaSpan before = span_;
    span_ = luma_span(features.histogram);
    const double widest = std::max(span_.high - span_.low, before.high - before.low);
    return (span_.is_flat(code) || before.is_flat(code)) && widest >= least_contrast * code;
}

/// A long clip is looked at ever more sparsely, so that all of it counts alike and no more memory is taken.
void PictureNoise::thin_out() {
    for (std::size_t i = 0; 2 * i < samples_.size(); ++i) samples_[i] = samples_[2 * i];
    samples_.resize(samples_.size() / 2);
    every_ *= 2;
}

void PictureNoise::note_codes(const FrameFeatures& features) {
    const auto count = static_cast<int>(features.histogram.size());
    const auto used = [&](int code) { return features.histogram[static_cast<std::size_t>(code)] > 0; };
    int low = 0, high = count - 1;
    while (low < std::min(count, lowest_code_) && !used(low)) ++low;
    while (high > highest_code_ && !used(high)) --high;
    lowest_code_ = std::min(lowest_code_, low), highest_code_ = std::max(highest_code_, high);
}

FieldBlock PictureNoise::next_block() {
    constexpr int reach = BlockSearch::reach_samples;
    const int left = side_margin + reach, right = format_.width - side_margin - reach - chroma_samples;
    const int top = top_lines + BlockSearch::reach_lines,
              bottom = format_.height / 2 - bottom_lines - BlockSearch::reach_lines - FieldBlock::lines;
    const auto place = [](int low, int high, double share) {
        return low + static_cast<int>(share * std::max(1, high - low));
    };
    const int line = place(top, bottom, spread_over(blocks_, 0.5698402909980532));
    // Whole chroma samples and rows, whatever their raster.
    return {place(left, right, spread_over(blocks_, 0.7548776662466927)) / 4 * 4,
            2 * (line / 2 * 2) + static_cast<int>(blocks_ % 2)};
}

/// Whether noise of the block may have been cut.
bool PictureNoise::is_cut(const media::Plane& plane, const FieldBlock& block) const {
    std::array<float, FieldBlock::samples> row{};
    const float scale = 1.0F / static_cast<float>(1 << (format_.bit_depth - 8));
    const float low = (static_cast<float>(lowest_code_) + 0.5F) * scale,
                high = (static_cast<float>(highest_code_) - 0.5F) * scale;
    std::ptrdiff_t outermost = 0;
    for (int i = 0; i < FieldBlock::lines; i += 2) {
        read_codes(plane, format_.bit_depth, block.y + 2 * i, block.x, FieldBlock::samples, row.data());
        outermost += std::ranges::count_if(row, [=](float code) { return code < low || code > high; });
    }
    return static_cast<double>(outermost) > most_cut * FieldBlock::samples * FieldBlock::lines / 2;
}

void PictureNoise::measure_block(const media::Frame& frame) {
    const FieldBlock block = next_block();
    if (is_cut(frame.planes[0], block)) return;
    const media::Frame& previous = *kept_[0];
    const BlockShift shift = search_.find(frame.planes[0], previous.planes[0], block);
    Sample sample;
    sample.luma = meter_.luma(frame.planes[0], previous.planes[0], block, shift);
    sample.level = meter_.level();
    listen_for_echo(sample.luma);
    if (format_.has_chroma && shift.lines % (1 << format_.chroma_shift_y) == 0)
        sample.chroma = measure_chroma(frame, block, sample.luma, shift.lines);
    if (shift == BlockShift{} && std::abs(sample.luma.moved_samples) < still) {
        look_further_back(frame, block, sample);
    } else if (std::abs(sample.luma.moved_lines - static_cast<float>(shift.lines)) > part_of_line) {
        compare_with_better(frame, block, sample.luma);
    }
    samples_.push_back(sample);
}

/// @param found  of the block that was measured last
void PictureNoise::listen_for_echo(const BlockNoise& found) {
    std::array<float, MotionEcho::bins> noise{};
    constexpr std::size_t bins_of_band = (MotionEcho::bins - 1) / BlockNoise::bands;
    for (std::size_t k = 0; k < noise.size(); ++k)
        noise[k] = found.band[std::min(k / bins_of_band, BlockNoise::bands - 1)] / bins_of_band;
    echo_.add(meter_.power(), noise, found.moved_samples);
}

/// For a block that stands still.
void PictureNoise::look_further_back(const media::Frame& frame, const FieldBlock& block, Sample& sample) {
    const BlockNoise& once = sample.luma;
    const float moved = once.moved_samples * once.moved_samples + once.moved_lines * once.moved_lines;
    if (once.detail * moved < quite_still * once.temporal)
        sample.alike = meter_.likeness_of_lines(frame.planes[0], kept_[0]->planes[0], block);
    sample.by_motion = once.detail * moved;
    if (!kept_[1]) return;
    sample.over_two = meter_.luma(frame.planes[0], kept_[1]->planes[0], block, {}).temporal;
    still_once_ += static_cast<double>(once.temporal), still_twice_ += static_cast<double>(*sample.over_two);
    if (kept_[3] && still_twice_ > suspicious_over_two * still_once_)
        sample.over_four = meter_.luma(frame.planes[0], kept_[3]->planes[0], block, {}).temporal;
}

/// Compares again with that frame of those kept which the lines that take no part in measuring fit best.
void PictureNoise::compare_with_better(const media::Frame& frame, const FieldBlock& block, BlockNoise& found) {
    std::size_t best = 0;
    BlockShift best_shift;
    auto least = worth_while * static_cast<float>(search_.difference());
    for (std::size_t frames = 2; frames <= kept_.size() && kept_[frames - 1]; ++frames) {
        const float samples = found.moved_samples * static_cast<float>(frames),
                    lines = found.moved_lines * static_cast<float>(frames);
        if (std::abs(samples) > BlockSearch::reach_samples - 1 || std::abs(lines) > BlockSearch::reach_lines - 1) break;
        const BlockShift shift =
            search_.refine(frame.planes[0], kept_[frames - 1]->planes[0], block,
                           {static_cast<int>(std::lround(samples)), static_cast<int>(std::lround(lines))});
        if (static_cast<float>(search_.difference()) >= least) continue;
        least = static_cast<float>(search_.difference()), best = frames - 1, best_shift = shift;
    }
    if (best > 0) found = meter_.luma(frame.planes[0], kept_[best]->planes[0], block, best_shift);
}

std::array<BlockNoise, 2> PictureNoise::measure_chroma(const media::Frame& frame, const FieldBlock& block,
                                                       const BlockNoise& luma, int lines) {
    const int line = block.y / 2 >> format_.chroma_shift_y;
    const FieldBlock place{block.x >> format_.chroma_shift_x, 2 * line + block.y % 2};
    const float moved = luma.moved_samples / static_cast<float>(1 << format_.chroma_shift_x);
    std::array<BlockNoise, 2> out;
    for (std::size_t i = 0; i < 2; ++i)
        out[i] =
            meter_.chroma(frame.planes[i + 1], kept_[0]->planes[i + 1], place, moved, lines >> format_.chroma_shift_y);
    return out;
}

void PictureNoise::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    if (!usable_) {
        for (const char* id : {"luma_snr", "chroma_snr", "black_slope", "white_slope", "mixed_in_time"})
            figures.add(id, Figure::unknown("the picture is too small to follow its motion"));
        return;
    }
    Figure luma = luma_figure();
    const bool luma_known = luma.is_known();
    // What has been done to the luma has been done to the colour.
    Figure chroma = luma.is_known() || !format_.has_chroma ? chroma_figure() : Figure::unknown(luma.reason());
    figures.add("luma_snr", std::move(luma));
    figures.add("chroma_snr", std::move(chroma));
    // What all blocks together don't tell, those of the middle don't either: there it is the picture that changes.
    crushing_.add_figures(luma_known ? middle_variance() : std::nullopt, figures);
    figures.add("mixed_in_time", mixed_figure());
}

}  // namespace guardband::measure
