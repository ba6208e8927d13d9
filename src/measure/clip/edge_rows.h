#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>

#include "measure/clip/edge_filter.h"
#include "media/clip.h"

namespace guardband::measure {

/// What was found of a line's two edges. Places count from the end of the row that an edge is nearer to.
struct EdgeLine {
    static constexpr int both = 2, none = -1;

    std::array<std::optional<EdgeFit>, 2> edges;  ///< left; right, mirrored
    std::array<float, 2> moved{};                 ///< displacement by each edge, if there
    std::array<bool, 2> foreseen{};               ///< placed with what was remembered of the picture under it
    std::array<bool, 2> doubted{};                ///< something of the picture may shift it: `EdgeDoubt`
    std::array<bool, 2> rests{};                  ///< the picture behind it hasn't moved since the frame before
    float pair_variance = 0;                      ///< of a place by either edge, by what each alone states
    float chosen = 0;
    int side = none;  ///< whose displacement was chosen: 0, 1, both or none

    /// Whether what its two edges differ by tells how well edges are placed.
    bool has_sure_pair() const { return side == both && !doubted[0] && !doubted[1]; }
};

/// Reads the rows of one field, of either sample size.
class EdgeRows {
public:
    /// @param blanking  8-bit codes
    EdgeRows(const media::Frame& frame, int parity, double blanking)
        : plane_(frame.planes[0]),
          parity_(parity),
          wide_(frame.format.bit_depth > 8),
          scale_(1.0F / static_cast<float>(1 << (frame.format.bit_depth - 8))),
          blanking_(static_cast<float>(blanking)),
          width_(frame.format.width),
          lines_((frame.format.height + 1 - parity) / 2) {}

    int lines() const { return lines_; }
    int width() const { return width_; }

    /// Sample in 8-bit codes. @param side  1: x counts from the right end
    float code(int line, int side, int x) const {
        const std::byte* row = plane_.row(2 * line + parity_);
        const int at = side == 0 ? x : width_ - 1 - x;
        return scale_ * (wide_ ? static_cast<float>(reinterpret_cast<const std::uint16_t*>(row)[at])
                               : static_cast<float>(reinterpret_cast<const std::uint8_t*>(row)[at]));
    }

    /// First sample from which on three samples in a row lie above `level` (8-bit codes); -1 if there is none.
    int first_above(int line, int side, float level) const {
        const std::byte* row = plane_.row(2 * line + parity_);
        return wide_ ? first_above(reinterpret_cast<const std::uint16_t*>(row), side, level / scale_)
                     : first_above(reinterpret_cast<const std::uint8_t*>(row), side, level / scale_);
    }

    /// The samples that `EdgeFilter` wants about `first`.
    void window(int line, int side, int first, float* out) const {
        stretch(line, side, first - EdgeFilter::before, EdgeFilter::taps, out);
    }

    /// Samples above blanking. Before the row's end there is blanking, behind the other end whatever is there last.
    void stretch(int line, int side, int first, int count, float* out) const {
        const std::byte* row = plane_.row(2 * line + parity_);
        if (wide_)
            stretch(reinterpret_cast<const std::uint16_t*>(row), side, first, count, out);
        else
            stretch(reinterpret_cast<const std::uint8_t*>(row), side, first, count, out);
    }

private:
    static constexpr int run_of_picture = 3;

    template <typename Sample>
    void stretch(const Sample* row, int side, int first, int count, float* out) const {
        const int from = std::clamp(-first, 0, count), to = std::clamp(width_ - first, from, count);
        std::fill(out, out + from, 0.0F);
        if (side == 0)
            for (int i = from; i < to; ++i) out[i] = scale_ * static_cast<float>(row[first + i]) - blanking_;
        else
            for (int i = from; i < to; ++i)
                out[i] = scale_ * static_cast<float>(row[width_ - 1 - first - i]) - blanking_;
        std::fill(out + to, out + count, to > 0 ? out[to - 1] : 0.0F);
    }

    template <typename Sample>
    int first_above(const Sample* row, int side, float level) const {
        const Sample* at = side == 0 ? row : row + width_ - 1;
        const int step = side == 0 ? 1 : -1, limit = static_cast<int>(level);
        for (int x = 0, above = 0; x < width_; ++x, at += step) {
            above = *at > limit ? above + 1 : 0;
            if (above == run_of_picture) return x - run_of_picture + 1;
        }
        return -1;
    }

    const media::Plane& plane_;
    int parity_;
    bool wide_;
    float scale_, blanking_;
    int width_, lines_;
};

}  // namespace guardband::measure
