#include "measure/clip/field_changes.h"

#include <algorithm>

#include "measure/clip/falling_quantiles.h"

namespace guardband::measure {
namespace {

/// Spread between deciles of an even field; see `quiet_spread`.
constexpr float even_spread = 1.35F;
/// Below half a squared code per sample there may be no noise, only rounding.
constexpr float least_noise = 0.5F * FieldChange::block_samples;

}  // namespace

const FieldChange& FieldChanges::add(const FrameFeatures& features, std::int64_t frame, double time_s) {
    FieldChange& change = at(count_);
    change.frame = frame, change.time_s = time_s, change.repeated = false;
    change.identical = features.identical[parity_];
    const auto& grid = features.change[parity_].cells;
    change.blocks.assign(grid.begin(), grid.end());
    change.cells = features.steady_change[parity_].cells;
    change.over_two.clear();
    if (features.has_two_previous) {
        const auto& over_two = features.change_over_two[parity_].cells;
        change.over_two.assign(over_two.begin(), over_two.end());
    }
    width_ = features.change[parity_].width, cells_width_ = features.steady_change[parity_].width;
    note_bands(features, change);
    describe(change);
    scratch_.assign(features.own.cells.cells.begin(), features.own.cells.cells.end());
    change.detail = quantile(scratch_, 0.1);
    ++count_;
    return change;
}

void FieldChanges::describe(FieldChange& change) {
    sample_blocks(change);
    FallingQuantiles blocks(scratch_);
    change.lively = blocks.next(0.9);
    change.median = blocks.next(0.5);
    const float third = blocks.next(0.3), tenth = blocks.next(0.1);
    change.even = third <= even_spread * tenth && change.lively <= even_spread * even_spread * change.median;
    change.quiet = tenth >= least_noise && third <= quiet_spread * tenth;
}

void FieldChanges::note_bands(const FrameFeatures& features, FieldChange& change) {
    const std::vector<bool>& now = noise_rows_.find(features, parity_);
    const std::size_t rows = now.size();
    noisy_before_.resize(rows);
    change.noisy.assign(rows, false);
    for (std::size_t row = 0; row < rows; ++row)
        for (std::size_t beside = row > 0 ? row - 1 : 0; beside < std::min(rows, row + 2); ++beside)
            if (now[beside] || noisy_before_[beside]) change.noisy[row] = true;
    noisy_before_ = now;
}

/// Some blocks of a field, those in bands of noise left out, unless they are nearly all.
void FieldChanges::sample_blocks(const FieldChange& change) {
    const auto width = static_cast<std::size_t>(std::max(1, width_));
    scratch_.clear();
    for (std::size_t i = 0; i < change.blocks.size(); i += quantile_step)
        if (!change.noisy[i / width]) scratch_.push_back(change.blocks[i]);
    if (4 * quantile_step * scratch_.size() >= change.blocks.size()) return;
    scratch_.clear();
    for (std::size_t i = 0; i < change.blocks.size(); i += quantile_step) scratch_.push_back(change.blocks[i]);
}

}  // namespace guardband::measure
