#include "measure/clip/block_search.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace guardband::measure {
namespace {

/// A known place is good enough at so many times the least difference seen; another must be better by as much.
constexpr float good_enough = 1.2F, clearly_better = 0.88F;
constexpr float forgetting = 1.01F;

template <typename Sample, typename Out>
void copy_row(const std::byte* row, int width, int x, int count, float scale, Out* out) {
    const auto* samples = reinterpret_cast<const Sample*>(row);
    if (x >= 0 && x + count <= width) {
        for (int i = 0; i < count; ++i) out[i] = static_cast<Out>(scale * static_cast<float>(samples[x + i]));
        return;
    }
    for (int i = 0; i < count; ++i)
        out[i] = static_cast<Out>(scale * static_cast<float>(samples[std::clamp(x + i, 0, width - 1)]));
}

template <typename Out>
void copy_codes(const media::Plane& plane, int bit_depth, int y, int x, int count, float per_code, Out* out) {
    const float scale = per_code / static_cast<float>(1 << (bit_depth - 8));
    const std::byte* row = plane.row(std::clamp(y, 0, plane.height - 1));
    if (bit_depth == 8)
        copy_row<std::uint8_t>(row, plane.width, x, count, scale, out);
    else
        copy_row<std::uint16_t>(row, plane.width, x, count, scale, out);
}

}  // namespace

void read_codes(const media::Plane& plane, int bit_depth, int y, int x, int count, float* out) {
    copy_codes(plane, bit_depth, y, x, count, 1, out);
}

void BlockSearch::load(const media::Plane& now, const media::Plane& before, const FieldBlock& block) {
    constexpr float quarter_codes = 4;
    for (int i = 0; i < used_lines; ++i)
        copy_codes(now, bit_depth_, block.y + 4 * i, block.x, FieldBlock::samples, quarter_codes,
                   block_.data() + static_cast<std::ptrdiff_t>(i) * FieldBlock::samples);
    for (int i = 0; i < window_lines; ++i)
        copy_codes(before, bit_depth_, block.y + 2 * (i - reach_lines), block.x - reach_samples, window_samples,
                   quarter_codes, window_.data() + static_cast<std::ptrdiff_t>(i) * window_samples);
}

int BlockSearch::difference(BlockShift shift, int enough) const {
    int sum = 0;
    for (int i = 0; i < used_lines && sum < enough; ++i) {
        const std::int16_t* a = block_.data() + static_cast<std::ptrdiff_t>(i) * FieldBlock::samples;
        const std::int16_t* b = window_.data() +
                                static_cast<std::ptrdiff_t>(2 * i + reach_lines - shift.lines) * window_samples +
                                reach_samples - shift.samples;
        for (int x = 0; x < FieldBlock::samples; ++x) sum += std::abs(a[x] - b[x]);
    }
    return sum;
}

BlockShift BlockSearch::best_near(BlockShift around) const {
    BlockShift best = around;
    int least = difference(around);
    for (int lines = around.lines - 1; lines <= around.lines + 1; ++lines)
        for (int samples = around.samples - 1; samples <= around.samples + 1; ++samples) {
            if (std::abs(lines) > reach_lines || std::abs(samples) > reach_samples) continue;
            const int here = difference({samples, lines}, least);
            if (here < least) least = here, best = {samples, lines};
        }
    return best;
}

BlockShift BlockSearch::search() const {
    BlockShift best;
    int least = difference(best);
    for (int lines = -reach_lines; lines <= reach_lines; ++lines)
        for (int samples = -reach_samples; samples <= reach_samples; samples += 2) {
            const int here = difference({samples, lines}, least);
            if (here < least) least = here, best = {samples, lines};
        }
    return best_near(best);
}

BlockShift BlockSearch::find(const media::Plane& now, const media::Plane& before, const FieldBlock& block) {
    load(now, before, block);
    BlockShift best;  // standing still is always tried
    auto least = static_cast<float>(difference(best));
    for (const BlockShift& known : known_)
        if (const auto here = static_cast<float>(difference(known)); here < clearly_better * least)
            least = here, best = known;
    if (least_ == 0 || least > good_enough * least_) {
        const BlockShift found = search();
        if (const auto here = static_cast<float>(difference(found)); here < clearly_better * least) {
            least = here, best = found;
            if (std::ranges::find(known_, found) == known_.end())
                known_[next_known_] = found, next_known_ = (next_known_ + 1) % known_.size();
        }
    }
    found_difference_ = static_cast<int>(least);
    if (least > 0) least_ = least_ == 0 ? least : std::min(least_ * forgetting, least);
    return best;
}

BlockShift BlockSearch::refine(const media::Plane& now, const media::Plane& before, const FieldBlock& block,
                               BlockShift guess) {
    load(now, before, block);
    guess.samples = std::clamp(guess.samples, -reach_samples, reach_samples);
    guess.lines = std::clamp(guess.lines, -reach_lines, reach_lines);
    const BlockShift best = best_near(guess);
    const int at_best = difference(best), at_guess = difference(guess);
    const bool is_better = static_cast<float>(at_best) < clearly_better * static_cast<float>(at_guess);
    found_difference_ = is_better ? at_best : at_guess;
    return is_better ? best : guess;
}

}  // namespace guardband::measure
