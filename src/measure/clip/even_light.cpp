#include "measure/clip/even_light.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
constexpr float least_change = 1.25F;
/// Segments that tell: brighter than black by so much in the brighter of both fields, below white in both.
constexpr float least_above_black_codes = 16, highest_codes = 220;
/// Of the difference between two fields, what a factor of light leaves at most.
constexpr float most_left = 0.4F;
constexpr float dimmest = 0.25F;  ///< above black, 8-bit codes
constexpr int row_step = 4;       ///< of a field's rows, the light is that of every other

float per_sum(const LossFrame& frame) {
    return 1.0F / static_cast<float>(segment * (1 << (frame.frame.format.bit_depth - 8)));
}

bool is_light_change(float ratio) { return ratio > least_change || ratio < 1 / least_change; }

template <typename Sample>
void scale_row(const std::byte* from, int width, float black, float factor, float highest, std::byte* to) {
    const auto* in = reinterpret_cast<const Sample*>(from);
    auto* out = reinterpret_cast<Sample*>(to);
    for (int x = 0; x < width; ++x)
        out[x] = static_cast<Sample>(std::clamp(black + factor * (static_cast<float>(in[x]) - black), 0.0F, highest));
}

}  // namespace

float field_level(const LossFrame& frame, int parity) {
    std::uint64_t sum = 0;
    int rows = 0;
    for (int y = parity; y < frame.sums.height; y += 2 * row_step, ++rows)
        for (int s = 0; s < frame.sums.width; ++s) sum += frame.sums.at(s, y);
    return per_sum(frame) * static_cast<float>(sum) / static_cast<float>(std::max(1, rows * frame.sums.width));
}

float light_ratio(const LossFrame& now, int parity, const LossFrame& other, int other_parity, float black) {
    const float scale = per_sum(now);
    const auto each = [&](auto take) {
        for (int line = 0; 2 * line + std::max(parity, other_parity) < now.sums.height; line += row_step)
            for (int s = 0; s < now.sums.width; ++s) {
                const float here = scale * static_cast<float>(now.sums.at(s, 2 * line + parity)) - black,
                            there = scale * static_cast<float>(other.sums.at(s, 2 * line + other_parity)) - black;
                if (std::max(here, there) < highest_codes - black && std::max(here, there) > least_above_black_codes)
                    take(here, there);
            }
    };
    // The middle of all ratios: what has a light of its own keeps its level.
    std::vector<float> ratios;
    each([&](float here, float there) { ratios.push_back(std::max(here, dimmest) / std::max(there, dimmest)); });
    if (ratios.empty()) return 1;
    const auto middle = ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 2);
    std::ranges::nth_element(ratios, middle);
    const float ratio = *middle;
    if (!is_light_change(ratio)) return 1;
    float left = 0, all = 0;
    each([&](float here, float there) {
        left += std::abs(here - std::min(ratio * there, highest_codes)), all += std::abs(here - there);
    });
    return left < most_left * all ? ratio : 1;
}

/// @param factors  of each parity
void EvenLight::relight(const LossFrame& from, std::array<float, 2> factors, Copy& to) const {
    const media::Plane& plane = from.frame.planes[0];
    const bool wide = from.frame.format.bit_depth > 8;
    const auto per_code = static_cast<float>(1 << (from.frame.format.bit_depth - 8));
    const std::size_t stride = static_cast<std::size_t>(plane.width) * (wide ? 2 : 1);
    to.samples.resize(stride * static_cast<std::size_t>(plane.height));
    to.frame = from, to.frame.lit_by = factors;
    media::Plane& lit = to.frame.frame.planes[0];
    lit.data = to.samples.data(), lit.stride_bytes = static_cast<std::ptrdiff_t>(stride);
    const float black_sum = black_ / per_sum(from);
    const float highest = 256 * per_code - 1;
    for (int y = 0; y < plane.height; ++y) {
        const float factor = factors[static_cast<std::size_t>(y % 2)];
        std::byte* row = to.samples.data() + stride * static_cast<std::size_t>(y);
        if (wide)
            scale_row<std::uint16_t>(plane.row(y), plane.width, black_ * per_code, factor, highest, row);
        else
            scale_row<std::uint8_t>(plane.row(y), plane.width, black_, factor, highest, row);
        if (factor == 1) continue;
        for (int s = 0; s < from.sums.width; ++s) {
            const float sum = black_sum + factor * (static_cast<float>(from.sums.at(s, y)) - black_sum);
            to.frame.sums.at(s, y) = static_cast<std::uint32_t>(std::clamp(sum, 0.0F, segment * highest));
        }
    }
}

const LossFrame* EvenLight::lit_as(const LossFrame& now, int parity, const LossFrame* frame, std::size_t place) {
    if (frame == nullptr) return nullptr;
    std::array<float, 2> factors{1, 1};
    const float here = now.levels[static_cast<std::size_t>(parity)] - black_;
    for (const int other : {0, 1}) {
        const auto at = static_cast<std::size_t>(other);
        const float there = frame->levels[at] - black_;
        constexpr float least_to_look = 1.15F;
        if (frame == &now && other == parity) continue;
        if (here > least_to_look * there || there > least_to_look * here)
            factors[at] = light_ratio(now, parity, *frame, other, black_);
    }
    if (factors[0] == 1 && factors[1] == 1) return frame;
    relight(*frame, factors, copies_[place]);
    return &copies_[place].frame;
}

}  // namespace guardband::measure
