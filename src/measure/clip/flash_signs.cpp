// What tells a loss from other things that flash by its own line, those beside and the frames around: that it is level,
// no light that changed, and how plainly it stands out.
#include <algorithm>
#include <array>
#include <cmath>

#include "measure/clip/flash_search.h"

namespace guardband::measure {
namespace {

constexpr float noise_of_step = 0.9F, noise_of_end = 0.58F;  ///< of means of some samples, in noises
constexpr float most_of_other = 0.6F, most_share = 1.5F;     ///< beyond that, more tells no more
constexpr float short_losses = 2.15F;        ///< of the least length: 3.85 µs, what is claimed is longer
constexpr float entering_samples = 100;      ///< from the picture's edge: what is there may have come in just now
constexpr int step_gap = 1, step_reach = 6;  ///< samples on either side of an end
/// How uneven a loss may be: in noises and as a share of its height.
constexpr float uneven_noises = 1.5F, uneven_share = 0.06F, uneven_share_if_lossy = 0.2F;

}  // namespace

/// What a level of another frame would be in the light that the lines above (`way` −1) or below (1) have now: light
/// that changes is no loss, and may end at this line. Nothing if that doesn't account for most of what changed there.
std::optional<float> FlashSearch::lit_alike(const LossFrame& other, int offset, const Run& run, int y, float level,
                                            int way) const {
    constexpr int around_lines = 6, around_segments = 2;
    const auto each = [&](const auto& take) {
        for (int line = 1; line <= around_lines; ++line) {
            const int row = y + 2 * way * line;
            if (row < 0 || row >= now_->sums.height || row + offset >= now_->sums.height) continue;
            for (int s = std::max(0, run.first - around_segments);
                 s < std::min(now_->sums.width, run.end + around_segments); ++s) {
                if (marked(run.line + way * line, s) == run.sign) continue;  // of the same loss
                take(scale_ * static_cast<float>(now_->sums.at(s, row)) - black_,
                     scale_ * static_cast<float>(other.sums.at(s, row + offset)) - black_);
            }
        }
    };
    float here = 0, there = 0;
    each([&](float now, float then) { here += now, there += then; });
    if (here <= 0 || there <= 0) return std::nullopt;
    constexpr float most = 2, most_left = 0.8F;
    const float ratio = std::clamp(here / there, 1 / most, most);
    float changed = 0, left = 0;
    each([&](float now, float then) { changed += std::abs(now - then), left += std::abs(now - ratio * then); });
    if (left > most_left * changed) return std::nullopt;
    return black_ + (level - black_) * ratio;
}

/// Whether it is so only by light that changed, in another field or frame.
bool FlashSearch::is_light(const Piece& piece, const LossFrame& other, int offset) const {
    const int height = now_->frame.planes[0].height;
    const int row = piece.y + offset < height ? piece.y + offset : piece.y - 1;
    const float then = CodeReader(other.frame).mean(piece.first, piece.end, row);
    return std::ranges::any_of(std::array{-1, 1}, [&](int way) {
        const auto lit = lit_alike(other, offset, piece.run, piece.y, then, way);
        return lit && static_cast<float>(piece.run.sign) * (piece.level - *lit) < least_share_of_height * piece.height;
    });
}

/// How uneven a piece is along its length: codes RMS.
float FlashSearch::unevenness(const Piece& p) const {
    const CodeReader now(now_->frame);
    float squares = 0;
    for (int x = p.first + edge_gap; x < p.end - edge_gap; ++x)
        squares += (now.at(x, p.y) - p.level) * (now.at(x, p.y) - p.level);
    return std::sqrt(squares / static_cast<float>(p.end - p.first - 2 * edge_gap));
}

/// Whether it is level and near an end of the range, as each loss is, and not so by light alone.
bool FlashSearch::may_be_loss(const Piece& p) const {
    if (!reaches_an_end(p.run.sign, p.level)) return false;
    const float share = now_->is_lossy ? uneven_share_if_lossy : uneven_share;
    if (unevenness(p) > std::max(uneven_by_noise(), share * p.height)) return false;
    if (is_light(p, *now_, 1)) return false;
    return std::ranges::none_of(std::array{before_, after_},
                                [&](const LossFrame* other) { return other != nullptr && is_light(p, *other, 0); });
}

/// What noise makes of a level piece: codes RMS, at most.
float FlashSearch::uneven_by_noise() const { return uneven_noises * now_->noise + uneven_codes; }

/// By how much it stands out more (+) or less from a row than it is high.
float FlashSearch::excess_over(const Piece& p, const CodeReader& reader, int y) const {
    if (y < 0 || y >= reader.height()) return 0;
    const float difference = static_cast<float>(p.run.sign) * (p.level - reader.mean(p.first, p.end, y));
    return difference / p.height - 1;
}

/// The largest step at a place in the rows beside, as a share of the height.
float FlashSearch::step_beside(const Piece& p, int x) const {
    const CodeReader now(now_->frame);
    if (x < step_reach || x + step_reach > now.width()) return 0;
    float most = 0;
    for (const int row : {p.y - 2 * p.above, p.y - 1, p.y + 1, p.y + 2 * p.below}) {
        if (row < 0 || row >= now.height()) continue;
        most = std::max(
            most, std::abs(now.mean(x + step_gap, x + step_reach, row) - now.mean(x - step_reach, x - step_gap, row)));
    }
    return most / p.height;
}

/// All of it that reads few samples.
FlashEvidence FlashSearch::quick_evidence(const Piece& p) const {
    const CodeReader now(now_->frame);
    const auto beyond = [](float share, float by_noise, float most) {
        return std::clamp(std::abs(share) - by_noise, 0.0F, most);
    };
    const float noise = now_->noise / p.height;
    const float noise_of_mean = noise * std::sqrt(2.0F / static_cast<float>(p.end - p.first));
    FlashEvidence e;
    e.height = p.height;
    const int length = p.end - p.first, least = least_loss(now.width());
    e.is_short = static_cast<float>(length) < short_losses * static_cast<float>(least);
    e.shortness = std::max(0.0F, 2 - static_cast<float>(length) / static_cast<float>(least));
    e.in_blocks = now_->in_blocks, e.is_lossy = now_->is_lossy;
    e.is_lamp = p.run.sign > 0 && std::ranges::all_of(std::array{before_, after_}, [&](const LossFrame* other) {
                    return other == nullptr || other->lit_by[static_cast<std::size_t>(parity_)] > 1;
                });
    e.other =
        beyond(std::min(excess_over(p, now, p.y - 1), excess_over(p, now, p.y + 1)), noise_of_mean, most_of_other);
    e.own = beyond(std::min(excess_over(p, now, p.y - 2 * p.above), excess_over(p, now, p.y + 2 * p.below)),
                   noise_of_mean, most_share);
    float time = 0;
    for (const LossFrame* other : {before_, after_})
        if (other != nullptr) time = std::min(time, excess_over(p, CodeReader(other->frame), p.y));
    e.time = beyond(time, noise_of_mean, most_share);
    const auto [left, right] = beyond_ends(p.y, p.first, p.end, p.run.sign);
    e.ends = beyond(std::max(std::abs(left), std::abs(right)), noise_of_end * noise, most_share);
    for (const Beyond& end : seen_beyond_ends(p)) {
        e.unexplained += beyond(end.unexplained, noise_of_end * noise, 1);
        e.undecided += beyond(end.undecided, noise, 1);
    }
    e.short_of_end = std::max(0.0F, p.run.sign > 0 ? white_ - p.level : p.level - black_) / (white_ - black_);
    e.uneven = std::max(0.0F, unevenness(p) - uneven_by_noise()) / p.height;
    e.edges = beyond(std::max(step_beside(p, p.first), step_beside(p, p.end)), noise_of_step * noise, 1);
    e.beside = beyond(shown_beside(p), noise_of_end * noise, most_share);
    const auto by_edge = [](int samples) { return std::max(0.0F, 1 - static_cast<float>(samples) / entering_samples); };
    e.unseen = by_edge(p.first) + by_edge(now.width() - p.end) +
               (p.y < 2 * p.above || p.y + 2 * p.below >= now.height() ? 1.0F : 0.0F) +
               (before_ == nullptr || after_ == nullptr ? 1.0F : 0.0F);
    return e;
}

}  // namespace guardband::measure
