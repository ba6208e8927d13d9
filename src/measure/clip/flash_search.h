#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "measure/clip/likeness_search.h"
#include "measure/clip/loss_search.h"
#include "measure/clip/luma_range.h"

namespace guardband::measure {

/// Finds pieces of lines that were lost and show bright or dark.
///
/// Method: a piece of a line, one field high or a few lines, that is brighter (or darker) than the same place in the
/// frame before, in the frame after, in the lines of the other field on either side, and in the nearest whole lines
/// of its own field above and below. Segments of 16 samples propose it; its ends are then found sample by sample where
/// the sum over a threshold of half its height is largest. It must be sharp at both ends, even along its length, near
/// an end of the range from black to white, and as high against each of the six. No two of the fields around may have
/// its like, both ends of it, where one motion takes it (`LikenessSearch`); for what is shorter or longer than most,
/// none that is as high and at the same level anywhere near. In fields where most of what flashes is none, what is
/// shorter than 3.6 µs, at the first or last line, or shows in the lines beside, isn't believed.
class FlashSearch {
public:
    explicit FlashSearch(const LumaRange& range);

    /// @param before, after  null where the clip has none, or where they are copies
    /// @param parity         field that is searched
    void find(const LossFrame* before, const LossFrame& now, const LossFrame* after, int parity,
              std::vector<Loss>& out);

private:
    static constexpr int most_lines = 6;      ///< lines of a field that one loss may take in
    static constexpr int edge_gap = 2;        ///< samples at an end that belong to neither side
    static constexpr float uneven_codes = 2;  ///< beside noise, how uneven a loss may be

    struct Run {
        int line, first, end;  ///< segments
        int sign;
    };

    void mark(int parity);
    bool shows_beside(const Loss& loss) const;
    void drop_doubtful(std::size_t from, std::size_t runs, std::vector<Loss>& out) const;
    void take_runs(int parity, std::vector<Loss>& out);
    int marked(int line, int s) const;
    int lines_to_clear(const Run& run, int way) const;
    bool is_seen_elsewhere(const Run& run, int y, float level, float height, int lines, bool is_short) const;
    std::optional<float> mean_of(const Run& run, int y) const;
    bool may_be(const Run& whole, int y, int above, int below) const;
    float lit_alike(const LossFrame& other, int offset, const Run& run, int y, float level, int way) const;
    bool reaches_an_end(int sign, float level, bool is_short) const;
    bool moves(const FlashPiece& piece) const;
    std::optional<Loss> confirm(const Run& run, int parity) const;
    bool is_clear_of(const CodeReader& reader, int y, int first, int end, float level, int sign, float height) const;
    bool likeness_in(const LossFrame& frame, int y, int first, int end, int sign, float level, float height,
                     int lines) const;
    static Run inside(const Run& run);
    void trim(int y, const Run& inner, int& first, int& end) const;
    std::optional<std::pair<int, int>> ends(const Run& run, int y, float& height) const;
    bool goes_on_beside(const Run& run, int y, int first, int end, float level, float height) const;
    bool is_uneven(const Loss& loss) const;
    bool is_sharp(int y, int first, int end, int sign) const;
    float reference(int x, int y) const;

    float least_height_ = 0;                                                                       ///< 8-bit codes
    float black_ = 0, bright_from_ = 0, dark_to_ = 0, short_bright_from_ = 0, short_dark_to_ = 0;  ///< 8-bit codes
    const LossFrame *before_ = nullptr, *now_ = nullptr, *after_ = nullptr;
    int threshold_ = 0;        ///< sum over a segment, codes of the clip's depth
    float scale_ = 1;          ///< from such sums to the mean in 8-bit codes
    Grid<std::int8_t> marks_;  ///< per line of the field and segment: sign of what sticks out
    mutable std::vector<float> excess_;
    mutable LikenessSearch likeness_;
};

}  // namespace guardband::measure
