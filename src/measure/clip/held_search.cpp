#include "measure/clip/held_search.h"

#include <algorithm>
#include <cmath>

#include "measure/clip/noise_beyond.h"

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
constexpr float least_noise_steps = 0.35F;  ///< of the clip's depth
/// Of the squares that noise alone makes: below this a segment may be a copy; a line beside has more than that.
constexpr double copy_share = 0.12, beside_share = 0.35, beside_copy_share = 0.15;
/// A copy's squares from sample to sample along the line, of what noise makes of them: that of a tape is smooth. And
/// how much of those its difference from the other line may be.
constexpr double own_share = 0.08, most_of_own = 0.4;
constexpr double most_cut = 0.2;
constexpr int most_lines = 6;
/// A near copy has to be longer than an exact one, as chance makes it more easily.
constexpr double near_length = 2;
/// Behind the ends of a copy the squares are this share of the expected at least.
constexpr double end_share = 0.35;
constexpr int end_samples = 16;

}  // namespace

bool HeldSearch::is_small(const Grid<std::uint32_t>& change, int s, int y) const {
    return static_cast<double>(change.at(s, y)) < small_;
}

/// Whether much of a piece stands at its lowest or highest code, as where noise was cut: neighbours are then alike.
bool HeldSearch::is_cut(const CodeReader& reader, int y, int first, int end) {
    float low = 256, high = 0;
    for (int x = first; x < end; ++x) low = std::min(low, reader.at(x, y)), high = std::max(high, reader.at(x, y));
    int at_low = 0, at_high = 0;
    for (int x = first; x < end; ++x)
        at_low += reader.at(x, y) <= low ? 1 : 0, at_high += reader.at(x, y) >= high ? 1 : 0;
    return static_cast<double>(std::max(at_low, at_high)) > most_cut * (end - first);
}

/// By how much the nearest lines that are no copies, above and below, differ from theirs: the lesser of both, per
/// segment; 0 if there are none.
double HeldSearch::least_beside(const Grid<std::uint32_t>& change, int y, int first, int end) const {
    double least = 0;
    const auto mean = [&](int row) {
        double sum = 0;
        for (int s = first; s < end; ++s) sum += static_cast<double>(change.at(s, row));
        return sum / (end - first);
    };
    for (const int way : {-1, 1}) {
        int at = y + 2 * way, copies = 0;
        while (at >= 2 && at < change.height && mean(at) < beside_share * expected_ && ++copies < most_lines)
            at += 2 * way;
        if (at < 2 || at >= change.height) continue;
        if (copies >= most_lines) return 0;
        least = least == 0 ? mean(at) : std::min(least, mean(at));
    }
    return least;
}

std::optional<Loss> HeldSearch::confirm(const LossFrame& now, const LossFrame& other, int parity, int line, int first,
                                        int end) const {
    const int y = 2 * line + parity;
    const double beside = least_beside(now.change, y, first, end);
    if (beside < beside_share * expected_) return std::nullopt;
    const CodeReader reader(now.frame), then(other.frame);
    const auto square = [&](int x) {
        const float d = reader.at(x, y) - reader.at(x, y - 2);
        return static_cast<double>(d * d);
    };
    const double expected = 2 * static_cast<double>(now.noise) * static_cast<double>(now.noise);
    // The longest piece whose squares stay below half of what a copy may have, and a sum that falls where it ends.
    const int left = std::max(0, (first - 2) * segment), right = std::min(reader.width(), (end + 2) * segment);
    const double middle = 0.3 * expected;
    double sum = 0, best = 0;
    int from = left, best_from = left, best_to = left;
    for (int x = left; x < right; ++x) {
        if (sum <= 0) sum = 0, from = x;
        sum += middle - std::min(square(x), 6 * middle);
        if (sum > best) best = sum, best_from = from, best_to = x + 1;
    }
    double squares = 0, own = 0, in_time = 0;
    bool exact = true;
    for (int x = best_from; x < best_to; ++x) {
        const float change = reader.at(x, y) - then.at(x, y);
        in_time += static_cast<double>(change * change);
        squares += square(x), exact = exact && square(x) == 0;
        if (x > best_from) {
            const float d = reader.at(x, y) - reader.at(x - 1, y);
            own += std::min(static_cast<double>(d * d), expected);  // an outline is no noise
        }
    }
    const int length = best_to - best_from;
    const double least = least_loss(reader.width()) * (exact ? 1.0 : near_length);
    if (length < least) return std::nullopt;
    // The lines beside know better what is usual just there.
    const double usual = std::min(copy_share * expected_, beside_copy_share * beside) / expected_ * expected;
    if (squares > usual * length) return std::nullopt;
    if (is_cut(reader, y, best_from, best_to)) return std::nullopt;
    // Nothing there that could be copied?
    if (own < own_share * expected * length || in_time < beside_share * expected * length) return std::nullopt;
    if (squares > most_of_own * own) return std::nullopt;  // it is quiet itself
    const auto outside = [&](int a, int b) {
        if (a < 0 || b > reader.width()) return true;
        double all = 0;
        for (int x = a; x < b; ++x) all += square(x);
        return all >= end_share * expected * (b - a);
    };
    if (!outside(best_from - end_samples, best_from) || !outside(best_to, best_to + end_samples)) return std::nullopt;
    return Loss{LossKind::Held, parity, line, best_from, best_to};
}

void HeldSearch::search_line(const LossFrame& now, const LossFrame& other, int parity, int line) {
    const int y = 2 * line + parity;
    pieces_.clear();
    for (int s = 0; s < now.change.width;) {
        if (!is_small(now.change, s, y)) {
            ++s;
            continue;
        }
        int end = s + 1;
        while (end < now.change.width && is_small(now.change, end, y)) ++end;
        const auto loss = confirm(now, other, parity, line, s, end);
        if (loss && (pieces_.empty() || loss->first >= pieces_.back().end)) pieces_.push_back(*loss);
        s = end;
    }
}

/// Takes the pieces of a line, if it is a copy of the other in them alone.
void HeldSearch::accept(const LossFrame& now, int parity, int line, std::vector<Loss>& out) {
    if (!waiting_.empty() && (pieces_.empty() || line != waiting_.back().line + 1)) waiting_.clear();
    if (pieces_.empty()) return;
    const CodeReader reader(now.frame);
    const auto goes_on = [&](const Loss& before) {
        return before.kind == LossKind::Held && before.parity == parity && before.line + 1 == line &&
               before.end > reader.width() - segment;
    };
    const bool begun = !out.empty() && goes_on(out.back());
    switch (noise_beyond(reader, 2 * line + parity, pieces_, now.noise)) {
        case Beyond::SameNoise:
            waiting_.clear();
            return;
        case Beyond::NothingLeft:
            if (!begun) {
                waiting_.insert(waiting_.end(), pieces_.begin(), pieces_.end());
                return;
            }
            break;
        case Beyond::OwnNoise:
            if (pieces_.front().first < segment) out.insert(out.end(), waiting_.begin(), waiting_.end());
            break;
    }
    waiting_.clear();
    out.insert(out.end(), pieces_.begin(), pieces_.end());
}

void HeldSearch::find(const LossFrame& now, const LossFrame& other, int parity, std::vector<Loss>& out) {
    if (now.in_blocks) return;  // lines that are alike say nothing then
    const auto per_code = static_cast<double>(1 << (now.frame.format.bit_depth - 8));
    const double noise_steps = static_cast<double>(now.noise) * per_code;
    if (noise_steps < static_cast<double>(least_noise_steps)) return;
    expected_ = 2 * noise_steps * noise_steps * segment;
    small_ = 1.5 * copy_share * expected_;
    waiting_.clear();
    for (int line = 1; 2 * line + parity < now.change.height; ++line) {
        search_line(now, other, parity, line);
        accept(now, parity, line, out);
    }
}

}  // namespace guardband::measure
