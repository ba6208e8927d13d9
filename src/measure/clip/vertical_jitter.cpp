#include "measure/clip/vertical_jitter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int segments_in_column = 2, largest_shift = 12;
constexpr int pieces_across = 11, pieces_down = 12;
constexpr std::size_t behind = 32;  ///< numbers behind a field, as many as kernels may read too far
constexpr std::size_t fewest_pieces = 20, fewest_of_part = 12;
/// Shifts beyond this are read again about another whole number of rows.
constexpr double nearest = 0.7;
/// A piece says nothing where its slopes are below this, codes² per sample and row.
constexpr double least_slope = 1;
/// Pieces must agree this well, rows RMS: cuts don't.
constexpr double most_scatter = 0.5;
/// A jump is this many rows of the field, and this many times what the shifts of the frames before scatter by.
constexpr double least_jump = 2, jump_in_scatters = 8;
constexpr std::size_t frames_before = 7;
/// Of the pieces that tell, so many must go with a jump: that it fits them far better than no jump.
constexpr double most_of_picture = 0.75, far_better = 0.5;
/// A piece tells where one of two shifts misfits by so many times what noise leaves, and by more than rounding, codes.
constexpr double over_noise = 3, rounding = 0.3;
constexpr double quiet_share = 0.25;  ///< of the pieces that fit best, whose misfit is noise
/// By how much things that move on their own may change the square of the figure, rows²: 0.08 frame lines.
constexpr double square_of_own_movement = 0.04 * 0.04;
constexpr double lines_of_row = 2;  // of the frame to a row of the field
constexpr std::size_t most_events = 50;
constexpr std::int64_t join_rolls = 12;  ///< frames apart
constexpr std::size_t fewest_places = 8;
/// Variance of a place against the mean of the 25 around it from steps of variance 1: 2 Σ (j / 25)², j = 1 … 12.
constexpr double variance_of_window = 2.08;

/// Rows of a field with its blanking, by the raster's height; 0 if that is none of television's.
double round_rows(const ClipContext& context) {
    for (const table::Raster& raster : context.table.rasters)
        if (raster.height() == context.info.picture.height)
            if (const table::Scanning* scanning = context.table.find_scanning(raster.scanning))
                return scanning->lines().value() / 2;
    return 0;
}

}  // namespace

/// Reduces, smooths and differentiates the rows of one parity. Taps as those of rows/kernels.h.
void FieldFollower::filter(const Grid<std::uint32_t>& sums, std::size_t parity) {
    columns_ = sums.width / segments_in_column;
    rows_ = (sums.height + 1 - static_cast<int>(parity)) / 2;
    const auto columns = static_cast<std::size_t>(columns_), size = columns * static_cast<std::size_t>(rows_);
    reduced_.resize(size), now_.size = size;
    now_.smooth.assign(size + behind, 0), now_.slope.assign(size + behind, 0);
    constexpr float scale = 1.0F / (segments_in_column * FrameFeatures::segment);
    for (int y = 0; y < rows_; ++y) {
        const std::uint32_t* from = &sums.at(0, 2 * y + static_cast<int>(parity));
        float* to = reduced_.data() + static_cast<std::size_t>(y) * columns;
        for (std::size_t x = 0; x < columns; ++x)
            to[x] = scale * static_cast<float>(static_cast<std::int32_t>(from[2 * x] + from[2 * x + 1]));
    }
    // All rows in one go: those around lie before and behind by whole rows. A loop for each, or the compiler would not
    // make vectors of them.
    const float* from = reduced_.data();
    const std::size_t begin = 2 * columns, end = size > begin ? size - begin : 0;
    float *smooth = now_.smooth.data(), *slope = now_.slope.data();
    const float *a = from - 2 * columns, *b = from - columns, *d = from + columns, *e = from + 2 * columns;
    for (std::size_t i = begin; i < end; ++i) smooth[i] = (a[i] + e[i] + 8 * (b[i] + d[i]) + 14 * from[i]) / 32;
    for (std::size_t i = begin; i < end; ++i) slope[i] = (7 * (e[i] - a[i]) + 18 * (d[i] - b[i])) / 64;
}

float FieldFollower::mean_difference(int whole) const {
    constexpr int lanes = 4;  // sums that the compiler makes a vector of
    std::array<float, lanes> sums{};
    int count = 0;
    for (int y = largest_shift + 2; y + largest_shift + 2 < rows_; y += 3, ++count) {
        const float* now = now_.smooth.data() + static_cast<std::ptrdiff_t>(y) * columns_;
        const float* before = before_.smooth.data() + static_cast<std::ptrdiff_t>(y - whole) * columns_;
        for (int x = 0; x + lanes <= columns_; x += lanes)
            for (int k = 0; k < lanes; ++k) sums[static_cast<std::size_t>(k)] += std::abs(now[x + k] - before[x + k]);
    }
    const float sum = sums[0] + sums[1] + sums[2] + sums[3];
    return count > 0 ? sum / static_cast<float>(count) : 0;
}

/// Takes what the pieces of one band say. @param sums  of its columns from the second on  @param rows  of the band
void FieldFollower::take_pieces(const rows::MovementSums& sums, int rows) {
    const int width = columns_ / pieces_across;
    for (int piece = 0; piece < pieces_across; ++piece) {
        const int left = std::max(1, piece * width), right = std::min(columns_ - 1, (piece + 1) * width);
        const auto of_piece = [left, right](const float* columns) {
            return static_cast<double>(std::accumulate(columns + left - 1, columns + right - 1, 0.0F));
        };
        const double yy = of_piece(sums.down_squares), xy = of_piece(sums.products), xx = of_piece(sums.along_squares);
        const double determinant = yy * xx - xy * xy, samples = static_cast<double>(rows) * (right - left);
        if (yy < least_slope * samples || determinant <= 0.05 * yy * xx) continue;
        pieces_.push_back(-(xx * of_piece(sums.down_change) - xy * of_piece(sums.along_change)) / determinant);
        constexpr int middle = pieces_across / 2;
        if (piece != middle) of_part_[piece < middle ? 0 : 1].push_back(pieces_.back());
    }
}

/// Mean difference of a piece from the field before, moved by so many rows.
double FieldFollower::misfit(int piece, double rows) const {
    const auto whole = static_cast<int>(std::lround(rows));
    const auto part = static_cast<float>(rows - whole);
    const int width = columns_ / pieces_across, height = rows_ / pieces_down, end = std::abs(whole) + 2;
    const int left = piece % pieces_across * width, top = std::max(end, piece / pieces_across * height);
    const int bottom = std::min(rows_ - end, (piece / pieces_across + 1) * height);
    float sum = 0;
    for (int y = top; y < bottom; ++y) {
        const auto row = static_cast<std::ptrdiff_t>(y) * columns_, row_before = row - whole * columns_;
        for (int x = left; x < left + width; ++x) {
            const float slope = (now_.slope[static_cast<std::size_t>(row + x)] +
                                 before_.slope[static_cast<std::size_t>(row_before + x)]) /
                                2;
            sum += std::abs(now_.smooth[static_cast<std::size_t>(row + x)] -
                            before_.smooth[static_cast<std::size_t>(row_before + x)] + part * slope);
        }
    }
    return bottom > top ? static_cast<double>(sum) / (static_cast<double>(bottom - top) * width) : 0;
}

double FieldFollower::share_for(double rows, double other_rows) const {
    constexpr std::size_t pieces = pieces_across * pieces_down;
    std::array<double, pieces> moved{}, stayed{}, least{};
    for (std::size_t i = 0; i < pieces; ++i) {
        moved[i] = misfit(static_cast<int>(i), rows), stayed[i] = misfit(static_cast<int>(i), other_rows);
        least[i] = std::min(moved[i], stayed[i]);
    }
    const double noise = dsp::quantile_in_place(std::span<double>(least), quiet_share);
    std::size_t telling = 0, fitting = 0;
    for (std::size_t i = 0; i < pieces; ++i) {
        if (std::max(moved[i], stayed[i]) < over_noise * noise + rounding) continue;
        ++telling, fitting += moved[i] < far_better * stayed[i] ? 1 : 0;
    }
    return telling < fewest_pieces ? 0 : static_cast<double>(fitting) / static_cast<double>(telling);
}

/// Median over the pieces of the shift beyond `whole` rows.
std::optional<VerticalShift> FieldFollower::shift_about(int whole) {
    pieces_.clear(), of_part_[0].clear(), of_part_[1].clear();
    const int height = rows_ / pieces_down, end = std::abs(whole) + 2;
    const std::size_t part = static_cast<std::size_t>(columns_) + behind;
    sums_.resize(5 * part);
    float* to = sums_.data();
    const rows::MovementSums sums{to, to + part, to + 2 * part, to + 3 * part, to + 4 * part};
    for (int band = 0; band < pieces_down; ++band) {
        const int top = std::max(end, band * height), bottom = std::min(rows_ - end, (band + 1) * height);
        if (bottom <= top) continue;
        const std::ptrdiff_t row = static_cast<std::ptrdiff_t>(top) * columns_ + 1;
        const std::ptrdiff_t row_before = row - static_cast<std::ptrdiff_t>(whole) * columns_;
        rows::fast_shift_kernels().movement_sums(
            {now_.smooth.data() + row, now_.slope.data() + row, before_.smooth.data() + row_before,
             before_.slope.data() + row_before, static_cast<std::size_t>(columns_)},
            bottom - top, columns_ - 2, sums);
        take_pieces(sums, bottom - top);
    }
    if (pieces_.size() < fewest_pieces) return std::nullopt;
    const double middle = dsp::median(std::span<const double>(pieces_));
    const double scatter = dsp::spread(std::span<const double>(pieces_));
    if (scatter > most_scatter) return std::nullopt;
    const double rows = whole + middle;
    if (of_part_[0].size() >= fewest_of_part && of_part_[1].size() >= fewest_of_part)
        return VerticalShift{rows, whole + dsp::median(std::span<const double>(of_part_[0])),
                             whole + dsp::median(std::span<const double>(of_part_[1])), 0};
    // Of a median: π/2 times that of the mean.
    return VerticalShift{rows, rows, rows, 1.57 * scatter * scatter / static_cast<double>(pieces_.size())};
}

std::optional<VerticalShift> FieldFollower::see(const Grid<std::uint32_t>& segment_sums, std::size_t parity) {
    if (segment_sums.width / segments_in_column < 2 * pieces_across) return std::nullopt;
    std::swap(now_, before_);
    filter(segment_sums, parity);
    if (before_.size != now_.size || rows_ < 4 * largest_shift) return std::nullopt;
    auto found = shift_about(0);
    if (found && std::abs(found->rows) < nearest) return found;
    int best = 0;
    float least = mean_difference(0);
    for (int whole = -largest_shift; whole <= largest_shift; ++whole)
        if (const float difference = mean_difference(whole); difference < least) least = difference, best = whole;
    found = shift_about(best);
    return found && std::abs(found->rows - best) < 2 ? found : std::nullopt;
}

/// The product of what both parts say takes the place of the square: what they err by has little in common.
void VerticalJitter::add(const std::vector<Place>& places, std::size_t from, std::size_t to, double step_variance) {
    const auto count = static_cast<double>(places.size());
    Place mean;
    for (const Place& one : places) mean.left += one.left / count, mean.right += one.right / count;
    for (std::size_t i = from; i < to; ++i) {
        // The place itself is part of the mean.
        squares_ += (places[i].left - mean.left) * (places[i].right - mean.right) * count / (count - 1);
        subtracted_ += variance_of_window * step_variance;
        ++count_;
    }
}

/// The place in the middle of the last second.
void VerticalJitter::judge(Track& track) {
    if (track.places.size() < window) return;
    add(track.places, window / 2, window / 2 + 1, track.variance);
    track.places.erase(track.places.begin());
}

VerticalJitter::VerticalJitter(const ClipContext& context)
    : clock_(context.info.time_base),
      roll_finder_(round_rows(context)),
      height_rows_(std::max(1.0, context.info.picture.height / 2.0)) {}

void VerticalJitter::look_for_roll(const media::Frame& frame, double time_s, std::optional<double> moved) {
    const FieldFollower& follower = tracks_[0].follower;
    const auto roll = roll_finder_.see(follower.slopes(), follower.slopes_before(),
                                       static_cast<std::size_t>(std::max(0, follower.columns())), moved);
    if (!roll) return;
    const std::int64_t last = frame.index - roll->ago, first = last - roll->fields + 1;
    const bool goes_on = !rolls_.empty() && first - rolls_.back().last_frame <= join_rolls;
    if (!goes_on && rolls_.size() == most_events) return;
    if (!goes_on)
        rolls_.push_back(
            {first, first, time_s - static_cast<double>(frame.index - first) * (time_s - last_time_s_), 0});
    rolls_.back().last_frame = last, rolls_.back().rows += roll->rows;
}

bool VerticalJitter::is_within_a_roll(std::int64_t frame) const {
    return std::ranges::any_of(rolls_, [frame](const Rolling& r) {
        return r.frame - join_rolls <= frame && frame <= r.last_frame + join_rolls;
    });
}

void VerticalJitter::add_rolls(std::vector<quantity::Event>& events) const {
    for (const Rolling& rolling : rolls_) {
        quantity::Event event;
        event.kind = "vertical roll", event.severity = quantity::Severity::Fault;
        event.time_s = rolling.time_s, event.frame = rolling.frame;
        event.count = rolling.last_frame - rolling.frame + 1;
        const char* way = rolling.rows > 0 ? "down" : "up";
        event.what = *event.count == 1
                         ? fmt::format(
                               "the picture jumps {} by {:.0f} lines; what leaves the frame comes in at its "
                               "other end",
                               way, lines_of_row * std::abs(rolling.rows))
                         : fmt::format("the picture rolls {} through the frame, {} frames, {:.1f} heights in all", way,
                                       *event.count, std::abs(rolling.rows) / height_rows_);
        events.push_back(event);
    }
}

/// A frame whose shift has nothing to do with those before it, nor the next one with it: a movement that begins goes
/// on.
void VerticalJitter::look_for_jump(const media::Frame& frame, double time_s, double rows) {
    if (jump_ && std::abs(rows - jump_->before - jump_->rows) < std::abs(jump_->rows) / 2) jump_.reset();
    note_jump();
    if (last_shifts_.size() == frames_before) {
        const double middle = dsp::median(std::span<const double>(last_shifts_));
        const double scatter = dsp::spread(std::span<const double>(last_shifts_));
        if (std::abs(rows - middle) >= std::max(least_jump, jump_in_scatters * scatter) &&
            tracks_[0].follower.share_for(rows, middle) >= most_of_picture)
            jump_ = Jump{frame.index, time_s, middle, rows - middle};
        last_shifts_.erase(last_shifts_.begin());
    }
    last_shifts_.push_back(rows);
}

void VerticalJitter::note_jump() {
    if (jump_) jumps_.note(jump_->frame, jump_->time_s, 1, lines_of_row * jump_->rows);
    jump_.reset();
}

void VerticalJitter::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    for (std::size_t parity = 0; parity < 2; ++parity) {
        Track& track = tracks_[parity];
        const auto shift = track.follower.see(features.segment_sums, parity);
        if (parity == 0 && !frame.damaged)
            look_for_roll(frame, time_s, shift ? std::optional(shift->rows) : std::nullopt);
        last_time_s_ = parity == 1 ? time_s : last_time_s_;
        if (!shift || frame.damaged) {
            track.restart();
            if (parity == 0) note_jump(), last_shifts_.clear();
            continue;
        }
        track.place.left += shift->left_rows, track.place.right += shift->right_rows;
        if (parity == 0) look_for_jump(frame, time_s, shift->rows);
        track.variance += 0.1 * (shift->variance - track.variance);
        track.places.push_back(track.place);
        judge(track);
    }
}

void VerticalJitter::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    add_rolls(events);
    note_jump();
    std::vector<Occurrence> jumps = jumps_.all();
    std::erase_if(jumps, [this](const Occurrence& jump) { return is_within_a_roll(jump.frame); });
    for (std::size_t i = 0; i < std::min(jumps.size(), most_events); ++i) {
        quantity::Event event;
        event.kind = "vertical jump", event.severity = quantity::Severity::Warning;
        event.time_s = jumps[i].time_s, event.frame = jumps[i].frame, event.count = jumps[i].count;
        event.what = fmt::format("the picture jumps {} by {:.0f} lines", jumps[i].largest > 0 ? "down" : "up",
                                 std::abs(jumps[i].largest));
        if (jumps[i].count > 1) event.what += fmt::format(", {} times within a few frames", jumps[i].count);
        events.push_back(event);
    }
    if (jumps.size() > most_events)
        events.back().what += fmt::format("; it jumps at {} more places", jumps.size() - most_events);
    if (count_ == 0)  // shorter than a second: all that there is, against its mean
        for (const Track& track : tracks_)
            if (track.places.size() >= fewest_places) add(track.places, 0, track.places.size(), track.variance);
    if (count_ == 0)
        return figures.add("vertical_jitter_rms",
                           Figure::unknown("too few fields in a row show enough detail to follow"));
    const auto count = static_cast<double>(count_);
    const double noise = subtracted_ / count, square = std::max(0.0, squares_ / count - noise);
    const double value = std::sqrt(square);
    // Places that follow one another are alike: half as many count. A third of what was subtracted may be wrong.
    const double error = std::hypot(square / std::sqrt(count / 4 + 1), noise / 3, square_of_own_movement);
    // Of a root: half the relative error; near 0, the root of the error.
    const double uncertainty = error / (value + std::sqrt(square + error));
    figures.add("vertical_jitter_rms", Figure::measured(lines_of_row * value, lines_of_row * uncertainty, "lines"));
}

}  // namespace guardband::measure
