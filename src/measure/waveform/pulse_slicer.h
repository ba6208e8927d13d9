#pragma once

#include <array>
#include <span>
#include <vector>

namespace guardband::measure {

/// A pulse below the slicing level, crudely timed: places where the filtered signal crosses it, in steps of the series.
struct CrudePulse {
    double start = 0, end = 0;
};

/// How high above the lowest level of its neighbourhood a signal is sliced.
struct SlicingLevel {
    float rise = 0;        ///< from the lowest value of a block to the middle of a sync edge
    float hysteresis = 0;  ///< to either side
};

/// Lowest value of each whole block of a series: where the tips of sync lie, less the noise on them.
std::vector<float> block_lows(std::span<const float> series, std::size_t block);

/// Finds pulses in a filtered series. The slicing level stands a fixed distance above the lowest values nearby: the
/// median of five blocks of about a line each, two of them later ones. So it follows hum (150 mV in a millisecond moves
/// it by 10 mV from block to block), shrugs off a dropout that lasts a line, and can never lose its way.
class PulseSlicer {
public:
    /// @param block  length of a block in steps, somewhat more than a line
    PulseSlicer(std::size_t block, SlicingLevel level);

    /// Takes values that follow those before; adds the pulses that have ended.
    void see(std::span<const float> series, std::vector<CrudePulse>& out);
    /// Nothing more comes: slices what was held back.
    void finish(std::vector<CrudePulse>& out);
    void set_level(SlicingLevel level) { level_ = level; }

private:
    static constexpr std::size_t neighbourhood = 5;
    struct Block {
        std::vector<float> values;
        float low = 0;
    };

    void end_block(std::vector<CrudePulse>& out);
    void slice(const Block& block, float low, std::vector<CrudePulse>& out);
    void step(float above, double place, std::vector<CrudePulse>& out);
    Block& block_at(std::size_t number) { return blocks_[number % neighbourhood]; }

    std::size_t block_length_;
    SlicingLevel level_;
    std::array<Block, neighbourhood> blocks_;
    std::size_t ended_ = 0, sliced_ = 0;  ///< numbers of blocks
    double place_ = 0;                    ///< of the next block's first value
    float last_ = 0;                      ///< value before it, against the slicing level
    bool below_ = false;
    double down_ = -1, up_ = -1, start_ = -1;  ///< last crossings of the level; start of the pulse; −1: none yet
};

}  // namespace guardband::measure
