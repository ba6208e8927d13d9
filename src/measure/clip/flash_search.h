#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "measure/clip/flash_evidence.h"
#include "measure/clip/likeness_search.h"
#include "measure/clip/loss_search.h"
#include "measure/clip/luma_range.h"
#include "rows/outstanding.h"

namespace guardband::measure {

/// Finds pieces of lines that were lost and show bright or dark.
///
/// Method: a piece of a line, one field high or a few lines, that is brighter (or darker) than the same place in the
/// frame before, in the frame after, in the lines of the other field on either side, and in the nearest whole lines
/// of its own field above and below. Segments of 16 samples propose it; where the sum over a threshold of half its
/// height is largest along the line its level is taken, and its ends are where that level ends: what lies behind may be
/// as bright in places. It must be even along its length and near an end of the range from black to white. How plainly
/// it stands out from each of the six, and what else tells a loss from a thing before the camera is weighed
/// (`FlashEvidence`): beyond its ends the picture is as around, nothing ends there in the rows beside, no motion takes
/// its like through the five fields around, and no line that it may be a piece of lies there. How much likelier a loss
/// it must be depends on how much lately flashed that was all but one (`FlashPrior`).
class FlashSearch {
public:
    explicit FlashSearch(const LumaRange& range);

    /// @param before, after  null where the clip has none, or where they are copies
    /// @param parity         field that is searched
    /// @param is_last        whether the clip has no frame after this one
    void find(const LossFrame* before, const LossFrame& now, const LossFrame* after, int parity, bool is_last,
              std::vector<Loss>& out);

private:
    static constexpr int most_lines = 6;                  ///< lines of a field that one loss may take in
    static constexpr int edge_gap = 2;                    ///< samples at an end that belong to neither side
    static constexpr float least_share_of_height = 0.4F;  ///< by which it stands out from each that it is held against
    /// Beside noise, how uneven a loss may be, and how far off its level some of it where a codec went over small
    /// blocks, or over all of it: each has a rounding of its own, the coarser the more stands out in it.
    static constexpr float uneven_codes = 2, off_in_blocks_codes = 10, off_if_lossy_codes = 14;

    struct Run {
        int line, first, end;  ///< segments
        int sign;
    };

    /// A run and what its samples say.
    struct Piece {
        Run run;
        int y;                        ///< row of the frame
        int above, below;             ///< lines of the field to the nearest that it takes no part in
        int first = 0, end = 0;       ///< samples
        float level = 0, height = 0;  ///< 8-bit codes

        int lines() const { return above + below - 1; }
    };

    /// What lies beyond an end, as shares of its height.
    struct Beyond {
        float unexplained = 0, undecided = 0;  ///< by the rows beside and the frames around; how much these differ
    };

    struct Candidate {
        Loss loss;
        float log_odds;
    };

    void mark(int parity);
    void take_runs(int parity, std::vector<Loss>& out);
    FlashPrior& prior_of(const Loss& loss) { return priors_[loss.kind == LossKind::Bright ? 0 : 1]; }
    std::optional<Candidate> confirm(const Run& run, int parity);

    int marked(int line, int s) const;
    bool is_level_as(const Run& inner, int y) const;
    int lines_to_clear(const Run& run, int way, bool by_level) const;
    std::optional<float> mean_of(const Run& run, int y) const;
    bool goes_on(const Run& run, int y, int other, float height) const;
    bool may_be(const Run& whole, int y, int above, int below) const;
    bool may_be_loss(const Piece& p) const;
    bool is_light(const Piece& piece, const LossFrame& other, int offset) const;
    float unevenness(const Piece& p) const;
    float uneven_by_noise() const;
    std::optional<float> lit_alike(const LossFrame& other, int offset, const Run& run, int y, float level,
                                   int way) const;
    bool reaches_an_end(int sign, float level) const;

    FlashEvidence quick_evidence(const Piece& p) const;
    float excess_over(const Piece& p, const CodeReader& reader, int y) const;
    float step_beside(const Piece& p, int x) const;
    float shown_beside(const Piece& p) const;
    int seen_elsewhere(const Piece& piece) const;
    bool likeness_in(const LossFrame& frame, int y, int first, int end, int sign, float level, float height,
                     int lines) const;
    float covered_elsewhere(const Piece& p) const;
    float covered_in(const LossFrame& frame, int y, const Piece& p) const;
    int seen_on_one_motion(const FlashPiece& piece) const;

    static Run inside(const Run& run);
    bool trim(int y, const Run& run, int& first, int& end);
    std::optional<std::pair<int, int>> ends(const Run& run, int y, float& height);
    std::pair<float, float> beyond_ends(int y, int first, int end, int sign) const;
    Beyond seen_beyond(const Piece& p, int from, int end) const;
    std::array<Beyond, 2> seen_beyond_ends(const Piece& p) const;
    float reference(int x, int y) const;

    float black_ = 0, white_ = 0, bright_from_ = 0, dark_to_ = 0;  ///< 8-bit codes
    const LossFrame *before_ = nullptr, *now_ = nullptr, *after_ = nullptr;
    int parity_ = 0;        ///< of the field that is searched
    bool is_last_ = false;  ///< whether its frame is the clip's last
    int threshold_ = 0;     ///< sum over a segment, codes of the clip's depth
    float scale_ = 1;       ///< from such sums to the mean in 8-bit codes
    rows::MarkOutstanding mark_ = rows::fast_mark_outstanding();
    Grid<std::int8_t> marks_;  ///< per line of the field and segment: sign of what sticks out
    std::vector<float> excess_, samples_;
    mutable LikenessSearch likeness_;
    std::vector<Candidate> candidates_;  ///< of the field being searched
    int looked_after_ = 0;               ///< of them, of those whose like was looked for around
    std::array<FlashPrior, 2>
        priors_;  ///< of bright ones, of dark ones: where much is of one kind, little may be of the other
};

}  // namespace guardband::measure
