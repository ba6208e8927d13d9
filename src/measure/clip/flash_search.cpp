#include "measure/clip/flash_search.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
/// What a codec does to outlines, which changes from field to field, must not count.
constexpr float coded_codes = 20;
/// What sticks out does so by this many noises of a difference of two segments, and by so many codes.
constexpr float least_in_noises = 4, least_codes = 4, most_codes = 14;
constexpr float least_share_of_height = 0.4F;
/// How uneven a loss may be: in noises and as a share of its height.
constexpr float uneven_noises = 1.5F, uneven_share = 0.06F;
/// A loss is bright or dark beyond these shares of the range from black to white: without a carrier the player's output
/// goes to an end of its range.
constexpr double bright_share = 0.8, dark_share = 0.12;
/// What stands out by less than this share of that range has to do so evenly, where most of what flashes is no loss.
constexpr double least_height_share = 0.15;
/// What is shorter than twice the least has less else to tell it by: it must reach these, and stand between two frames.
constexpr double short_bright_share = 0.97, short_dark_share = 0.03;
/// A thin thing that moves: how far, and how like it must be.
constexpr int likeness_lines = 14, likeness_segments = 5, few_segments = 4, long_segments = 7;
constexpr float like_height = 0.5F, like_level = 0.35F;

}  // namespace

/// Marks what is above or below all four neighbours in time and in the other field.
void FlashSearch::mark(int parity) {
    const Grid<std::uint32_t>& sums = now_->sums;
    const int lines = (sums.height + 1 - parity) / 2;
    marks_.reset(sums.width, lines);
    const Grid<std::uint32_t>&before = before_ != nullptr ? before_->sums : after_->sums,
          &after = after_ != nullptr ? after_->sums : before_->sums;
    const auto bright_sum = static_cast<std::int32_t>(bright_from_ / scale_),
               dark_sum = static_cast<std::int32_t>(dark_to_ / scale_);
    for (int line = 0; line < lines; ++line) {
        const int y = 2 * line + parity;
        const auto row = [y](const Grid<std::uint32_t>& grid, int offset) {
            const int at = y + offset < 0 ? y - offset : y + offset >= grid.height ? y - offset : y + offset;
            return &grid.at(0, at);
        };
        const std::uint32_t *here = row(sums, 0), *above = row(sums, -1), *below = row(sums, 1),
                            *earlier = row(before, 0), *later = row(after, 0);
        std::int8_t* marks = &marks_.at(0, line);
        for (int s = 0; s < sums.width; ++s) {
            const auto c = static_cast<std::int32_t>(here[s]);
            const auto a = static_cast<std::int32_t>(above[s]), b = static_cast<std::int32_t>(below[s]),
                       e = static_cast<std::int32_t>(earlier[s]), l = static_cast<std::int32_t>(later[s]);
            const std::int32_t most = std::max(std::max(a, b), std::max(e, l)),
                               least = std::min(std::min(a, b), std::min(e, l));
            const int bright = c - most > threshold_ && c >= bright_sum ? 1 : 0,
                      dark = least - c > threshold_ && c <= dark_sum ? 1 : 0;
            marks[s] = static_cast<std::int8_t>(bright - dark);
        }
    }
}

int FlashSearch::marked(int line, int s) const {
    return line >= 0 && line < marks_.height ? static_cast<int>(marks_.at(s, line)) : 0;
}

/// Whether a row shows nothing of a loss of that level.
bool FlashSearch::is_clear_of(const CodeReader& reader, int y, int first, int end, float level, int sign,
                              float height) const {
    if (y < 0 || y >= reader.height()) return true;
    const float difference = static_cast<float>(sign) * (level - reader.mean(first, end, y));
    const float scatter = now_->noise * std::sqrt(2.0F / static_cast<float>(end - first));
    return difference >= std::max(least_share_of_height * height, 3 * scatter);
}

/// Whether a frame has a thin thing there that is as high and has the same level.
bool FlashSearch::likeness_in(const LossFrame& frame, int y, int first, int end, int sign, float level, float height,
                              int lines) const {
    const Grid<std::uint32_t>& sums = frame.sums;
    if (y < 0 || y >= sums.height) return false;
    // Whether segments of the row have its level and stand out from the rows above and below; what lies between two
    // lines takes in one more.
    const auto alike = [&](int from, int to) {
        const auto mean = [&](int row) {
            std::uint32_t sum = 0;
            for (int s = from; s < to; ++s) sum += sums.at(s, row);
            return scale_ * static_cast<float>(sum) / static_cast<float>(to - from);
        };
        const float here = mean(y);
        const auto stands_out = [&](int row) {
            return row < 0 || row >= sums.height ||
                   static_cast<float>(sign) * (here - mean(row)) >= like_height * height;
        };
        return std::abs(here - level) <= like_level * height &&
               (stands_out(y - 2 * lines) || stands_out(y - 2 * lines - 2)) &&
               (stands_out(y + 2 * lines) || stands_out(y + 2 * lines + 2));
    };
    constexpr int beyond = 2;  // the next segment may hold the end itself
    for (int shift = -likeness_segments; shift <= likeness_segments; ++shift) {
        const int from = first + shift, to = end + shift;
        if (from < 0 || to > sums.width || !alike(from, to)) continue;
        // It must end where this ends, too: a short loss before a long rail is no part of the rail.
        const bool goes_on =
            end - first < long_segments && ((from >= beyond && alike(from - beyond, from - beyond + 1)) ||
                                            (to + beyond <= sums.width && alike(to + beyond - 1, to + beyond)));
        if (!goes_on) return true;
    }
    return false;
}

/// How many whole lines lie between a run and the nearest line above (−1) or below (1) that it takes no part in.
int FlashSearch::lines_to_clear(const Run& run, int way) const {
    int lines = 1;
    const Run inner = inside(run);
    const auto is_marked = [&](int line) {  // at least half of it; another thing may reach in
        int count = 0;
        for (int s = inner.first; s < inner.end; ++s) count += marked(line, s) == run.sign ? 1 : 0;
        return 2 * count >= inner.end - inner.first;
    };
    while (lines <= most_lines && is_marked(run.line + way * lines)) ++lines;
    return lines;
}

/// Whether other fields have something like it near: two of them, so that another loss does no harm.
bool FlashSearch::is_seen_elsewhere(const Run& run, int y, float level, float height, int lines, bool is_short) const {
    const auto near = [&](const LossFrame* frame, int offset) {
        if (frame == nullptr) return false;
        for (int line = -likeness_lines; line <= likeness_lines; ++line)
            if (likeness_in(*frame, y + 2 * line + offset, run.first, run.end, run.sign, level, height, lines))
                return true;
        return false;
    };
    const int seen = (near(before_, 0) ? 1 : 0) + (near(after_, 0) ? 1 : 0) + (near(now_, 1) ? 1 : 0);
    // What is short has less to tell it by.
    return seen >= (is_short ? 1 : 2);
}

/// Mean over a run of segments of a row; nothing outside the picture.
std::optional<float> FlashSearch::mean_of(const Run& run, int y) const {
    if (y < 0 || y >= now_->sums.height) return std::nullopt;
    std::uint32_t sum = 0;
    for (int s = run.first; s < run.end; ++s) sum += now_->sums.at(s, y);
    return scale_ * static_cast<float>(sum) / static_cast<float>(run.end - run.first);
}

/// What segments alone say, which is cheap, of the lines above and below and of things that move.
bool FlashSearch::may_be(const Run& whole, int y, int above, int below) const {
    const Run run = inside(whole);
    const float level = *mean_of(run, y);
    const auto up = mean_of(run, y - 2 * above), down = mean_of(run, y + 2 * below);
    if (!up && !down) return false;
    const float beside = up && down ? (*up + *down) / 2 : up ? *up : *down;
    const float height = static_cast<float>(run.sign) * (level - beside);
    const auto low = [&](const std::optional<float>& other) {
        return other && static_cast<float>(run.sign) * (level - *other) < least_share_of_height * height;
    };
    if (height < static_cast<float>(threshold_) * scale_ || low(up) || low(down)) return false;
    const int segments = whole.end - whole.first;
    if (segments >= few_segments && segments < long_segments) return true;
    return !is_seen_elsewhere(run, y, level, height, above + below - 1, segments < 2);
}

/// What a level of another frame would be in the light that the lines above (`way` −1) or below (1) have now: light
/// that changes is no loss, and may end at this line.
float FlashSearch::lit_alike(const LossFrame& other, int offset, const Run& run, int y, float level, int way) const {
    constexpr int around_lines = 6, around_segments = 2;
    float here = 0, there = 0;
    for (int line = 1; line <= around_lines; ++line) {
        const int row = y + 2 * way * line;
        if (row < 0 || row >= now_->sums.height || row + offset >= now_->sums.height) continue;
        for (int s = std::max(0, run.first - around_segments);
             s < std::min(now_->sums.width, run.end + around_segments); ++s) {
            if (marked(run.line + way * line, s) == run.sign) continue;  // of the same loss
            here += scale_ * static_cast<float>(now_->sums.at(s, row)) - black_;
            there += scale_ * static_cast<float>(other.sums.at(s, row + offset)) - black_;
        }
    }
    if (here <= 0 || there <= 0) return level;
    constexpr float most = 2;
    return black_ + (level - black_) * std::clamp(here / there, 1 / most, most);
}

/// Whether a level is one that the loss of the carrier gives.
bool FlashSearch::reaches_an_end(int sign, float level, bool is_short) const {
    if (sign > 0) return level >= (is_short ? short_bright_from_ : bright_from_);
    return level <= (is_short ? short_dark_to_ : dark_to_);
}

std::optional<Loss> FlashSearch::confirm(const Run& run, int parity) const {
    const int y = 2 * run.line + parity;
    const int above = lines_to_clear(run, -1), below = lines_to_clear(run, 1);
    if (above + below - 1 > most_lines || !may_be(run, y, above, below)) return std::nullopt;
    float height = 0;
    const auto found = ends(run, y, height);
    if (!found) return std::nullopt;
    const auto [first, end] = *found;
    const CodeReader now(now_->frame);
    const float level = now.mean(first, end, y);
    const auto clear = [&, first = first, end = end](const CodeReader& reader, int row) {
        return is_clear_of(reader, row, first, end, level, run.sign, height);
    };
    if (!clear(now, y - 1) || !clear(now, y + 1) || !clear(now, y - 2 * above) || !clear(now, y + 2 * below))
        return std::nullopt;
    const auto is_light = [&, first = first, end = end](const LossFrame& other, int offset) {
        const int row = y + offset < now.height() ? y + offset : y - 1;
        const float then = CodeReader(other.frame).mean(first, end, row);
        return std::ranges::any_of(std::array{-1, 1}, [&](int way) {
            const float lit = lit_alike(other, offset, run, y, then, way);
            return static_cast<float>(run.sign) * (level - lit) < least_share_of_height * height;
        });
    };
    if (is_light(*now_, 1)) return std::nullopt;
    for (const LossFrame* other : {before_, after_})
        if (other != nullptr && (!clear(CodeReader(other->frame), y) || is_light(*other, 0))) return std::nullopt;
    const bool is_short = end - first < 2 * least_loss(now.width());
    if (is_short && (before_ == nullptr || after_ == nullptr)) return std::nullopt;
    if (!reaches_an_end(run.sign, level, is_short)) return std::nullopt;
    float squares = 0;
    for (int x = first + edge_gap; x < end - edge_gap; ++x) squares += (now.at(x, y) - level) * (now.at(x, y) - level);
    const float uneven = std::sqrt(squares / static_cast<float>(end - first - 2 * edge_gap));
    if (uneven > std::max(uneven_noises * now_->noise + uneven_codes, uneven_share * height)) return std::nullopt;
    if (!is_sharp(y, first, end, run.sign) || goes_on_beside(run, y, first, end, level, height)) return std::nullopt;
    if (moves({y, first, end, height})) return std::nullopt;
    return Loss{run.sign > 0 ? LossKind::Bright : LossKind::Dark, parity, run.line, first, end};
}

void FlashSearch::take_runs(int parity, std::vector<Loss>& out) {
    std::size_t runs = 0;
    const std::size_t before = out.size();
    for (int line = 0; line < marks_.height; ++line)
        for (int s = 0; s < marks_.width;) {
            const int sign = marks_.at(s, line);
            int end = s + 1;
            while (end < marks_.width && marks_.at(end, line) == sign) ++end;
            runs += sign != 0 ? 1 : 0;
            if (sign != 0)
                if (const auto loss = confirm({line, s, end, sign}, parity)) {
                    const bool known = !out.empty() && out.back().parity == parity && out.back().line == line &&
                                       out.back().kind == loss->kind && loss->first < out.back().end;
                    if (!known) out.push_back(*loss);
                }
            s = end;
        }
    drop_doubtful(before, runs, out);
}

FlashSearch::FlashSearch(const LumaRange& range) {
    const auto at = [&](double share) {
        return static_cast<float>(range.to_8_bit(range.black + share * (range.white - range.black)));
    };
    least_height_ = at(least_height_share) - at(0);
    black_ = at(0), bright_from_ = at(bright_share), dark_to_ = at(dark_share);
    short_bright_from_ = at(short_bright_share), short_dark_to_ = at(short_dark_share);
}

void FlashSearch::find(const LossFrame* before, const LossFrame& now, const LossFrame* after, int parity,
                       std::vector<Loss>& out) {
    if (before == nullptr && after == nullptr) return;
    before_ = before, now_ = &now, after_ = after;
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
