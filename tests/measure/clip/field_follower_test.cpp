// How far fields lie below one another, of pictures that were moved by known rows.
#include "measure/clip/field_follower.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace guardband::measure {
namespace {

constexpr int segments = 45, field_rows = 288, margin = 40;

/// Texture of blots so many rows high, each segment of a row by itself, and the frame's sums of a part of it.
class Texture {
public:
    Texture(int blot_rows, double contrast, unsigned seed) {
        std::mt19937 random(seed);
        std::normal_distribution<double> level(120, contrast);
        for (int y = 0; y < field_rows + 2 * margin; ++y)
            for (int x = 0; x < segments; ++x)
                levels_.push_back(y % blot_rows == 0 ? level(random) : levels_[levels_.size() - segments]);
    }

    /// @param down  rows by which it lies below where it was   @param noise  of a segment's mean, 8-bit codes
    FrameFeatures features(int down, double noise, int bit_depth, std::mt19937& random) const {
        std::normal_distribution<double> error(0, noise);
        const int code = 1 << (bit_depth - 8);
        FrameFeatures features;
        features.histogram.resize(std::size_t{1} << bit_depth);
        Grid<std::uint32_t>& out = features.segment_sums;
        out.width = segments, out.height = 2 * field_rows;
        out.cells.assign(std::size_t{segments} * 2 * field_rows, 0);
        for (int y = 0; y < field_rows; ++y)
            for (int x = 0; x < segments; ++x) {
                const double level = levels_[static_cast<std::size_t>((y - down + margin) * segments + x)];
                out.cells[static_cast<std::size_t>(2 * y * segments + x)] =
                    static_cast<std::uint32_t>(std::lround(code * FrameFeatures::segment * (level + error(random))));
            }
        return features;
    }

private:
    std::vector<double> levels_;
};

/// Shifts found of a picture that moves on by so many rows from field to field.
std::vector<std::optional<VerticalShift>> shifts_of(const Texture& texture, int rows, double noise, int bit_depth = 8) {
    std::mt19937 random(3);
    FieldFollower follower;
    std::vector<std::optional<VerticalShift>> out;
    for (int field = 0; field < 4; ++field) {
        out.push_back(follower.see(texture.features(rows * field, noise, bit_depth, random), 0));
        if (field == 0) out.clear();
    }
    return out;
}

// A turf that a camera sweeps over by more than the size of its tufts differs from itself as any two do; about no
// movement that looks like rest.
TEST(FieldFollower, FineTextureIsFollowedByMoreThanItsOwnSize) {
    for (const int blot_rows : {1, 3})
        for (const int rows : {-10, -7, -4, 0, 3, 8})
            for (const auto& shift : shifts_of(Texture(blot_rows, 25, 1), rows, 1)) {
                ASSERT_TRUE(shift) << rows;
                EXPECT_NEAR(shift->rows, rows, 0.1) << blot_rows << " rows a blot";
            }
}

// Where noise makes most of what differs, or all, no other place fits much better by chance.
TEST(FieldFollower, WhatRestsUnderMuchNoiseIsAtRest) {
    for (const double contrast : {0.0, 5.0})
        for (const auto& shift : shifts_of(Texture(6, contrast, 2), 0, 5)) {
            ASSERT_TRUE(shift) << contrast;
            EXPECT_NEAR(shift->rows, 0, 0.1) << contrast;
        }
}

// A picture of little contrast, in 8 bits as in 10.
TEST(FieldFollower, AFaintPictureIsFollowedAtAnyBitDepth) {
    for (const int bit_depth : {8, 10})
        for (const auto& shift : shifts_of(Texture(6, 3, 1), 2, 0.3, bit_depth)) {
            ASSERT_TRUE(shift) << bit_depth;
            EXPECT_NEAR(shift->rows, 2, 0.1) << bit_depth;
        }
}

}  // namespace
}  // namespace guardband::measure
