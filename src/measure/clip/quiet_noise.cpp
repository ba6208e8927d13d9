#include "measure/clip/quiet_noise.h"

#include <cmath>
#include <cstdint>
#include <optional>
#include <vector>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr double calm_share = 0.04;
/// That part of chi-squared over its mean: of a block's 128 squares, and of a segment's 16.
constexpr double calm_block = 0.79, calm_segment = 0.47;
/// Places that change less than this share of the middle have no noise at all: bars that a converter put in.
constexpr double no_noise_share = 0.01;
/// Of the squares that noise alone makes of a segment's change: normal noise puts 1 in 10 000 below the first.
constexpr double small_share = 0.18, low_share = 0.35;
/// Below a bound so low only equal segments are small: those count then.
constexpr std::uint32_t few_steps = 2;
/// Small ones that stand alone on their line, of all. Measured: 0.0001 in noise without a codec, from 0.0007 up in
/// MPEG-2, H.264 and DV.
constexpr double most_small_alone = 0.0004;
constexpr int every = 7;  ///< cells of the line change that are looked at

std::optional<double> calm(std::vector<float>& cells) {
    if (cells.empty()) return std::nullopt;
    const double middle = dsp::quantile_in_place(std::span<float>(cells), 0.5);
    if (middle == 0) return 0;  // a picture that has none
    std::erase_if(cells, [middle](float cell) { return static_cast<double>(cell) <= no_noise_share * middle; });
    if (cells.empty()) return std::nullopt;
    return dsp::quantile_in_place(std::span<float>(cells), calm_share);
}

}  // namespace

float quiet_noise(const FrameFeatures& features, int bit_depth) {
    std::vector<float> cells;
    std::optional<double> variance;
    const auto take = [&](double calm_part, int samples) {
        const auto found = calm(cells);
        cells.clear();
        if (!found) return;
        const double here = *found / calm_part / (2 * samples);
        if (!variance || here < *variance) variance = here;
    };
    for (std::size_t i = 0; i < features.line_change.cells.size(); i += every)
        cells.push_back(static_cast<float>(features.line_change.cells[i]));
    take(calm_segment, FrameFeatures::segment);
    for (std::size_t parity = 0; parity < 2; ++parity) {
        if (features.identical[parity]) continue;  // says nothing of noise
        for (const std::uint32_t cell : features.change[parity].cells) cells.push_back(static_cast<float>(cell));
        take(calm_block, FrameFeatures::segment * FrameFeatures::block_rows);
    }
    const double per_code = 1 << (bit_depth - 8);
    return variance ? static_cast<float>(std::sqrt(*variance) / per_code) : 0;
}

bool noise_is_coded(const FrameFeatures& features, int bit_depth, float noise) {
    const double per_code = 1 << (bit_depth - 8), steps = static_cast<double>(noise) * per_code;
    constexpr double most_small = 0.002;
    const auto small = static_cast<std::uint32_t>(std::ceil(small_share * 2 * steps * steps * FrameFeatures::segment));
    if (small == 0) return false;
    std::size_t found = 0;
    for (const std::uint32_t cell : features.line_change.cells)
        found += cell - 1 < small - 1 ? 1 : 0;  // 0 < cell < small
    return static_cast<double>(found) > most_small * static_cast<double>(features.line_change.cells.size());
}

bool noise_is_in_blocks(const FrameFeatures& features, int bit_depth, float noise) {
    const Grid<std::uint32_t>& change = features.line_change;
    const double per_code = 1 << (bit_depth - 8), steps = static_cast<double>(noise) * per_code;
    const double usual = 2 * steps * steps * FrameFeatures::segment;
    const auto small = static_cast<std::uint32_t>(std::ceil(small_share * usual));
    const auto low = static_cast<std::uint32_t>(std::ceil(low_share * usual));
    if (small == 0) return false;
    const std::uint32_t least = small <= few_steps ? 0 : 1;
    const auto is_small = [&](int s, int y) { return s < 0 || s >= change.width || change.at(s, y) < small; };
    const auto is_low = [&](int s, int y) { return y >= 2 && y < change.height && change.at(s, y) < low; };
    std::size_t found = 0;
    for (int y = 2; y < change.height; ++y)
        for (int s = 0; s < change.width; ++s)
            if (change.at(s, y) >= least && is_small(s, y) && !is_small(s - 1, y) && !is_small(s + 1, y))
                found += is_low(s, y - 2) || is_low(s, y + 2) ? 1 : 0;
    return static_cast<double>(found) > most_small_alone * static_cast<double>(change.cells.size());
}

}  // namespace guardband::measure
