// What tells a loss from a thing before the camera by more than its own line: that it moves, or shows beside.
#include <algorithm>
#include <array>
#include <cmath>

#include "measure/clip/flash_search.h"

namespace guardband::measure {
namespace {

constexpr std::size_t few_runs = 5;  ///< that are no losses, in a field; they may be there by chance
constexpr float even_share = 0.62F;  ///< of its scatter, by which what is little has to stand out
constexpr int around = 12;           ///< samples beyond an end
/// A line beside belongs to the same loss from the first share of its height on; two lines that show the second,
/// together, are too much for a loss.
constexpr float same_share = 0.6F, beside_share = 0.25F;

/// Whether places in two fields lie on one motion. @param periods  from the piece to the field
bool one_motion(const std::vector<LikePlace>& a, int periods_a, const std::vector<LikePlace>& b, int periods_b) {
    constexpr double samples_per_period = 3, rows_per_period = 1.5;  // what hands and legs add
    for (const LikePlace& p : a)
        for (const LikePlace& q : b)
            if (std::abs(static_cast<double>(p.samples) / periods_a - static_cast<double>(q.samples) / periods_b) <=
                    samples_per_period &&
                std::abs(static_cast<double>(p.rows) / periods_a - static_cast<double>(q.rows) / periods_b) <=
                    rows_per_period)
                return true;
    return false;
}

}  // namespace

/// Whether a thing that moves shows there: two of the fields around have its like, where one and the same motion takes
/// it. What two losses have in common by chance is not there.
bool FlashSearch::moves(const FlashPiece& piece) const {
    likeness_.take(now_->frame, piece, now_->noise);
    std::array<std::vector<LikePlace>, 5>
        places;  // frame before: own parity, other; this one: other; after: own, other
    const int own = piece.y % 2;
    if (before_ != nullptr) likeness_.find_in(before_->frame, own, places[0]);
    if (before_ != nullptr) likeness_.find_in(before_->frame, 1 - own, places[1]);
    likeness_.find_in(now_->frame, 1 - own, places[2]);
    if (after_ != nullptr) likeness_.find_in(after_->frame, own, places[3]);
    if (after_ != nullptr) likeness_.find_in(after_->frame, 1 - own, places[4]);
    // Periods of a field from the piece to each, if its own field is the first of its frame, and if it is the second.
    for (const std::array<int, 5>& periods : {std::array{-2, -1, 1, 2, 3}, std::array{-2, -3, -1, 2, 1}})
        for (std::size_t a = 0; a < places.size(); ++a)
            for (std::size_t b = a + 1; b < places.size(); ++b)
                if (one_motion(places[a], periods[a], places[b], periods[b])) return true;
    return false;
}

/// Whether the nearest lines that are no part of it stand out between its ends too, if less: what a camera sees has no
/// sharp edge from line to line.
bool FlashSearch::shows_beside(const Loss& loss) const {
    const CodeReader now(now_->frame);
    const int y = 2 * loss.line + loss.parity;
    const float sign = loss.kind == LossKind::Bright ? 1.0F : -1.0F;
    const int left = std::max(0, loss.first - around), right = std::min(now.width(), loss.end + around);
    const auto step = [&](int row) {
        const float inside = now.mean(loss.first + edge_gap, loss.end - edge_gap, row);
        float outside = 0;
        int ends = 0;
        if (loss.first - edge_gap > left) outside += now.mean(left, loss.first - edge_gap, row), ++ends;
        if (loss.end + edge_gap < right) outside += now.mean(loss.end + edge_gap, right, row), ++ends;
        return ends > 0 ? sign * (inside - outside / static_cast<float>(ends)) : 0.0F;
    };
    const auto is_same = [&](int row) { return step(row) >= same_share * step(y); };
    float beside = 0;
    for (const int way : {-2, 2}) {
        int row = y + way;
        while (row >= 0 && row < now.height() && std::abs(row - y) <= 2 * most_lines && is_same(row)) row += way;
        if (row < 0 || row >= now.height()) return true;  // there is nothing to see it by
        if (row + way < 0 || row + way >= now.height()) continue;
        beside += step(row) - step(row + way);
    }
    return beside >= beside_share * step(y);
}

/// Whether it stands out little, and here more, there less, as does a piece of a dense pattern.
bool FlashSearch::is_uneven(const Loss& loss) const {
    const CodeReader now(now_->frame);
    const int y = 2 * loss.line + loss.parity;
    const float sign = loss.kind == LossKind::Bright ? 1.0F : -1.0F;
    float sum = 0, squares = 0;
    for (int x = loss.first; x < loss.end; ++x) {
        const float excess = sign * (now.at(x, y) - reference(x, y));
        sum += excess, squares += excess * excess;
    }
    const auto count = static_cast<float>(loss.end - loss.first);
    const float height = sum / count, scatter = std::sqrt(std::max(0.0F, squares / count - height * height));
    return height < std::min(least_height_, even_share * scatter);
}

/// Where most of what flashes is no loss, what is short, uneven or shows beside isn't believed either.
/// @param from  index of the field's first @param runs  what flashed in it
void FlashSearch::drop_doubtful(std::size_t from, std::size_t runs, std::vector<Loss>& out) const {
    const auto first = out.begin() + static_cast<std::ptrdiff_t>(from);
    const auto losses = static_cast<std::size_t>(out.end() - first);
    if (runs - losses <= std::max(losses, few_runs)) return;
    const int least = 2 * least_loss(now_->frame.planes[0].width);
    out.erase(std::remove_if(first, out.end(),
                             [&](const Loss& loss) {
                                 return loss.end - loss.first < least || is_uneven(loss) || shows_beside(loss);
                             }),
              out.end());
}

}  // namespace guardband::measure
