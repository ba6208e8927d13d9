#include "measure/clip/roll_finder.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace guardband::measure {
namespace {

constexpr int least_rows = 8;  ///< that must have come round
constexpr int most_fields = 25;
constexpr double part_anew = 1.0 / 6;  ///< of the height
/// Noise of 30 dB leaves 0.8 to 0.9 of the correlation of detailed pictures; other parts of a picture stay below 0.3.
constexpr double least_fit = 0.75, least_part_fit = 0.6;
constexpr double least_gain = 0.25;  ///< over the fit of a picture that stands
constexpr int near = 2;
/// What came round must not fit so well so many rows elsewhere, over how it fits there.
constexpr double most_elsewhere = 0.8;
constexpr int elsewhere = 6;
/// A field belongs to a roll that was found if it moves as that does, over its speed; so many in a row don't where it
/// has begun or ended.
constexpr double slowest = 0.5, fastest = 1.5;
constexpr int fields_apart = 3;
constexpr std::size_t columns = 4;
/// Below, there is nothing to lay over one another: squared 8-bit codes per row, of the sum of some columns.
constexpr double least_slope_square = 0.25;

/// Products of rows, column by column, so that the compiler makes vectors of them.
class Products {
public:
    void add(const float* a, const float* b) {
        for (std::size_t x = 0; x < columns; ++x)
            common_[x] += a[x] * b[x], own_[x] += a[x] * a[x], other_[x] += b[x] * b[x];
    }
    Products& operator+=(const Products& more) {
        for (std::size_t x = 0; x < columns; ++x)
            common_[x] += more.common_[x], own_[x] += more.own_[x], other_[x] += more.other_[x];
        return *this;
    }
    double correlation() const {
        const double product = sum(own_) * sum(other_);
        return product > 0 ? sum(common_) / std::sqrt(product) : 0;
    }

private:
    using Sums = std::array<float, columns>;
    static double sum(const Sums& sums) { return std::accumulate(sums.begin(), sums.end(), 0.0); }

    Sums common_{}, own_{}, other_{};
};

/// Rows of a field from one to another.
struct Stretch {
    int first = 0, end = 0;

    int length() const { return std::max(0, end - first); }
};

/// Those of a field of so many rows that show what a field shows which lies higher by `shift`.
Stretch in_both(int shift, int rows) { return {std::max(0, shift), std::min(rows, rows + shift)}; }

/// Every `step`-th row of a stretch with the one that lies higher by `shift` in the field before.
Products lay(const std::vector<float>& now, const std::vector<float>& before, int shift, Stretch stretch, int step) {
    Products products;
    for (int y = (stretch.first + step - 1) / step * step; y < stretch.end; y += step)
        products.add(now.data() + static_cast<std::size_t>(y) * columns,
                     before.data() + static_cast<std::size_t>(y - shift) * columns);
    return products;
}

}  // namespace

/// @param shift  downwards   @param round  rows after which the picture comes again   @param step  from one row that
/// counts to the next
RollFinder::Fit RollFinder::fit(const Coarse& before, int shift, int round, int step) const {
    const int rows = this->rows(), other_way = shift > 0 ? shift - round : shift + round;
    const Stretch anew = in_both(other_way, rows);
    const Products stayed = lay(now_, before, shift, in_both(shift, rows), step);
    const Products came_round = lay(now_, before, other_way, anew, step);
    Products all = stayed;
    all += came_round;
    return {all.correlation(), stayed.correlation(), came_round.correlation(), anew.length()};
}

/// Whether what came round fits nowhere else in the picture before as well: lines of titles look all alike.
bool RollFinder::fits_there_alone(const Coarse& before, int shift, int round) const {
    const int rows = this->rows(), back = shift > 0 ? round : -round;
    const int first = shift > 0 ? 0 : rows + shift, last = shift > 0 ? shift : rows;
    const auto likeness = [&](int off) {
        Products products;
        int counted = 0;
        for (int y = std::max(0, first); y < std::min(last, rows); ++y) {
            const int from = y - shift + back, other = from + off;
            if (from < 0 || from >= rows || other < 0 || other >= rows) continue;
            products.add(now_.data() + static_cast<std::size_t>(y) * columns,
                         before.data() + static_cast<std::size_t>(other) * columns);
            ++counted;
        }
        return counted >= least_rows ? products.correlation() : 0;
    };
    const double there = likeness(0);
    if (there <= 0) return false;
    for (int off = elsewhere; off < rows; ++off)
        if (std::max(likeness(off), likeness(-off)) > most_elsewhere * there) return false;
    return true;
}

/// The shift among some at which the picture fits, all of it; nothing if none does.
std::optional<int> RollFinder::rolled(const Coarse& before, int from, int to) const {
    const int rows = this->rows(), step = to - from > 2 * near ? 2 : 1;
    double best = std::max(least_fit, fit(before, 0, rows, step).all + least_gain);
    std::optional<int> found;
    int found_round = rows;
    for (const int round :
         {rows, static_cast<int>(std::floor(round_rows_)), static_cast<int>(std::ceil(round_rows_))}) {
        if (round < rows) continue;
        for (int shift = std::max(from, -round / 2); shift <= std::min(to, round / 2); ++shift) {
            const Fit one = fit(before, shift, round, step);
            // Each by itself: by its other end alone, a plain movement would be taken for a roll the other way.
            const bool both = one.stayed >= least_part_fit && one.round >= least_part_fit;
            if (one.rows_round < least_rows || !both || one.all < best) continue;
            best = one.all, found = shift, found_round = round;
        }
    }
    return found && fits_there_alone(before, *found, found_round) ? found : std::nullopt;
}

bool RollFinder::has_detail() const {
    double squares = 0;
    for (const float one : now_) squares += static_cast<double>(one * one);
    return squares >= least_slope_square * static_cast<double>(now_.size());
}

/// Fewer columns.
void RollFinder::take(std::span<const float> slopes, std::size_t width, Coarse& out) {
    const std::size_t rows = slopes.size() / width;
    out.assign(rows * columns, 0);
    std::array<std::size_t, columns + 1> begin{};
    for (std::size_t c = 0; c <= columns; ++c) begin[c] = (c * width + columns - 1) / columns;
    const float* row = slopes.data();
    for (std::size_t y = 0; y < rows; ++y, row += width)
        for (std::size_t c = 0; c < columns; ++c)
            out[y * columns + c] = std::accumulate(row + begin[c], row + begin[c + 1], 0.0F);
}

void RollFinder::keep() {
    before_.swap(now_);
    moved_ = 0, kept_for_ = 0;
}

int RollFinder::rows() const { return static_cast<int>(now_.size() / columns); }

/// What has moved by steps that can be followed.
std::optional<RollFinder::Roll> RollFinder::judge_slow() {
    const Roll now{moved_, kept_for_};
    const auto middle = static_cast<int>(std::lround(moved_));
    const bool found = std::abs(middle) >= least_rows && has_detail() && rolled(before_, middle - near, middle + near);
    keep();
    if (!found || seen_.rows * now.rows <= 0) {
        const auto end = told_ ? ended(now.fields) : std::nullopt;
        seen_ = found ? now : Roll{0, 0}, told_ = false;
        return end;
    }
    Roll out = told_ ? now : Roll{seen_.rows + now.rows, seen_.fields + now.fields};
    speed_ = out.rows / out.fields;
    if (!told_) add_beginning(out);
    seen_ = now, told_ = true;
    return out;
}

/// Fields before those that were judged which moved alike already.
void RollFinder::add_beginning(Roll& roll) const {
    double rows = 0;
    for (int ago = roll.fields, unlike = 0; ago < known_shifts() && unlike < fields_apart; ++ago) {
        const double times = shift(ago) / speed_;
        unlike = times >= slowest && times <= fastest ? 0 : unlike + 1;
        rows += shift(ago);
        if (unlike == 0) roll.rows += rows, roll.fields = ago + 1, rows = 0;
    }
}

/// What went on of a roll that was told, in the last fields, which don't roll on to their end.
std::optional<RollFinder::Roll> RollFinder::ended(int fields) const {
    Roll out{0, 0, fields};
    double rows = 0;
    const int first = std::min(fields, known_shifts());
    for (int ago = first - 1, unlike = 0; ago >= 0 && unlike < fields_apart; --ago) {
        const double times = shift(ago) / speed_;
        unlike = times >= slowest && times <= fastest ? 0 : unlike + 1;
        rows += shift(ago);
        if (unlike == 0) out.rows += rows, out.fields = first - ago, out.ago = ago, rows = 0;
    }
    return out.fields > 0 ? std::optional(out) : std::nullopt;
}

/// How far the picture moved, if half of it or more is still in sight; nothing rolled round.
std::optional<int> RollFinder::moved_far() const {
    constexpr int step = 2;
    const int most = rows() / 2;
    double best = std::max(least_fit, fit(last_, 0, rows(), step).all + least_gain);
    std::optional<int> found;
    for (int shift = -most; shift <= most; ++shift) {
        const double all = fit(last_, shift, 4 * rows(), step).all;
        if (all > best) best = all, found = shift;
    }
    return found;
}

/// The end of a roll that was told, before a field that doesn't follow on the last one.
/// @param springs_back  the picture is the same, elsewhere: that ends the roll and is no other
std::optional<RollFinder::Roll> RollFinder::cut_short(bool springs_back) const {
    auto end = ended(kept_for_);
    if (!end) return end;
    ++end->ago;
    if (springs_back && end->ago <= fields_apart) end->fields += end->ago, end->ago = 0;
    return end;
}

/// `now_` is up to date if the picture has moved far enough to be judged.
std::optional<RollFinder::Roll> RollFinder::go_on(double moved) {
    ++kept_for_, moved_ += moved;
    shifts_[static_cast<std::size_t>(seen_shifts_++ % history)] = moved;
    const std::size_t height = before_.size() / columns;
    if (std::abs(moved_) < part_anew * static_cast<double>(height) && kept_for_ < most_fields) return std::nullopt;
    return judge_slow();
}

std::optional<RollFinder::Roll> RollFinder::see(std::span<const float> now, std::span<const float> before,
                                                std::size_t width, std::optional<double> moved) {
    if (width < columns || now.size() != before.size() || now.size() / width < 4 * least_rows) return std::nullopt;
    const std::size_t height = now.size() / width;
    const bool has_before = before_.size() == height * columns;
    const bool is_due =
        moved && (std::abs(moved_ + *moved) >= part_anew * static_cast<double>(height) || kept_for_ + 1 >= most_fields);
    if (!moved || !has_before || is_due) take(now, width, now_);
    if (moved && has_before) return go_on(*moved);
    if (!moved && has_detail()) {
        take(before, width, last_);
        const bool stands = fit(last_, 0, rows(), 2).all >= least_fit;
        const auto shift = stands ? std::nullopt : rolled(last_, -rows(), rows());
        const auto far = stands || shift ? std::nullopt : moved_far();
        if (far && has_before) return go_on(*far);
        const auto rolled_on = told_ ? cut_short(shift.has_value()) : std::nullopt;
        keep();
        seen_ = {0, 0}, told_ = false, seen_shifts_ = 0;
        if (rolled_on) return rolled_on;
        return shift ? std::optional(Roll{static_cast<double>(*shift), 1}) : std::nullopt;
    }
    keep();
    seen_ = {0, 0}, told_ = false, seen_shifts_ = 0;
    return std::nullopt;
}

}  // namespace guardband::measure
