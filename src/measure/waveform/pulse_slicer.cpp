#include "measure/waveform/pulse_slicer.h"

#include <algorithm>

namespace guardband::measure {

std::vector<float> block_lows(std::span<const float> series, std::size_t block) {
    std::vector<float> lows;
    for (std::size_t i = 0; i + block <= series.size(); i += block)
        lows.push_back(*std::ranges::min_element(series.subspan(i, block)));
    return lows;
}

PulseSlicer::PulseSlicer(std::size_t block, SlicingLevel level) : block_length_(block), level_(level) {
    for (Block& b : blocks_) b.values.reserve(block);
}

void PulseSlicer::see(std::span<const float> series, std::vector<CrudePulse>& out) {
    while (!series.empty()) {
        Block& block = block_at(ended_);
        const std::size_t taken = std::min(series.size(), block_length_ - block.values.size());
        block.values.insert(block.values.end(), series.begin(), series.begin() + static_cast<std::ptrdiff_t>(taken));
        series = series.subspan(taken);
        if (block.values.size() == block_length_) end_block(out);
    }
}

void PulseSlicer::end_block(std::vector<CrudePulse>& out) {
    Block& block = block_at(ended_);
    block.low = *std::ranges::min_element(block.values);
    ++ended_;
    if (ended_ >= neighbourhood) {
        std::array<float, neighbourhood> lows{};
        std::ranges::transform(blocks_, lows.begin(), &Block::low);
        std::ranges::nth_element(lows, lows.begin() + neighbourhood / 2);
        // At the start the first blocks have no earlier neighbours; they share the level of the first that has.
        while (sliced_ + neighbourhood / 2 < ended_) slice(block_at(sliced_++), lows[neighbourhood / 2], out);
        block_at(ended_).values.clear();
    }
}

void PulseSlicer::finish(std::vector<CrudePulse>& out) {
    if (ended_ == 0 || !block_at(ended_).values.empty()) {
        Block& rest = block_at(ended_);
        if (rest.values.empty()) return;
        rest.low = ended_ == 0 ? *std::ranges::min_element(rest.values) : block_at(ended_ - 1).low;
        ++ended_;
    }
    std::vector<float> lows;
    for (std::size_t b = ended_ - std::min(ended_, neighbourhood); b < ended_; ++b) lows.push_back(block_at(b).low);
    std::ranges::nth_element(lows, lows.begin() + static_cast<std::ptrdiff_t>(lows.size() / 2));
    while (sliced_ < ended_) slice(block_at(sliced_++), lows[lows.size() / 2], out);
}

void PulseSlicer::slice(const Block& block, float low, std::vector<CrudePulse>& out) {
    const float middle = low + level_.rise;
    const std::vector<float>& values = block.values;
    for (std::size_t i = 0; i < values.size(); ++i) {
        // Most of the time the signal is well above the level, or well below, and stays so.
        const std::size_t begin = i;
        if (!below_ && last_ >= 0)
            while (i < values.size() && values[i] >= middle) ++i;
        else if (below_ && last_ < 0)
            while (i < values.size() && values[i] < middle) ++i;
        if (i > begin) last_ = values[i - 1] - middle;
        if (i < values.size()) step(values[i] - middle, place_ + static_cast<double>(i), out);
    }
    place_ += static_cast<double>(values.size());
}

/// Takes one value at or across the level. @param above  how far it lies above the level
void PulseSlicer::step(float above, double place, std::vector<CrudePulse>& out) {
    const auto crossing = [&] { return place - double{above} / (double{above} - double{last_}); };
    if (last_ >= 0 && above < 0) down_ = crossing();
    if (last_ < 0 && above >= 0) up_ = crossing();
    if (!below_ && above < -level_.hysteresis) {
        below_ = true;
        start_ = down_;
    } else if (below_ && above > level_.hysteresis) {
        below_ = false;
        if (start_ >= 0) out.push_back({start_, up_});
    }
    last_ = above;
}

}  // namespace guardband::measure
