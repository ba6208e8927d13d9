#include "measure/clip/picture_jumps.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace guardband::measure {
namespace {

/// The picture is cut up for movement across it (of each band of column sums) and along it; what moves and what stands
/// should not share a piece.
constexpr int sections = 3, strips = 5, halves = 2;
/// Frames looked at on either side, and how many of them must have moved.
constexpr std::int64_t look_around = 4;
constexpr std::size_t fewest_beside = 2;
constexpr std::size_t most_beside = 3;
constexpr std::int64_t look_beside = 2;  ///< likewise, where movement needn't be steady
/// Least movement per frame, and over its error.
constexpr double least_movement = 0.3, least_over_error = 8;
/// A movement below this share of its neighbours' is none: a repeat.
constexpr double repeat_share = 0.25;
/// Steady movement lies this near a straight line, as a share of it, and changes by no more over the stretch.
constexpr double most_unsteady = 0.08, most_change = 0.5;
/// How far from a whole number of frames a jump may be, beyond two standard errors; and the largest error with which a
/// piece counts.
constexpr double most_off = 0.12, most_off_per_frame = 0.04, largest_error = 0.12;
constexpr int most_missing = 8;
/// Pieces that must agree, and their share of those that move steadily around the jump; none may go on as if nothing
/// were missing. A piece where one thing moves and another stands may come out anywhere between.
constexpr std::size_t fewest_pieces = 3;
constexpr double least_agreement = 0.75, plain = 0.3;
/// Movement of one frame over another's that is no jump: with one frame missing it is twice as large.
constexpr double most_faster = 1.4;
constexpr std::size_t capacity = 100'000;

/// Points of a straight line, and what it says at 0.
struct Line {
    std::vector<std::pair<double, double>> points;

    /// Value at 0 and largest distance of a point; slope times extent.
    struct Fit {
        double value, off, change;
    };
    Fit fit() const {
        double n = 0, x1 = 0, y1 = 0, xx = 0, xy = 0;
        for (const auto& [x, y] : points) n += 1, x1 += x, y1 += y, xx += x * x, xy += x * y;
        const double slope = (n * xy - x1 * y1) / (n * xx - x1 * x1), value = (y1 - slope * x1) / n;
        double off = 0;
        for (const auto& [x, y] : points) off = std::max(off, std::abs(y - value - slope * x));
        return {value, off, std::abs(slope) * 2 * look_around};
    }
};

}  // namespace

void PictureJumps::see(const media::Frame& frame, const FrameFeatures& features) {
    if (pieces_.empty()) {
        across_pieces_ = static_cast<std::size_t>(features.column_sums[0].height * sections);
        pieces_.resize(across_pieces_ + static_cast<std::size_t>(strips * halves));
    }
    frames_[static_cast<std::size_t>(seen_ % ring_size)] = frame.index;
    times_s_[static_cast<std::size_t>(seen_ % ring_size)] = clock_.time_s(frame);
    for (Piece& piece : pieces_) {
        std::swap(piece.before, piece.now), std::swap(piece.lower_before, piece.lower_now);
        piece.lower_moved[static_cast<std::size_t>(seen_ % ring_size)] = std::nullopt;
    }
    read_columns(features);
    read_rows(features.segment_sums);
    follow();
    follow_lower();
    ++seen_;
    judge(seen_ - 1 - look_around);
}

void PictureJumps::read_columns(const FrameFeatures& features) {
    for (const Parity parity : {Parity::Top, Parity::Bottom}) {
        const Grid<std::uint32_t>& columns = features.column_sums[static_cast<std::size_t>(parity)];
        const auto width = static_cast<std::size_t>(columns.width / sections);
        const std::size_t all = std::min(across_pieces_, static_cast<std::size_t>(columns.height * sections));
        for (std::size_t i = 0; i < all; ++i) {
            std::vector<float>& to = parity == Parity::Top ? pieces_[i].now : pieces_[i].lower_now;
            to.resize(width);
            const std::uint32_t* from =
                columns.cells.data() + i / sections * static_cast<std::size_t>(columns.width) + i % sections * width;
            for (std::size_t x = 0; x < width; ++x)  // signed numbers convert faster
                to[x] = static_cast<float>(static_cast<std::int32_t>(from[x])) / FrameFeatures::column_rows;
        }
    }
}

void PictureJumps::read_rows(const Grid<std::uint32_t>& sums) {
    const int segments = sums.width / strips;
    auto piece = pieces_.begin() + static_cast<std::ptrdiff_t>(across_pieces_);
    for (int strip = 0; strip < strips; ++strip)
        for (int half = 0; half < halves; ++half, ++piece)
            for (const Parity parity : {Parity::Top, Parity::Bottom}) {
                const int first = static_cast<int>(parity), rows = (sums.height + 1 - first) / 2 / halves;
                std::vector<float>& to = parity == Parity::Top ? piece->now : piece->lower_now;
                to.clear();
                for (int row = half * rows; row < (half + 1) * rows && segments > 0; ++row) {
                    const auto* from = &sums.at(strip * segments, 2 * row + first);
                    const std::uint32_t sum = std::accumulate(from, from + segments, std::uint32_t{0});
                    to.push_back(static_cast<float>(sum) / static_cast<float>(segments * FrameFeatures::segment));
                }
            }
}

/// The top field, from the frame before.
void PictureJumps::follow() {
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
        Piece& piece = pieces_[i];
        ProfileMatcher::prepare(piece.now, ready_);
        piece.now.swap(ready_);
        auto& now = piece.moved[static_cast<std::size_t>(seen_ % ring_size)];
        now = seen_ > 0 ? matcher_of(i).shift(piece.before, piece.now) : std::nullopt;
    }
}

/// Whether a piece of the top field moves so much further than a frame before that a frame may be missing.
bool PictureJumps::leaps(const Piece& piece) const {
    if (seen_ < 2 || !moved(piece, seen_) || !moved(piece, seen_ - 1)) return false;
    const double now = std::abs(moved(piece, seen_)->samples), before = std::abs(moved(piece, seen_ - 1)->samples);
    return before >= least_movement && now > most_faster * before;
}

/// What leaps, in the bottom field, from the frame before.
void PictureJumps::follow_lower() {
    const auto leaping = std::ranges::count_if(pieces_, [this](const Piece& piece) { return leaps(piece); });
    if (leaping < static_cast<std::ptrdiff_t>(fewest_pieces)) return;
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
        Piece& piece = pieces_[i];
        if (!leaps(piece) || piece.lower_before.size() != piece.lower_now.size()) continue;
        ProfileMatcher::prepare(piece.lower_before, lower_before_);
        ProfileMatcher::prepare(piece.lower_now, lower_now_);
        piece.lower_moved[static_cast<std::size_t>(seen_ % ring_size)] = matcher_of(i).shift(lower_before_, lower_now_);
    }
}

std::optional<PictureJumps::Jump> PictureJumps::jump_in(const Piece& piece, std::int64_t position) const {
    const auto& jump = moved(piece, position);
    if (!jump) return std::nullopt;
    // Frames before it that repeat one another put off movement that the jump then makes up for.
    std::int64_t put_off = 0;
    while (put_off < look_around - 2 && position - 1 - put_off > 0) {
        const auto& before = moved(piece, position - 1 - put_off);
        if (!before || std::abs(before->samples) > repeat_share * std::abs(jump->samples) / 2) break;
        ++put_off;
    }
    Line line;
    double error = 0;
    for (const int direction : {-1, 1}) {
        std::size_t beside = 0;
        for (std::int64_t step = direction < 0 ? 1 + put_off : 1; step <= look_around && beside < most_beside; ++step) {
            const std::int64_t at = position + direction * step;
            if (at < 1 || at >= seen_ || !moved(piece, at)) break;
            const ProfileShift& shift = *moved(piece, at);
            if (std::abs(shift.samples) < repeat_share * std::abs(jump->samples) / (most_missing + 1)) continue;
            line.points.emplace_back(static_cast<double>(direction * step), shift.samples);
            error = std::max(error, shift.error);
            ++beside;
        }
        if (beside < fewest_beside) return std::nullopt;
    }
    const Line::Fit steady = line.fit();
    const double movement = std::abs(steady.value);
    if (movement < least_movement || movement < least_over_error * error || steady.change > most_change * movement ||
        steady.off > most_unsteady * movement + 3 * error)
        return std::nullopt;
    const auto times_of = [&](const ProfileShift& shift) {
        const double times = shift.samples / steady.value;
        return Jump{times - 1 - static_cast<double>(put_off), std::hypot(shift.error, times * error / 2) / movement};
    };
    const Jump upper = times_of(*jump);
    // Where frames before it repeat one another, those of the bottom field may be others.
    const auto& below = piece.lower_moved[static_cast<std::size_t>(position % ring_size)];
    if (!below || put_off > 0) return upper;
    const Jump lower = times_of(*below);
    return lower.error <= largest_error && lower.frames < plain ? lower : upper;
}

/// Whether a piece can be followed before and after a frame, but not from the one before to it.
bool PictureJumps::is_lost(const Piece& piece, std::int64_t position) const {
    const auto followed = [&](std::int64_t at) { return at >= 1 && at < seen_ && moved(piece, at).has_value(); };
    return !moved(piece, position) && followed(position - 1) && followed(position + 1);
}

/// Whether a piece moves at a frame by no more than it does around it, if perhaps not steadily enough to count: with a
/// frame missing it would go as far as two of its steps take it.
bool PictureJumps::goes_on(const Piece& piece, std::int64_t position) const {
    const auto& here = moved(piece, position);
    if (!here) return false;
    double slower = std::numeric_limits<double>::infinity(), faster = 0, error = here->error;
    for (std::int64_t at = position - look_beside; at <= position + look_beside; ++at) {
        if (at == position) continue;
        if (at < 1 || at >= seen_ || !moved(piece, at)) return false;
        const double along = std::copysign(1.0, here->samples) * moved(piece, at)->samples;
        slower = std::min(slower, along), faster = std::max(faster, along);
        error = std::max(error, moved(piece, at)->error);
    }
    return slower >= std::max(least_movement, least_over_error * error) &&
           std::abs(here->samples) < faster + slower / 2;
}

void PictureJumps::judge(std::int64_t position) {
    if (position < 1 || position - last_gap_ <= 2) return;
    jumps_.clear();
    std::size_t against = 0;
    for (const Piece& piece : pieces_) {
        const auto jump = jump_in(piece, position);
        if (jump && jump->error <= largest_error) jumps_.push_back(*jump);
        against += is_lost(piece, position) || goes_on(piece, position) ? 1 : 0;
    }
    if (jumps_.size() < fewest_pieces) return;
    const auto middle = jumps_.begin() + static_cast<std::ptrdiff_t>(jumps_.size() / 2);
    std::ranges::nth_element(jumps_, middle, {}, &Jump::frames);
    const double missing = std::round(middle->frames);
    if (missing < 1 || missing > most_missing) return;
    std::size_t agreed = 0;
    for (const Jump& jump : jumps_) {
        if (jump.frames < plain) return;
        agreed += std::abs(jump.frames - missing) <= most_off + most_off_per_frame * missing + 2 * jump.error ? 1 : 0;
    }
    if (agreed < fewest_pieces || static_cast<double>(agreed) < least_agreement * static_cast<double>(jumps_.size()))
        return;
    if (against > agreed) return;  // another picture, or an unsteady movement, that by chance fits in places
    last_gap_ = position;
    if (gaps_.size() < capacity)
        gaps_.push_back({frames_[static_cast<std::size_t>(position % ring_size)], static_cast<std::int64_t>(missing),
                         times_s_[static_cast<std::size_t>(position % ring_size)]});
}

}  // namespace guardband::measure
