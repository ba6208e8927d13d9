#pragma once

#include <optional>
#include <vector>

#include "measure/clip/loss_search.h"

namespace guardband::measure {

/// Finds pieces of lines that were filled from the line above in the same field.
///
/// Method: two lines of a noisy picture differ by the noise of both at least. Where a piece of at least 1.8 µs differs
/// not at all, or its squares by less than a tenth of that, while the lines around it differ as they should, it is a
/// copy. What is as wide but has no noise of its own (graphics, areas cut at black), along the line and in time, is
/// none; nor is a line that goes on to have the other's noise beyond, see `noise_beyond`. Of a line that is a copy from
/// edge to edge nothing is left to tell by; it counts between others that are copies up to the picture's edge. Needs
/// noise of a third of a code of the clip's depth, and that no codec made its own of it: finds none in lossy files.
class HeldSearch {
public:
    /// @param other   the frame before or after, to see by that there is noise; not a copy
    /// @param parity  field that is searched
    void find(const LossFrame& now, const LossFrame& other, int parity, std::vector<Loss>& out);

private:
    std::optional<Loss> confirm(const LossFrame& now, const LossFrame& other, int parity, int line, int first,
                                int end) const;
    void search_line(const LossFrame& now, const LossFrame& other, int parity, int line);
    void accept(const LossFrame& now, int parity, int line, std::vector<Loss>& out);
    bool is_small(const Grid<std::uint32_t>& change, int s, int y) const;
    static bool is_cut(const CodeReader& reader, int y, int first, int end);
    double least_beside(const Grid<std::uint32_t>& change, int y, int first, int end) const;

    double small_ = 0;           ///< sum of squares over a segment below which it may be a copy
    double expected_ = 0;        ///< what noise alone makes of it
    std::vector<Loss> pieces_;   ///< of the line that is searched
    std::vector<Loss> waiting_;  ///< whole lines before it, until one is seen to end
};

}  // namespace guardband::measure
