#include "measure/pulses/level_sketch.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr double block_s = 0.5;
constexpr int most_channels = 8;
constexpr double lowest_rate_hz = 100, highest_rate_hz = 50e6;
/// Ends of a block's levels: a thousandth of the samples lies beyond, so that a click does not set them.
constexpr double end_share = 0.002;
/// Pulses so narrow that fewer samples than that lie on them: the extremes are taken.
constexpr double narrow_share = 0.3;
constexpr double middle_low = 0.3, middle_high = 0.7;  ///< of the swing; a sine is there for 26 % of the time
constexpr double least_middle_share = 0.5;             ///< bumps are there for more than this
constexpr double weak_share = 0.25;  ///< blocks that swing less than this of the median have no pulses
constexpr double hysteresis = 0.2;   ///< of the swing, to either side, for the crude rate

double share_between(const std::vector<float>& samples, double low, double high) {
    const auto inside = std::ranges::count_if(samples, [&](float s) { return s > low && s < high; });
    return static_cast<double>(inside) / static_cast<double>(samples.size());
}

/// Gathers one channel block by block.
class ChannelSketch {
public:
    explicit ChannelSketch(std::size_t block_samples) : block_samples_(block_samples) { block_.reserve(block_samples); }

    void see(std::span<const float> samples) {
        for (const float sample : samples) {
            block_.push_back(sample);
            if (block_.size() == block_samples_) end_block();
        }
    }

    /// What is left at the end counts if it is long enough to hold pulses.
    void finish() {
        if (block_.size() >= block_samples_ / 4 || (blocks_.empty() && !block_.empty())) end_block();
    }

    double swing() const {
        std::vector<float> swings;
        for (const BlockLevels& b : blocks_) swings.push_back(b.swing());
        // The upper quartile: pulses may be there for less than half of the time.
        return swings.empty() ? 0 : dsp::quantile_in_place(swings, 0.75);
    }
    const std::vector<BlockLevels>& blocks() const { return blocks_; }
    std::int64_t edges() const { return edges_; }
    bool has_bumps() const { return 2 * bump_blocks_ > blocks_.size(); }

private:
    void end_block() {
        std::vector<float> sorted = block_;
        BlockLevels levels;
        const auto [least, greatest] = std::ranges::minmax(block_);
        levels.low = static_cast<float>(dsp::quantile_in_place(sorted, end_share));
        levels.high = static_cast<float>(dsp::quantile_in_place(sorted, 1 - end_share));
        levels.middle = static_cast<float>(dsp::quantile_in_place(sorted, 0.5));
        if (levels.high - levels.middle < narrow_share * (greatest - levels.middle)) levels.high = greatest;
        if (levels.middle - levels.low < narrow_share * (levels.middle - least)) levels.low = least;
        blocks_.push_back(levels);
        if (share_between(block_, levels.low + middle_low * levels.swing(), levels.low + middle_high * levels.swing()) >
            least_middle_share)
            ++bump_blocks_;
        count_edges(levels);
        block_.clear();
    }

    void count_edges(const BlockLevels& levels) {
        const double centre = (levels.low + levels.high) / 2, reach = hysteresis * levels.swing();
        for (const float sample : block_) {
            if (is_high_ ? sample < centre - reach : sample <= centre + reach)
                is_high_ = false;
            else if (!is_high_)
                is_high_ = true, ++edges_;
        }
    }

    std::size_t block_samples_;
    std::vector<float> block_;
    std::vector<BlockLevels> blocks_;
    std::size_t bump_blocks_ = 0;
    std::int64_t edges_ = 0;
    bool is_high_ = true;
};

/// Blocks without pulses take the levels of the last block before, or else the first after, that has some.
void fill_weak(std::vector<BlockLevels>& blocks, double swing) {
    const auto is_strong = [&](const BlockLevels& b) { return b.swing() >= weak_share * swing; };
    const auto first = std::ranges::find_if(blocks, is_strong);
    if (first == blocks.end()) return;
    BlockLevels last = *first;
    for (BlockLevels& block : blocks) {
        if (is_strong(block)) last = block;
        block = last;
    }
}

}  // namespace

LevelSketch sketch_levels(media::SoundReader& sound, std::optional<int> channel) {
    const media::SoundInfo& info = sound.info();
    const double rate_hz = info.sample_rate_hz;
    if (rate_hz < lowest_rate_hz || rate_hz > highest_rate_hz)
        throw quantity::InputError(info.path,
                                   fmt::format("{:g} samples a second can't be searched for pulses", rate_hz),
                                   "give 100 Hz to 50 MHz; --rate corrects a false header");
    const int first = channel.value_or(0);
    const int last = channel.value_or(std::min(info.channels, most_channels) - 1);
    LevelSketch sketch;
    sketch.block_samples = std::max<std::int64_t>(16, std::llround(block_s * rate_hz));
    std::vector<ChannelSketch> channels(static_cast<std::size_t>(last - first + 1),
                                        ChannelSketch(static_cast<std::size_t>(sketch.block_samples)));
    while (const media::SoundBlock* block = sound.next()) {
        for (std::size_t c = 0; c < channels.size(); ++c)
            channels[c].see(block->channels[static_cast<std::size_t>(first) + c]);
        sketch.seconds = block->time_s + static_cast<double>(block->channels[0].size()) / rate_hz;
    }
    for (ChannelSketch& c : channels) c.finish();
    const auto best = std::ranges::max_element(channels, {}, &ChannelSketch::swing);
    sketch.channel = first + static_cast<int>(best - channels.begin());
    sketch.shape = best->has_bumps() ? PulseShape::Bumps : PulseShape::TwoLevels;
    sketch.blocks = best->blocks();
    sketch.swing = best->swing();
    if (sketch.seconds > 0) sketch.crude_rate_hz = static_cast<double>(best->edges()) / sketch.seconds;
    fill_weak(sketch.blocks, sketch.swing);
    return sketch;
}

}  // namespace guardband::measure
