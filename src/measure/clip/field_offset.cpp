#include "measure/clip/field_offset.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Columns of a piece: small, so that what moves and what stands seldom share one, and blanking fills one at the edge.
constexpr int piece_columns = 60;
constexpr std::size_t most_points = 4096, fewest_points = 24;
constexpr std::ptrdiff_t fewest_moving = 3;
/// Largest error of a piece's shift that counts, samples, and by how much its two fields may seem to move apart.
constexpr double largest_error = 0.25, most_unlike = 0.35;
/// By how much a piece may move faster or slower in the next frame, samples, and as a share of its movement.
constexpr double most_change_px = 0.35, most_change = 0.1;
/// Movement that counts as such, samples per frame.
constexpr double least_movement = 0.15;
/// Mean movement up or down from which frames say nothing, rows of a field per frame, and in its own standard errors.
constexpr double most_tilt_rows = 0.05, sure_of_tilt = 4;
/// Shares of a frame's pieces: all of it moves, or by noise alone.
constexpr double most_of_all = 0.5, hardly_any = 0.15;
/// Pieces that lie this near fit.
constexpr double nearness_px = 0.4;
/// Square of the usual error of a piece through noise of 30 dB. Larger errors have longer tails than normal ones.
constexpr double usual_misfit = 0.01;
/// By how much the second best must be worse, and the share that must fit, to speak plainly. Where all moves alike the
/// noise of the movement, which k = 0 leaves out, makes up a factor of 1.125 at most (1.07 was found at 30 dB), and
/// chance another 1 ÷ √pieces.
constexpr double plain_factor = 1.15, plain_chance = 1.2, plain_share = 0.75;
/// k of `FieldMoments`.
constexpr std::array lags{0.5, -0.5, 0.0};

}  // namespace

void FieldOffset::see(const FrameFeatures& features, bool usable) {
    const std::int64_t phase = seen_++ % every_;
    if (phase != 0 && phase < every_ - 2) return;
    prepare(features);
    if (phase == 0) mark_unsteady(), thin();
    if (phase != every_ - 1) return follower_.take(features, 0);
    const auto tilt = follower_.see(features, 0);
    if (!usable || !features.has_previous) return;
    if (tilt) tilted_rows_ += tilt->rows, tilted_squares_ += tilt->rows * tilt->rows, ++tilt_frames_;
    const std::size_t first = points_.size();
    for (std::size_t i = 0; i < pieces_.size(); ++i) compare(pieces_[i], i / sections_);
    leave_out_repeat(first);
}

/// To be called with the frame after the one whose points stand last.
void FieldOffset::mark_unsteady() {
    std::optional<std::size_t> first;
    int steady = 0, unsteady = 0;
    for (Piece& piece : pieces_) {
        const auto at = std::exchange(piece.point, std::nullopt);
        if (!at || *at >= points_.size()) continue;  // the frame repeated another
        if (!first) first = *at;
        const auto moved = static_cast<double>(points_[*at].moved_px);
        if (std::abs(moved) < least_movement) continue;
        const auto next = matcher_.shift(piece.before[0], piece.now[0]);
        if (!next || next->error >= largest_error) continue;
        ++(std::abs(next->samples - moved) <= most_change_px + most_change * std::abs(moved) ? steady : unsteady);
    }
    if (first && unsteady > steady)
        for (std::size_t i = *first; i < points_.size(); ++i) points_[i].steady = false;
}

/// @param first  of the frame's points
void FieldOffset::leave_out_repeat(std::size_t first) {
    const auto moves = [](const Point& p) { return std::abs(static_cast<double>(p.moved_px)) >= least_movement; };
    const auto moving = std::count_if(points_.begin() + static_cast<std::ptrdiff_t>(first), points_.end(), moves);
    if (points_.size() == first) return;
    const double share = static_cast<double>(moving) / static_cast<double>(points_.size() - first);
    if (share > most_of_all)
        standstills_ = 0;
    else if (share < hardly_any && standstills_++ < most_standstills)
        points_.resize(first);
}

bool FieldOffset::tilts() const {
    if (tilt_frames_ < 2) return false;
    const double count = tilt_frames_, mean = tilted_rows_ / count;
    const double variance = std::max(0.0, tilted_squares_ / count - mean * mean) / (count - 1);
    return std::abs(mean) >= most_tilt_rows && mean * mean >= sure_of_tilt * sure_of_tilt * variance;
}

void FieldOffset::prepare(const FrameFeatures& features) {
    const auto& columns = features.column_sums;
    if (pieces_.empty()) {
        bands_ = static_cast<std::size_t>(std::min(columns[0].height, columns[1].height));
        sections_ = static_cast<std::size_t>(columns[0].width / piece_columns);
        pieces_.resize(bands_ * sections_);
    }
    for (std::size_t i = 0; i < pieces_.size(); ++i)
        for (std::size_t parity = 0; parity < 2; ++parity) {
            const std::uint32_t* from =
                &columns[parity].at(static_cast<int>(i % sections_) * piece_columns, static_cast<int>(i / sections_));
            profile_.clear();
            for (int x = 0; x < piece_columns; ++x)
                profile_.push_back(static_cast<float>(from[x]) / FrameFeatures::column_rows);
            std::swap(pieces_[i].now[parity], pieces_[i].before[parity]);
            ProfileMatcher::prepare(profile_, pieces_[i].now[parity]);
        }
}

void FieldOffset::compare(Piece& piece, std::size_t band) {
    const auto sure = [](const std::optional<ProfileShift>& shift) { return shift && shift->error < largest_error; };
    const auto top = matcher_.shift(piece.before[0], piece.now[0]);
    if (!sure(top)) return;
    const auto bottom = matcher_.shift(piece.before[1], piece.now[1]);
    if (!sure(bottom) || std::abs(top->samples - bottom->samples) > most_unlike) return;
    const auto apart = matcher_.shift(piece.now[0], piece.now[1]);
    if (!sure(apart)) return;
    piece.point = points_.size();
    points_.push_back(
        {static_cast<float>((top->samples + bottom->samples) / 2), static_cast<float>(apart->samples), band, true});
}

/// Half the points, and from now on half as many frames.
void FieldOffset::thin() {
    if (points_.size() < most_points) return;
    for (std::size_t i = 0; 2 * i < points_.size(); ++i) points_[i] = points_[2 * i];
    points_.resize((points_.size() + 1) / 2);
    every_ *= 2;
    seen_ = 0;
}

OffsetReading FieldOffset::reading(double lag, std::span<const Point> points) const {
    OffsetReading reading;
    double products = 0, squares = 0;
    std::vector<float> offsets;
    for (std::size_t band = 0; band < bands_; ++band) {
        offsets.clear();
        for (const Point& p : points)
            if (p.band == band) offsets.push_back(p.apart_px - static_cast<float>(lag) * p.moved_px);
        if (offsets.empty()) continue;
        const double middle = dsp::median(std::span<const float>(offsets));
        for (const float offset : offsets) {
            const double off = static_cast<double>(offset) - middle;
            reading.misfit += std::log(usual_misfit + off * off);
            reading.fitting += std::abs(off) < nearness_px ? 1 : 0;
        }
        const auto pieces = static_cast<double>(offsets.size());
        for (const Point& p : points) {
            const double moved = std::abs(static_cast<double>(p.moved_px));
            if (p.band != band || moved < least_movement) continue;
            products += std::abs(middle) * moved, squares += moved * moved;
        }
        reading.pieces += pieces;
        reading.offset_px += std::abs(middle) * pieces;
    }
    reading.misfit = std::exp(reading.misfit / reading.pieces);
    reading.fitting /= reading.pieces, reading.offset_px /= reading.pieces;
    reading.order_error = squares > 0 ? 2 * products / squares : 0;
    return reading;
}

std::optional<std::array<OffsetReading, 3>> FieldOffset::readings(bool of_steady) const {
    if (tilts()) return std::nullopt;
    std::vector<Point> points = points_;
    if (of_steady) std::erase_if(points, [](const Point& p) { return !p.steady; });
    const auto moving = std::ranges::count_if(
        points, [](const Point& p) { return std::abs(static_cast<double>(p.moved_px)) >= least_movement; });
    if (points.size() < fewest_points || moving < fewest_moving) return std::nullopt;
    return std::array{reading(lags[0], points), reading(lags[1], points), reading(lags[2], points)};
}

std::optional<FieldMoments> FieldOffset::plain(const std::array<OffsetReading, 3>& readings) {
    std::array<std::size_t, 3> by_misfit{0, 1, 2};
    std::ranges::sort(by_misfit, {}, [&](std::size_t i) { return readings[i].misfit; });
    const OffsetReading &best = readings[by_misfit[0]], &second = readings[by_misfit[1]];
    const double factor = plain_factor + plain_chance / std::sqrt(best.pieces);
    if (best.fitting < plain_share || second.misfit < factor * best.misfit) return std::nullopt;
    return static_cast<FieldMoments>(by_misfit[0]);
}

}  // namespace guardband::measure
