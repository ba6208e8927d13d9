#include "measure/clip/picture_edges.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Rises that are tried, samples at 10 % to 90 %: from what 5.5 MHz leave to that of a domestic tape.
constexpr std::array rises_px{1.3, 1.8, 2.4, 3.0, 3.6, 4.2, 5.0, 6.0, 7.5, 9.0};
constexpr std::size_t first_rise = 4;
/// Blanking must lie this near to black, 8-bit codes, in this share of the rows.
constexpr double blanking_reach = 20, blanking_share = 0.4;
/// Samples at either end that are looked at for blanking, and for where the picture begins.
constexpr int outermost = 3, run = 3;
/// Height that an edge needs, in 8-bit codes and in noises.
constexpr float least_height = 8, least_height_in_noises = 4;
/// Two edges agree within this, samples, beyond their own errors.
constexpr float agreement_px = 0.7F, most_apart_px = 1.5F;
/// A lone edge must lie as near to where the lines around have it, samples, beyond what these scatter.
constexpr float nearness_px = 3;
constexpr float largest_variance = 1;
/// Added to the variance of an edge whose partner should be seen and isn't, squared samples: 20 ns. In a dark picture
/// it may be another outline.
constexpr float lone_variance = 0.07F;
constexpr int most_steps = 5;
constexpr double no_base = -1e6;
/// Pairs of edges that must be found, how many are kept, and after how many fields one edge has to do.
constexpr std::size_t fewest_pairs = 60, most_pairs = 8000;
constexpr int patience = 8;
/// The rise is tried at these fields, then at every 64th.
constexpr std::int64_t early_fields = 12, rise_interval = 64, blanking_interval = 4;
/// Distances at which the pictures' course is taken, samples; reaches that are tried for it.
constexpr std::size_t distances = 12;
constexpr std::array reaches_px{1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0};
/// How lively a piece of picture is, as a factor of the spread of all; where one class ends the next begins.
constexpr std::array liveliness{0.15, 0.4, 1.0, 2.0};
constexpr std::array lively_above{0.25F, 0.65F, 1.5F};
/// Sum of line counts after which the calibration forgets half.
constexpr double calibration_memory = 40'000;

}  // namespace

struct PictureEdges::FilterBank {
    FilterBank(double rise, double noise, const PictureCourse& all) : rise_px(rise), noise_codes(noise), course(all) {
        for (const double factor : liveliness) {
            PictureCourse scaled = course;
            scaled.spread *= factor;
            filters.emplace_back(rise, noise, scaled);
        }
        // Squared differences of neighbours two apart, of a picture as lively as all, and of noise.
        usual = static_cast<float>(course.squared_difference(2));
        noise_share = static_cast<float>(2 * noise * noise);
    }

    /// The filter for the piece of picture behind an edge.
    const EdgeFilter& filter(const float* window) const {
        constexpr int from = EdgeFilter::before + 2;
        float squares = 0;
        for (int i = from; i + 2 < EdgeFilter::taps; ++i) {
            const float difference = window[i + 2] - window[i];
            squares += difference * difference;
        }
        const float share = (squares / (EdgeFilter::taps - 2 - from) - noise_share) / usual;
        std::size_t index = 0;
        while (index < lively_above.size() && share > lively_above[index] * lively_above[index]) ++index;
        return filters[index];
    }

    double rise_px, noise_codes;
    PictureCourse course;
    std::vector<EdgeFilter> filters;
    float usual = 1, noise_share = 0;
};

class PictureEdges::Rows {
public:
    Rows(const media::Frame& frame, int parity, double blanking)
        : plane_(frame.planes[0]),
          parity_(parity),
          wide_(frame.format.bit_depth > 8),
          scale_(1.0F / static_cast<float>(1 << (frame.format.bit_depth - 8))),
          blanking_(static_cast<float>(blanking)),
          width_(frame.format.width),
          lines_((frame.format.height + 1 - parity) / 2) {}

    int lines() const { return lines_; }
    int width() const { return width_; }

    /// Sample in 8-bit codes. @param side  1: x counts from the right end
    float code(int line, int side, int x) const {
        const std::byte* row = plane_.row(2 * line + parity_);
        const int at = side == 0 ? x : width_ - 1 - x;
        return scale_ * (wide_ ? static_cast<float>(reinterpret_cast<const std::uint16_t*>(row)[at])
                               : static_cast<float>(reinterpret_cast<const std::uint8_t*>(row)[at]));
    }

    /// First sample from which on `run` samples in a row lie above `level` (8-bit codes); -1 if there is none.
    int first_above(int line, int side, float level) const {
        const std::byte* row = plane_.row(2 * line + parity_);
        return wide_ ? first_above(reinterpret_cast<const std::uint16_t*>(row), side, level / scale_)
                     : first_above(reinterpret_cast<const std::uint8_t*>(row), side, level / scale_);
    }

    /// Above blanking; before the row's end there is blanking, behind the other end whatever is there last.
    void window(int line, int side, int first, float* out) const {
        for (int i = 0; i < EdgeFilter::taps; ++i) {
            const int x = first - EdgeFilter::before + i;
            out[i] = x < 0 ? 0 : code(line, side, std::min(x, width_ - 1)) - blanking_;
        }
    }

private:
    template <typename Sample>
    int first_above(const Sample* row, int side, float level) const {
        const Sample* at = side == 0 ? row : row + width_ - 1;
        const int step = side == 0 ? 1 : -1, limit = static_cast<int>(level);
        for (int x = 0, above = 0; x < width_; ++x, at += step) {
            above = *at > limit ? above + 1 : 0;
            if (above == run) return x - run + 1;
        }
        return -1;
    }

    const media::Plane& plane_;
    int parity_;
    bool wide_;
    float scale_, blanking_;
    int width_, lines_;
};

PictureEdges::PictureEdges(const media::PictureFormat& format, double black_code)
    : format_(format),
      black_code_(black_code),
      blanking_(black_code),
      filters_(std::make_unique<FilterBank>(rises_px[first_rise], 2, PictureCourse{})),
      rise_index_(first_rise),
      squared_differences_(distances) {}

PictureEdges::~PictureEdges() = default;

/// Level and noise of the outermost samples, if they look like blanking.
void PictureEdges::learn_blanking(const Rows& rows) {
    spare_.clear();
    for (int side = 0; side < 2; ++side)
        for (int y = 0; y < rows.lines(); y += 2)
            for (int x = 0; x < outermost; ++x)
                if (const float code = rows.code(y, side, x);
                    std::abs(static_cast<double>(code) - black_code_) < blanking_reach)
                    spare_.push_back(code);
    const double looked_at = static_cast<double>(rows.lines()) * outermost;
    if (static_cast<double>(spare_.size()) < blanking_share * looked_at) return;
    const double level = dsp::median(std::span<const float>(spare_)),
                 noise = dsp::spread(std::span<const float>(spare_));
    // The codes are rounded, so that noise below a code shows none.
    const double least = 0.5;
    blanking_ = has_blanking_ ? blanking_ + 0.1 * (level - blanking_) : level;
    noise_ = has_blanking_ ? noise_ + 0.1 * (std::max(noise, least) - noise_) : std::max(noise, least);
    has_blanking_ = true;
    renew_filters();
}

std::optional<EdgeFit> PictureEdges::fit(const Rows& rows, int y, int side, float guess) const {
    std::array<float, EdgeFilter::taps> window{};
    const auto nearest = static_cast<float>(0.7 * filters_->rise_px);
    EdgeFit found;
    for (int i = 0; i < most_steps; ++i) {
        if (!(guess > nearest && guess < static_cast<float>(rows.width() - EdgeFilter::taps))) return std::nullopt;
        const int first = static_cast<int>(guess);
        rows.window(y, side, first, window.data());
        found = filters_->filter(window.data()).step(window.data(), first, guess);
        const float moved = found.place - guess;
        if (std::abs(moved) < 0.2F) break;  // the fit is linear over more than that
        if (i == most_steps - 1 && std::abs(moved) > 0.3F) return std::nullopt;
        guess += std::clamp(moved, -1.5F, 1.5F);
    }
    const float height = std::max(least_height, least_height_in_noises * static_cast<float>(noise_));
    // A twentieth of the height for an edge of another shape.
    const float most_misfit = 6 * static_cast<float>(noise_ * noise_) + 4 + 0.0025F * found.height * found.height;
    if (found.height < height || found.misfit > most_misfit || found.variance > largest_variance) return std::nullopt;
    return found;
}

std::optional<EdgeFit> PictureEdges::find(const Rows& rows, int y, int side) const {
    const auto threshold = static_cast<float>(blanking_ + std::max(6.0, 3 * noise_));
    const int x = rows.first_above(y, side, threshold);
    if (x < 1) return std::nullopt;
    // Half way up to what the picture is a few samples further in.
    constexpr int in = 5;
    if (x + in + 1 >= rows.width()) return std::nullopt;
    const auto blanking = static_cast<float>(blanking_);
    const float half = (rows.code(y, side, x + in) + rows.code(y, side, x + in + 1) - 2 * blanking) / 4;
    int at = x - 1;
    float below = rows.code(y, side, at) - blanking, above = rows.code(y, side, at + 1) - blanking;
    while (above < half && at < x + in - 1) {
        ++at;
        below = above, above = rows.code(y, side, at + 1) - blanking;
    }
    const float share = above > below ? std::clamp((half - below) / (above - below), 0.0F, 1.0F) : 0.5F;
    return fit(rows, y, side, static_cast<float>(at) + share);
}

/// The place where most values lie within twice the agreement, if enough do.
std::optional<double> PictureEdges::commonest(std::vector<float>& values, std::size_t fewest) {
    std::ranges::sort(values);
    std::size_t most = 0, at = 0;
    for (std::size_t from = 0, to = 0; from < values.size(); ++from) {
        while (to < values.size() && values[to] - values[from] < 2 * agreement_px) ++to;
        if (to - from > most) most = to - from, at = from;
    }
    if (most < std::max(fewest, values.size() / 5)) return std::nullopt;
    return dsp::median(std::span<const float>(values).subspan(at, most));
}

void PictureEdges::learn_base() {
    for (const Line& line : lines_) {
        if (free_px_.size() < most_pairs && line.edges[0] && line.edges[1])
            free_px_.push_back(line.edges[0]->place + line.edges[1]->place);
        for (std::size_t side = 0; side < 2; ++side)
            if (line.edges[side] && places_[side].size() < most_pairs) places_[side].push_back(line.edges[side]->place);
    }
    ++fields_without_base_;
    // What both edges leave free is the same in all lines, whatever their displacement.
    if (const auto free = commonest(free_px_, fewest_pairs)) {
        base_[0] = dsp::median(std::span<const float>(places_[0]));
        base_[1] = *free - base_[0];
        has_base_ = both_sides_ = true;
    } else if (fields_without_base_ >= patience) {
        const std::size_t side = places_[0].size() >= places_[1].size() ? 0 : 1;
        if (places_[side].size() < fewest_pairs * static_cast<std::size_t>(patience) / 2) return;
        base_[side] = dsp::median(std::span<const float>(places_[side]));
        base_[1 - side] = no_base;
        has_base_ = true;
    }
    if (has_base_) free_px_ = {}, places_ = {};
}

void PictureEdges::take_moved() {
    for (Line& line : lines_) {
        line.side = none;
        if (line.edges[0]) line.moved[0] = line.edges[0]->place - static_cast<float>(base_[0]);
        if (line.edges[1]) line.moved[1] = static_cast<float>(base_[1]) - line.edges[1]->place;
    }
}

void PictureEdges::choose_sure() {
    for (Line& line : lines_) {
        if (!line.edges[0] || !line.edges[1]) continue;
        const float v0 = line.edges[0]->variance, v1 = line.edges[1]->variance;
        const float apart = line.moved[0] - line.moved[1];
        const float allowed = 3 * std::sqrt((v0 + v1) * static_cast<float>(scale_));
        if (std::abs(apart) > agreement_px + std::min(allowed, most_apart_px)) continue;
        line.side = both;
        line.chosen = (line.moved[0] * v1 + line.moved[1] * v0) / (v0 + v1);
    }
}

/// Where lines above and below that have been chosen would have this one: nothing if there are none near.
std::optional<float> PictureEdges::expected(int line) const {
    constexpr int reach = 12;
    const auto chosen = [this](int y) -> const Line* {
        if (y < 0 || y >= static_cast<int>(lines_.size())) return nullptr;
        const Line& one = lines_[static_cast<std::size_t>(y)];
        return one.side == none ? nullptr : &one;
    };
    std::array<int, 2> one{-1, -1}, two{-1, -1};  // nearest and second nearest, above and below
    for (std::size_t way = 0; way < 2; ++way)
        for (int k = 1; k <= reach; ++k) {
            const int y = way == 0 ? line - k : line + k;
            if (!chosen(y)) continue;
            (one[way] < 0 ? one[way] : two[way]) = y;
            if (two[way] >= 0) break;
        }
    const auto value = [&](int y) { return chosen(y)->chosen; };
    if (one[0] >= 0 && one[1] >= 0) {
        const float share = static_cast<float>(line - one[0]) / static_cast<float>(one[1] - one[0]);
        return value(one[0]) + share * (value(one[1]) - value(one[0]));
    }
    for (std::size_t way = 0; way < 2; ++way) {
        if (one[way] < 0) continue;
        if (two[way] < 0) return value(one[way]);
        const float slope = (value(one[way]) - value(two[way])) / static_cast<float>(one[way] - two[way]);
        return value(one[way]) + slope * static_cast<float>(line - one[way]);
    }
    return std::nullopt;
}

/// Whether a line's other edge should be in the raster if one edge is displaced by so much.
bool PictureEdges::other_in_sight(std::size_t side, float moved_px) const {
    const double base = base_[1 - side];
    const auto moved = static_cast<double>(moved_px);
    return base != no_base && (side == 0 ? base - moved : base + moved) > filters_->rise_px;
}

void PictureEdges::choose_rest(const Rows& rows) {
    // How far lines scatter about their neighbours: a lone edge may do so as well.
    spare_.clear();
    for (std::size_t y = 1; y < lines_.size(); ++y)
        if (lines_[y].side == both && lines_[y - 1].side == both)
            spare_.push_back(lines_[y].chosen - lines_[y - 1].chosen);
    const float scatter = spare_.size() > 10 ? static_cast<float>(dsp::spread(std::span<const float>(spare_))) : 3.0F;
    const float gate = nearness_px + 4 * scatter;
    const auto lone = [&](int y) {
        Line& line = lines_[static_cast<std::size_t>(y)];
        if (line.side != none) return;
        const auto place = expected(y);
        if (!place) return;
        float best = gate;
        for (int side = 0; side < 2; ++side) {
            const auto s = static_cast<std::size_t>(side);
            auto& edge = line.edges[s];
            if (base_[s] == no_base) continue;
            const float guess = static_cast<float>(base_[s]) + (side == 0 ? *place : -*place);
            if (!edge || std::abs(line.moved[s] - *place) > gate) {
                edge = fit(rows, y, side, guess);
                if (!edge) continue;
                line.moved[s] =
                    side == 0 ? edge->place - static_cast<float>(base_[s]) : static_cast<float>(base_[s]) - edge->place;
            }
            if (const float off = std::abs(line.moved[s] - *place); off < best)
                best = off, line.side = side, line.chosen = line.moved[s];
        }
    };
    // Lines with one edge that two others support by lying on a line with it, so that a missing edge does no harm.
    const auto seed = [&](int y) {
        Line& line = lines_[static_cast<std::size_t>(y)];
        if (line.side != none) return;
        for (int side = 0; side < 2; ++side) {
            const auto s = static_cast<std::size_t>(side);
            if (!line.edges[s] || base_[s] == no_base) continue;
            int support = 0;
            for (const int k : {-2, -1, 1, 2}) {
                const int near = y + k, far = y + 2 * k;
                if (std::min(near, far) < 0 || std::max(near, far) >= rows.lines()) continue;
                const Line &a = lines_[static_cast<std::size_t>(near)], &b = lines_[static_cast<std::size_t>(far)];
                if (!a.edges[s] || !b.edges[s]) continue;
                if (other_in_sight(s, line.moved[s])) continue;  // it would have been seen, so this is none
                const float straight = 2 * a.moved[s] - b.moved[s];
                if (std::abs(line.moved[s] - straight) < 2 * gate) ++support;
            }
            if (support >= 2) {
                line.side = side, line.chosen = line.moved[s];
                return;
            }
        }
    };
    const int count = rows.lines();
    for (int pass = 0; pass < 2; ++pass) {
        for (int y = count - 1; y >= 0; --y) lone(y);
        for (int y = 0; y < count; ++y) lone(y);
        if (pass == 0)
            for (int y = 0; y < count; ++y) seed(y);
    }
}

/// What the two edges of a line differ by is error alone.
void PictureEdges::calibrate() {
    if (!both_sides_) return;
    double middle = 0;
    spare_.clear();
    for (const Line& line : lines_)
        if (line.side == both) spare_.push_back(line.moved[0] - line.moved[1]);
    if (spare_.size() < 20) return;
    middle = dsp::trimmed_mean(std::vector<double>(spare_.begin(), spare_.end()), 0.1);
    // Both edges must say the same in the mean. Half each: what both err by inwards then moves no line.
    const double gain = std::max(0.02, 1.0 / (1 + static_cast<double>(aligned_fields_++)));
    base_[0] += gain * middle / 2, base_[1] += gain * middle / 2;
    for (const Line& line : lines_) {
        if (line.side != both) continue;
        const float apart = line.moved[0] - line.moved[1] - static_cast<float>(middle);
        const float stated = line.edges[0]->variance + line.edges[1]->variance;
        difference_squares_ += static_cast<double>(apart * apart), stated_ += static_cast<double>(stated);
    }
    scale_ = stated_ > 0 ? std::clamp(difference_squares_ / stated_, 0.02, 50.0) : 1;
}

/// How the pictures change along their lines, some way in from both edges.
void PictureEdges::learn_course(const Rows& rows) {
    constexpr int from = 16, count = 48;
    if (fields_ > early_fields && fields_ % rise_interval != 0) return;
    for (int y = 1; y < rows.lines(); y += 8) {
        const Line& line = lines_[static_cast<std::size_t>(y)];
        for (std::size_t side = 0; side < 2; ++side) {
            if (!line.edges[side] || line.side == none) continue;
            const int first = static_cast<int>(line.edges[side]->place) + from;
            if (first + count + static_cast<int>(distances) >= rows.width()) continue;
            for (std::size_t d = 0; d < distances; ++d)
                for (int x = first; x < first + count; x += 4) {
                    const float difference = rows.code(y, static_cast<int>(side), x + static_cast<int>(d) + 1) -
                                             rows.code(y, static_cast<int>(side), x);
                    squared_differences_[d] += static_cast<double>(difference * difference);
                }
            pairs_ += count / 4.0;
        }
    }
    if (pairs_ < 1000) return;
    double least = 1e30;
    for (const double reach : reaches_px) {
        const PictureCourse unit{1, reach};
        double sum = 0, squares = 0;
        std::array<double, distances> logs{};
        for (std::size_t d = 0; d < distances; ++d) {
            const double own = std::max(squared_differences_[d] / pairs_ - 2 * noise_ * noise_, 0.5);
            logs[d] = std::log(own / unit.squared_difference(static_cast<double>(d) + 1));
            sum += logs[d];
        }
        const double mean = sum / distances;
        for (const double one : logs) squares += (one - mean) * (one - mean);
        if (squares < least) least = squares, course_ = {std::exp(mean / 2), reach};
    }
    if (pairs_ > 100'000) {
        pairs_ /= 2;
        for (double& one : squared_differences_) one /= 2;
    }
}

/// Makes the filters anew if what they were made for has changed by more than a third.
void PictureEdges::renew_filters() {
    const auto changed = [](double now, double then) { return now / then < 0.75 || now / then > 1.33; };
    const FilterBank& old = *filters_;
    // Later the course must have changed by more, or pictures of changing detail would have them made again and again.
    const auto course_changed = [&](double now, double then) {
        return fields_ < early_fields ? changed(now, then) : now / then < 0.45 || now / then > 2.2;
    };
    if (changed(rises_px[rise_index_], old.rise_px) || changed(noise_, old.noise_codes) ||
        course_changed(course_.spread, old.course.spread) || course_changed(course_.reach, old.course.reach)) {
        filters_ = std::make_unique<FilterBank>(rises_px[rise_index_], noise_, course_);
        difference_squares_ = stated_ = 0;
        aligned_fields_ = 0;
    }
}

/// Of some lines whose edges are sure.
double PictureEdges::misfit(const Rows& rows, const FilterBank& bank) const {
    std::array<float, EdgeFilter::taps> window{};
    double sum = 0;
    for (int y = 0; y < rows.lines(); y += 4) {
        const Line& line = lines_[static_cast<std::size_t>(y)];
        if (line.side != both) continue;
        for (int side = 0; side < 2; ++side) {
            float place = line.edges[static_cast<std::size_t>(side)]->place;
            EdgeFit fit;
            for (int i = 0; i < 2; ++i) {
                const int first = static_cast<int>(place);
                rows.window(y, side, first, window.data());
                fit = bank.filter(window.data()).step(window.data(), first, place);
                place = std::clamp(fit.place, place - 0.5F, place + 0.5F);
            }
            sum += static_cast<double>(fit.misfit / (fit.height * fit.height));
        }
    }
    return sum;
}

/// Tries the next steeper and the next softer edge, and changes to what fits best.
void PictureEdges::learn_rise(const Rows& rows) {
    if (fields_ > early_fields && fields_ % rise_interval != 1) return;
    double least = misfit(rows, *filters_);
    std::size_t best = rise_index_;
    for (const std::size_t index : {rise_index_ - 1, rise_index_ + 1}) {
        if (index >= rises_px.size()) continue;
        const double found = misfit(rows, {rises_px[index], noise_, course_});
        if (found < least) least = found, best = index;
    }
    if (best == rise_index_) return;
    rise_index_ = best;
    filters_ = std::make_unique<FilterBank>(rises_px[rise_index_], noise_, course_);
    difference_squares_ = stated_ = 0;
    aligned_fields_ = 0;
}

void PictureEdges::give(std::vector<LineEvidence>& out) const {
    for (std::size_t y = 0; y < lines_.size(); ++y) {
        const Line& line = lines_[y];
        if (line.side == none) continue;
        const auto weight = [&](std::size_t side) {
            const float doubt = line.side != both && other_in_sight(side, line.chosen) ? lone_variance : 0;
            return 1 / (line.edges[side]->variance * static_cast<float>(scale_) + doubt);
        };
        out[y].place_px = line.chosen;
        out[y].weight = line.side == both ? weight(0) + weight(1) : weight(static_cast<std::size_t>(line.side));
    }
}

void PictureEdges::pairs(std::vector<float>& left_px, std::vector<float>& right_px) const {
    constexpr float nothing = std::numeric_limits<float>::quiet_NaN();
    left_px.assign(lines_.size(), nothing), right_px.assign(lines_.size(), nothing);
    if (!has_base_) return;
    for (std::size_t y = 0; y < lines_.size(); ++y)
        if (lines_[y].side == both) left_px[y] = lines_[y].moved[0], right_px[y] = lines_[y].moved[1];
}

void PictureEdges::see(const media::Frame& frame, int parity, std::vector<LineEvidence>& out) {
    const Rows first_look(frame, parity, blanking_);
    out.assign(static_cast<std::size_t>(first_look.lines()), {});
    lines_.assign(out.size(), {});
    if (fields_ < early_fields || fields_ % blanking_interval == 0 || !has_blanking_) learn_blanking(first_look);
    if (!has_blanking_ || first_look.width() < 4 * EdgeFilter::taps) return;
    const Rows rows(frame, parity, blanking_);
    for (int y = 0; y < rows.lines(); ++y)
        for (int side = 0; side < 2; ++side) {
            auto& line = lines_[static_cast<std::size_t>(y)];
            line.edges[static_cast<std::size_t>(side)] = find(rows, y, side);
        }
    if (!has_base_) learn_base();
    if (!has_base_) return;
    take_moved();
    choose_sure();
    choose_rest(rows);
    calibrate();
    learn_rise(rows);
    learn_course(rows);
    ++fields_;
    if (stated_ > calibration_memory) difference_squares_ /= 2, stated_ /= 2;
    give(out);
}

}  // namespace guardband::measure
