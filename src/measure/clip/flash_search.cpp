#include "measure/clip/flash_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
/// What a codec does to outlines, which changes from field to field, must not count.
constexpr float coded_codes = 20;
/// What sticks out does so by this many noises of a difference of two segments, and by so many codes.
constexpr float least_in_noises = 4, least_codes = 4, most_codes = 14;
constexpr float most_between_lines_codes = 20;  ///< from one line of a loss to the next
/// A loss is bright or dark beyond these shares of the range from black to white: without a carrier the player's output
/// goes to an end of its range.
constexpr double bright_share = 0.8, dark_share = 0.12;
/// Of so many in a field the like is looked for around; where more need that, the picture is full of such things, and
/// the rest counts as seen.
constexpr int most_looked_after = 40;
constexpr float fields_around = 5;
}  // namespace

/// Marks what is above or below all four neighbours in time and in the other field.
void FlashSearch::mark(int parity) {
    const Grid<std::uint32_t>& sums = now_->sums;
    const int lines = (sums.height + 1 - parity) / 2;
    marks_.reset(sums.width, lines);
    const Grid<std::uint32_t>&before = before_ != nullptr ? before_->sums : after_->sums,
          &after = after_ != nullptr ? after_->sums : before_->sums;
    const rows::OutstandingRules rules{threshold_, static_cast<std::int32_t>(bright_from_ / scale_),
                                       static_cast<std::int32_t>(dark_to_ / scale_)};
    for (int line = 0; line < lines; ++line) {
        const int y = 2 * line + parity;
        const auto row = [y](const Grid<std::uint32_t>& grid, int offset) {
            const int at = y + offset < 0 ? y - offset : y + offset >= grid.height ? y - offset : y + offset;
            return &grid.at(0, at);
        };
        mark_({row(sums, 0), {row(sums, -1), row(sums, 1), row(before, 0), row(after, 0)}}, sums.width, rules,
              &marks_.at(0, line));
    }
}

int FlashSearch::marked(int line, int s) const {
    return line >= 0 && line < marks_.height ? static_cast<int>(marks_.at(s, line)) : 0;
}

/// Whether a row is as level and as near an end of the range as a run: a line of the same loss, before a picture that
/// is as bright in places.
bool FlashSearch::is_level_as(const Run& inner, int y) const {
    const float level = *mean_of(inner, 2 * inner.line + parity_);
    for (int s = inner.first; s < inner.end; ++s) {
        const float here = scale_ * static_cast<float>(now_->sums.at(s, y));
        if (!reaches_an_end(inner.sign, here) || std::abs(here - level) > most_between_lines_codes) return false;
    }
    return true;
}

/// Whether a level is one that the loss of the carrier gives.
bool FlashSearch::reaches_an_end(int sign, float level) const {
    return sign > 0 ? level >= bright_from_ : level <= dark_to_;
}

/// How many whole lines lie between a run and the nearest line above (−1) or below (1) that it takes no part in.
int FlashSearch::lines_to_clear(const Run& run, int way, bool by_level) const {
    int lines = 1;
    const Run inner = inside(run);
    const auto takes_part = [&](int line) {  // at least half of it; another thing may reach in
        if (line < 0 || line >= marks_.height) return false;
        int count = 0;
        for (int s = inner.first; s < inner.end; ++s) count += marked(line, s) == run.sign ? 1 : 0;
        return 2 * count >= inner.end - inner.first || (by_level && is_level_as(inner, 2 * line + parity_));
    };
    while (lines <= most_lines && takes_part(run.line + way * lines)) ++lines;
    return lines;
}

/// Mean over a run of segments of a row; nothing outside the picture.
std::optional<float> FlashSearch::mean_of(const Run& run, int y) const {
    if (y < 0 || y >= now_->sums.height) return std::nullopt;
    std::uint32_t sum = 0;
    for (int s = run.first; s < run.end; ++s) sum += now_->sums.at(s, y);
    return scale_ * static_cast<float>(sum) / static_cast<float>(run.end - run.first);
}

/// Whether another row goes on beyond an end of a run as it is between the ends, and the run's own falls: what shows
/// there is more than the run, and no piece of it.
bool FlashSearch::goes_on(const Run& run, int y, int other, float height) const {
    constexpr int beyond = 2;  // the next segment may hold the end itself
    const Run inner = inside(run);
    const auto falls = [&](int s, int row) {
        return static_cast<float>(run.sign) *
               (*mean_of(inner, row) - scale_ * static_cast<float>(now_->sums.at(s, row)));
    };
    return std::ranges::any_of(std::array{run.first - beyond, run.end + beyond - 1}, [&](int s) {
        return s >= 0 && s < now_->sums.width && falls(s, other) < least_share_of_height * height &&
               falls(s, y) >= height;
    });
}

/// What segments alone say, which is cheap, of the lines above and below.
bool FlashSearch::may_be(const Run& whole, int y, int above, int below) const {
    const Run run = inside(whole);
    const float level = *mean_of(run, y);
    const int row_up = y - 2 * above, row_down = y + 2 * below;
    const auto up = mean_of(run, row_up), down = mean_of(run, row_down);
    if (!up && !down) return false;
    const float beside = up && down ? (*up + *down) / 2 : up ? *up : *down;
    const float height = static_cast<float>(run.sign) * (level - beside);
    const auto low = [&](const std::optional<float>& other) {
        return other && static_cast<float>(run.sign) * (level - *other) < least_share_of_height * height;
    };
    const bool up_passes = !low(up) || (down && goes_on(whole, y, row_up, height)),
               down_passes = !low(down) || (up && goes_on(whole, y, row_down, height));
    return height >= static_cast<float>(threshold_) * scale_ && up_passes && down_passes;
}

/// What a piece is and how likely a loss; none if it can't be one.
std::optional<FlashSearch::Candidate> FlashSearch::confirm(const Run& run, int parity) {
    Piece p{run, 2 * run.line + parity, lines_to_clear(run, -1, true), lines_to_clear(run, 1, true)};
    const auto may = [&] { return p.lines() <= most_lines && may_be(run, p.y, p.above, p.below); };
    if (!may()) p.above = lines_to_clear(run, -1, false), p.below = lines_to_clear(run, 1, false);
    if (!may()) return std::nullopt;
    const auto found = ends(run, p.y, p.height);
    if (!found) return std::nullopt;
    std::tie(p.first, p.end) = *found;
    p.level = CodeReader(now_->frame).mean(p.first, p.end, p.y);
    if (!may_be_loss(p)) return std::nullopt;
    FlashEvidence evidence = quick_evidence(p);
    if (evidence.is_short && (before_ == nullptr || after_ == nullptr)) return std::nullopt;
    if (quick_log_odds(evidence) <= FlashPrior::least_log_odds) return std::nullopt;
    evidence.alike = static_cast<float>(seen_elsewhere(p));
    evidence.body = covered_elsewhere(p);
    if (log_odds(evidence) > FlashPrior::least_log_odds && log_odds(evidence) < certain_log_odds)
        evidence.on_motion =
            looked_after_++ < most_looked_after
                ? static_cast<float>(seen_on_one_motion({p.y, p.first, p.end, p.height, p.run.sign, p.lines()}))
                : fields_around;
    return Candidate{{run.sign > 0 ? LossKind::Bright : LossKind::Dark, parity, run.line, p.first, p.end},
                     log_odds(evidence)};
}

void FlashSearch::take_runs(int parity, std::vector<Loss>& out) {
    candidates_.clear(), looked_after_ = 0;
    for (int line = 0; line < marks_.height; ++line)
        for (int s = 0; s < marks_.width;) {
            const int sign = marks_.at(s, line);
            int end = s + 1;
            while (end < marks_.width && marks_.at(end, line) == sign) ++end;
            if (sign != 0)
                if (const auto candidate = confirm({line, s, end, sign}, parity)) candidates_.push_back(*candidate);
            s = end;
        }
    std::array<float, 2> least{};
    for (std::size_t i = 0; i < least.size(); ++i)  // by the fields before
        least[i] = is_last_ ? priors_[i].needed_in_last_frame() : 0;
    for (const Candidate& candidate : candidates_) prior_of(candidate.loss).add(candidate.log_odds);
    for (std::size_t i = 0; i < least.size(); ++i) least[i] += priors_[i].close_field();
    for (const auto& [loss, odds] : candidates_) {
        const bool known = !out.empty() && out.back().parity == parity && out.back().line == loss.line &&
                           out.back().kind == loss.kind && loss.first < out.back().end;
        if (odds > least[loss.kind == LossKind::Bright ? 0 : 1] && !known) out.push_back(loss);
    }
}

FlashSearch::FlashSearch(const LumaRange& range) {
    const auto at = [&](double share) {
        return static_cast<float>(range.to_8_bit(range.black + share * (range.white - range.black)));
    };
    black_ = at(0), white_ = at(1), bright_from_ = at(bright_share), dark_to_ = at(dark_share);
}

void FlashSearch::find(const LossFrame* before, const LossFrame& now, const LossFrame* after, int parity, bool is_last,
                       std::vector<Loss>& out) {
    if (before == nullptr && after == nullptr) return;
    before_ = before, now_ = &now, after_ = after, parity_ = parity, is_last_ = is_last;
    const int per_code = 1 << (now.frame.format.bit_depth - 8);
    constexpr float noise_of_difference = 1.414F / 4;  // two segments of 16 samples
    const float codes = std::clamp(least_in_noises * noise_of_difference * now.noise, least_codes, most_codes);
    threshold_ =
        static_cast<int>((now.coded ? std::max(codes, coded_codes) : codes) * static_cast<float>(segment * per_code));
    scale_ = 1.0F / static_cast<float>(segment * per_code);
    mark(parity);
    take_runs(parity, out);
}

}  // namespace guardband::measure
