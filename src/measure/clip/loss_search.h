#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/features.h"
#include "media/clip.h"

namespace guardband::measure {

enum class LossKind { Bright, Dark, Held };

/// A damaged piece of one line.
struct Loss {
    LossKind kind = LossKind::Bright;
    int parity = 0;          ///< of the field: 0 its rows are the frame's rows 0, 2, 4 …
    int line = 0;            ///< of the field, from 0 at its top
    int first = 0, end = 0;  ///< samples
};

/// A frame as the search for losses needs it, kept until the next has been seen.
struct LossFrame {
    media::Frame frame;
    Grid<std::uint32_t> sums;           ///< `FrameFeatures::segment_sums`
    Grid<std::uint32_t> change;         ///< `FrameFeatures::line_change`
    std::array<bool, 2> repeats{};      ///< the field is that of the frame before
    float noise = 0;                    ///< of one sample, 8-bit codes
    std::array<float, 2> levels{};      ///< mean of each field, 8-bit codes
    std::array<float, 2> lit_by{1, 1};  ///< factors by which the light of its fields was changed, see `EvenLight`
    bool coded = false;                 ///< lines differ too little here and there: a codec has thrown noise away
    bool in_blocks = false;             ///< so it has, in small blocks; or the file's codec is lossy
    bool is_lossy = false;              ///< the file's codec is
    double time_s = 0;
};

/// Reads single samples in 8-bit codes.
class CodeReader {
public:
    explicit CodeReader(const media::Frame& frame)
        : plane_(frame.planes[0]),
          wide_(frame.format.bit_depth > 8),
          scale_(1.0F / static_cast<float>(1 << (frame.format.bit_depth - 8))) {}

    int width() const { return plane_.width; }
    int height() const { return plane_.height; }
    float at(int x, int y) const {
        const std::byte* row = plane_.row(y);
        return scale_ * (wide_ ? static_cast<float>(reinterpret_cast<const std::uint16_t*>(row)[x])
                               : static_cast<float>(reinterpret_cast<const std::uint8_t*>(row)[x]));
    }
    float mean(int first, int end, int y) const;

private:
    const media::Plane& plane_;
    bool wide_;
    float scale_;
};

/// Least length of a loss, in samples of a picture so wide: 1.8 µs.
int least_loss(int width);

}  // namespace guardband::measure
