#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/clip/loss_search.h"

namespace guardband::measure {

/// A piece of a line that differs from what is around it in time.
struct FlashPiece {
    int y = 0;               ///< row of the frame
    int first = 0, end = 0;  ///< samples
    float height = 0;        ///< 8-bit codes by which it stands out
    int sign = 1;            ///< of what it stands out by: −1 it is darker
    int lines = 1;           ///< of its field that it takes in
};

/// How far from a piece its like lies: to the right, and down in rows of the frame.
struct LikePlace {
    int samples = 0, rows = 0;
};

/// Looks whether another field shows the like of a piece nearby, as it does of a thing that moves.
///
/// Method: both ends of the piece, with some samples beyond, are laid on every row and place within reach; the thing is
/// there where the mean difference at both ends, a few samples nearer or farther from each other at most, is a small
/// share of its height, and it is level between them. What lies beyond the ends may be any other ground. It may be
/// fainter there, as what lies between two lines of a field is. What the picture's edge cuts has one end only, and must
/// be as thin there. A loss has ends of its own, which other fields have at that distance by chance alone.
class LikenessSearch {
public:
    static constexpr int reach_samples = 112, reach_lines = 14;
    static constexpr std::size_t height_count = 3;

    /// @param noise  of one sample, 8-bit codes
    void take(const media::Frame& frame, const FlashPiece& piece, float noise);
    /// Where a field of this frame shows it. @param parity  of the field @param places  those found are added
    void find_in(const media::Frame& frame, int parity, std::vector<LikePlace>& places) const;

private:
    struct End {
        bool is_there = true;
        int at = 0;                            ///< of its first sample, from the piece's first
        int count = 0;                         ///< samples
        int inside_at = 0, inside_end = 0;     ///< of its samples, which belong to the piece
        int sign = 1;                          ///< of what it stands out by
        std::array<int, height_count> half{};  ///< level half way up, at each height
        std::array<int, height_count> most{};  ///< sum of differences that is still alike, at each height
        std::vector<std::int16_t> samples;     ///< quarter codes; the same again at each of the lesser heights
    };

    void take_end(const media::Frame& frame, End& end, int first, int last, float noise) const;
    static bool alike(const End& end, std::size_t height, const std::int16_t* row);
    void take_middle(const media::Frame& frame, int first, int last, float noise);
    bool middle_alike(std::size_t height, const std::int16_t* row) const;
    bool leaves(int shift) const;
    bool is_at(const std::int16_t* row, int shift) const;
    bool is_thin(const CodeReader& reader, int y, int shift) const;

    FlashPiece piece_;
    int width_ = 0;
    End left_, right_;
    int middle_at_ = 0, middle_count_ = 0;                          ///< samples between the ends, or end and edge
    std::array<int, height_count> middle_level_{}, most_middle_{};  ///< quarter codes; sum of differences
    mutable std::vector<std::int16_t> row_;
};

}  // namespace guardband::measure
