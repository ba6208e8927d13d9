#include "measure/clip/silent_blocks.h"

#include <optional>

namespace guardband::measure {
namespace {

/// The code that all samples of the block have; nothing if they differ.
std::optional<std::size_t> only_code(const FrameFeatures& features, std::size_t parity, int bx, int by) {
    constexpr int segment = FrameFeatures::segment, rows = FrameFeatures::block_rows;
    const int first = 2 * by * rows + static_cast<int>(parity);
    const std::uint32_t sum = features.segment_sums.at(bx, first);
    if (sum % segment != 0) return std::nullopt;
    for (int i = 1; i < rows; ++i)
        if (features.line_change.at(bx, first + 2 * i) != 0) return std::nullopt;
    return sum / segment;
}

}  // namespace

void SilentBlocks::see(const FrameFeatures& features) {
    for (std::size_t parity = 0; parity < 2; ++parity)
        if (!features.change[parity].cells.empty() && !features.identical[parity])
            for (int by = 0; by < features.change[parity].height; ++by) see_row(features, parity, by);
}

void SilentBlocks::see_row(const FrameFeatures& features, std::size_t parity, int by) {
    const Grid<std::uint32_t>& change = features.change[parity];
    int first = 0, last = change.width - 1;
    while (first <= last && change.at(first, by) == 0) ++first;
    while (last > first && change.at(last, by) == 0) --last;
    all_ += change.width;
    for (int bx = 0; bx < change.width; ++bx) {
        if (change.at(bx, by) != 0) continue;
        if (const auto code = only_code(features, parity, bx, by); code && *code < inside_.size())
            ++(bx > first && bx < last ? inside_ : beside_)[*code];
    }
}

}  // namespace guardband::measure
