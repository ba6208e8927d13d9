#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "measure/clip/edge_rows.h"
#include "measure/clip/edge_shape.h"
#include "rows/signal_kernels.h"

namespace guardband::measure {

/// Remembers the picture beside the edges of each line, so that what moves out under an edge is known there, and places
/// the edges by that again.
///
/// Why: from one line alone an edge of 300 ns can't be told from what the picture does under it: that leaves 15 ns of
/// an edge at 40 dB, where noise alone would leave 4.
///
/// Method: a strip of picture behind each edge is kept, counted from the edge, so that only the scene moves in it and
/// displacements don't. How far it has moved since the frame before is found for eight lines together by least squares.
/// The strip moved on is what the line should show; it is averaged with what the line does show where blanking leaves
/// nine tenths of it. Where the strip reaches far enough out under the edge, what it is off a flat picture is taken out
/// of the row and the edge is fitted as that of a flat one.
///
/// Needs a scene that moves outwards at that edge, level or nearly so; elsewhere edges stay as they were.
class EdgeMemory {
public:
    /// Places the edges of one field's lines again where the picture under them is known.
    void see(const EdgeRows& rows, int parity, const EdgeShape& shape, std::vector<EdgeLine>& lines);
    /// How many lines of the field the scene beside both edges has gone down since the frame before; nothing where too
    /// little of it was found again.
    std::optional<float> moved_down(std::size_t parity) const;

private:
    static constexpr int length = 40, group_lines = 8;
    static constexpr float farthest_px = 12;    ///< movement per frame that is followed
    static constexpr float enough_known = 100;  ///< 1 / variance of a movement that is: a tenth of a sample, of a line

    using Piece = std::array<float, length>;

    /// The picture behind one edge; sample i stands i − `EdgeFilter::before` − `fraction` samples behind it.
    struct Strip {
        bool valid = false;
        float fraction = 0;
        float known_from = 0;  ///< samples behind the edge from which on it is known
        Piece picture{};
    };
    /// Movement of the scene from frame to frame: samples inwards, lines of the field down.
    struct Motion {
        float px = 0, lines = 0;

        bool is_more_than(float most) const { return std::abs(px) > most || std::abs(lines) > most; }
    };
    struct Side {
        std::vector<Strip> strips, before;  ///< of each line: made from this frame; from the one before
        std::vector<Motion> groups;         ///< of lines below each other
        std::vector<Motion> recent;         ///< of groups and those around, over the last frames
        std::vector<char> rests;            ///< groups that show the scene at rest
        std::vector<char> matched;          ///< groups whose movement was found
        std::vector<Motion> known;          ///< 1 / variance of the movement of each group
    };
    /// One line of the group at hand.
    struct Row {
        int line = 0, first = 0;
        float fraction = 0;
        bool has_strip = false;
        float known_from = 0;
        Piece codes{}, foreseen{},
            downwards{};  ///< the last: change of what is foreseen per line that the scene moves down
    };
    struct Match {
        Motion rest;            ///< beyond what was assumed
        float left_share = 1;   ///< what is left of the contrast
        float left_codes2 = 0;  ///< what is left, mean square
        Motion known;           ///< 1 / variance of the movement, 0 where the picture is flat
    };

    static std::pair<int, int> compared(float motion_px);
    float error_of(const Row& row, float motion_px) const;
    void read_group(const EdgeRows& rows, int side, const std::vector<EdgeLine>& lines, int first_line);
    void move_on(const Strip& strip, float fraction, float motion_px, Piece& out) const;
    void foresee(const Side& memory, Row& row, const Motion& motion, bool level);
    Match match(const Side& memory, const Motion& motion, bool level);
    bool settle(const Side& memory, Motion& motion, bool& level, Motion& known);
    bool follow(const Side& memory, Motion& motion, const std::optional<Motion>& neighbour, bool& level, Motion& known);
    void place_again(const Row& row, float error_codes, int side, const EdgeShape& shape, EdgeLine& line) const;
    static Motion movement_around(const Side& memory, std::size_t group);
    void find_resting(int side, Side& memory, std::vector<EdgeLine>& lines) const;
    void see_group(int side, const EdgeShape& shape, const Motion* motion, bool level, Side& memory,
                   std::vector<EdgeLine>& lines);
    static void remember(const Row& row, bool foreseen, float place, const EdgeShape& shape, Strip& strip);

    std::array<std::array<Side, 2>, 2> sides_;  ///< by parity and side
    std::vector<Row> group_rows_;
    std::size_t row_count_ = 0;
    int searches_left_ = 0;
    double noise_ = 2;
    const rows::SignalKernels& kernels_ = rows::fast_signal_kernels();
    Piece below_{};
};

}  // namespace guardband::measure
