#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "measure/clip/loss_search.h"

namespace guardband::measure {

/// Shows the fields around one as they would be in its light: a lamp that goes on or off changes all of a picture by
/// one factor, and hides from one field to the next what is there for one field alone.
///
/// Method: the factor is the ratio of both fields' light, over segments that neither clips; it is believed if it takes
/// most of the difference between them away, which it doesn't where the picture is another one. Fields whose light is
/// within a quarter of that of the one looked at stay as they are. What was dark is brought up with its noise.
class EvenLight {
public:
    /// @param black  8-bit codes
    explicit EvenLight(float black) : black_(black) {}

    /// Both fields of a frame in the light of the field `parity` of `now`; the frame itself where that is its own.
    /// @param place  0 to 2, of the copy, which lives until the next call with it; null frames stay null
    const LossFrame* lit_as(const LossFrame& now, int parity, const LossFrame* frame, std::size_t place);

private:
    struct Copy {
        LossFrame frame;
        std::vector<std::byte> samples;
    };

    void relight(const LossFrame& from, std::array<float, 2> factors, Copy& to) const;

    float black_;
    std::array<Copy, 3> copies_;
};

/// Mean of the segments of a field, 8-bit codes.
float field_level(const LossFrame& frame, int parity);

/// By how much the light of a field of `now` exceeds that of a field of another frame: 1 unless all of the picture
/// changed by one factor, of a quarter at least. @param black  8-bit codes
float light_ratio(const LossFrame& now, int parity, const LossFrame& other, int other_parity, float black);

}  // namespace guardband::measure
