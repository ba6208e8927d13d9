#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/clip/noise_rows.h"
#include "measure/features.h"

namespace guardband::measure {

/// How a field differs from the one before it in its parity.
struct FieldChange {
    static constexpr float block_samples = FrameFeatures::segment * FrameFeatures::block_rows;
    /// Changes of a block below this are rounding: two codes in every sample, as in fades of pictures without noise.
    static constexpr float rounding = 4 * block_samples;

    std::int64_t frame = 0;
    double time_s = 0;
    bool identical = false;            ///< sample for sample
    bool repeated = false;             ///< found to be a repeat
    bool even = false;                 ///< alike all over the picture, as noise is
    bool quiet = false;                ///< a good part of the picture changes by noise alone
    float median = 0, lively = 0;      ///< of the blocks; the level that a tenth lie above
    float detail = 0;                  ///< combing of the quietest cells of the frame
    std::vector<float> blocks, cells;  ///< `FrameFeatures::change` and `steady_change`
    std::vector<float> over_two;       ///< `FrameFeatures::change_over_two`; empty where that is
    std::vector<bool> noisy;           ///< rows of blocks in which a band of noise lies or lay before, or beside
};

/// The last changes of the fields of one parity, by positions that count from 0.
class FieldChanges {
public:
    explicit FieldChanges(Parity parity) : parity_(static_cast<std::size_t>(parity)) {}

    /// Takes in the next, of a frame that has one before it.
    const FieldChange& add(const FrameFeatures& features, std::int64_t frame, double time_s);

    FieldChange& at(std::int64_t position) { return ring_[static_cast<std::size_t>(position) % ring_.size()]; }
    const FieldChange& at(std::int64_t position) const {
        return ring_[static_cast<std::size_t>(position) % ring_.size()];
    }
    bool holds(std::int64_t position) const {
        return position >= 0 && position < count_ && position + static_cast<std::int64_t>(ring_.size()) > count_;
    }
    std::int64_t count() const { return count_; }  ///< taken in so far
    int width() const { return width_; }           ///< of the grid of blocks
    int cells_width() const { return cells_width_; }

private:
    void note_bands(const FrameFeatures& features, FieldChange& change);
    void sample_blocks(const FieldChange& change);
    void describe(FieldChange& change);

    std::size_t parity_;
    std::array<FieldChange, 16> ring_;
    std::int64_t count_ = 0;
    int width_ = 0, cells_width_ = 0;
    NoiseRows noise_rows_;
    std::vector<bool> noisy_before_;
    std::vector<float> scratch_;
};

/// Every such block counts in quantiles of a field.
constexpr std::size_t quantile_step = 4;
/// A field is quiet where the tenth and the third decile of its blocks' changes hardly differ: that is noise, as motion
/// depends on what moves. White noise gives 1.1, band-limited noise 1.2, motion of natural pictures from 2 up.
constexpr float quiet_spread = 1.5F;

}  // namespace guardband::measure
