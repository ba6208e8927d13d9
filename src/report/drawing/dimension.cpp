#include "report/drawing/dimension.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace guardband::report::drawing {
namespace {

constexpr double head_length_mm =
    1.9;  // slim filled heads, three times as long as wide or more (common drawing practice)
constexpr double head_half_width_mm = 0.3;
constexpr double tail_mm = 3.2;       // of a dimension whose heads point from outside
constexpr double gap_mm = 0.7;        // between a feature and its extension line, and between a line and its words
constexpr double overshoot_mm = 1.2;  // of an extension line past the dimension line
constexpr double shelf_mm = 2;        // level end of a leader, below the first words

Point moved(Point from, Point direction, double distance) {
    return {from.x + direction.x * distance, from.y + direction.y * distance};
}

Point unit_vector(Point from, Point to) {
    const double length = std::hypot(to.x - from.x, to.y - from.y);
    return length > 0 ? Point{(to.x - from.x) / length, (to.y - from.y) / length} : Point{1, 0};
}

void head(Svg& svg, Point tip, Point direction, std::string_view fill, double larger = 1) {
    const Point back = moved(tip, direction, -head_length_mm * larger);
    const Point aside{-direction.y, direction.x};
    const double half_width = head_half_width_mm * larger;
    svg.polygon(std::array{tip, moved(back, aside, half_width), moved(back, aside, -half_width)}, {.fill = fill});
}

void extension(Svg& svg, Point feature, Point end) {
    const Point direction = unit_vector(feature, end);
    if (std::hypot(end.x - feature.x, end.y - feature.y) <= gap_mm) return;
    svg.line(moved(feature, direction, gap_mm), moved(end, direction, overshoot_mm), thin);
}

bool heads_fit(double length) { return length >= 3 * head_length_mm; }

}  // namespace

void arrow(Svg& svg, Point from, Point to, const Style& style) {
    const Point direction = unit_vector(from, to);
    svg.line(from, moved(to, direction, -head_length_mm / 2), style);
    head(svg, to, direction, style.stroke, 1.6);
}

void dimension_line(Svg& svg, Point a, Point b) {
    const Point direction = unit_vector(a, b);
    const Point backwards{-direction.x, -direction.y};
    if (heads_fit(std::hypot(b.x - a.x, b.y - a.y))) {
        svg.line(a, b, thin);
        head(svg, a, backwards, ink::black);
        head(svg, b, direction, ink::black);
        return;
    }
    svg.line(moved(a, direction, -tail_mm), moved(b, direction, tail_mm), thin);
    head(svg, a, direction, ink::black);
    head(svg, b, backwards, ink::black);
}

void horizontal_dimension(Svg& svg, double x1, double x2, double y, double feature_y, std::string_view words,
                          Beside beside) {
    const double left = std::min(x1, x2), right = std::max(x1, x2);
    for (const double x : {left, right}) extension(svg, {x, feature_y}, {x, y});
    dimension_line(svg, {left, y}, {right, y});
    const double out = heads_fit(right - left) ? gap_mm + 0.5 : tail_mm + gap_mm;
    if (text_width_mm(words, words_mm) + 1 <= right - left)
        svg.text({(left + right) / 2, y - gap_mm}, words, {.size_mm = words_mm, .anchor = Anchor::Middle});
    else if (beside == Beside::After)
        svg.text({right + out, y + words_mm / 3}, words, {.size_mm = words_mm});
    else
        svg.text({left - out, y + words_mm / 3}, words, {.size_mm = words_mm, .anchor = Anchor::End});
}

void vertical_dimension(Svg& svg, double y1, double y2, double x, double feature_x, std::string_view words) {
    const double top = std::min(y1, y2), bottom = std::max(y1, y2);
    for (const double y : {top, bottom}) extension(svg, {feature_x, y}, {x, y});
    dimension_line(svg, {x, top}, {x, bottom});
    if (text_width_mm(words, words_mm) + 1 <= bottom - top)
        svg.text({x - gap_mm, (top + bottom) / 2}, words,
                 {.size_mm = words_mm, .anchor = Anchor::Middle, .turned_deg = -90});
    else
        svg.text({x, bottom + (heads_fit(bottom - top) ? 0 : tail_mm) + gap_mm + 0.8 * words_mm}, words,
                 {.size_mm = words_mm, .anchor = Anchor::Middle});
}

void leader(Svg& svg, Point at, Point to, std::string_view words) {
    const bool rightwards = to.x >= at.x;
    const Point knee{to.x - (rightwards ? shelf_mm : -shelf_mm), to.y};
    svg.polyline(std::array{at, knee, to}, thin);
    svg.text({to.x + (rightwards ? gap_mm : -gap_mm), to.y + words_mm / 3}, words,
             {.size_mm = words_mm, .anchor = rightwards ? Anchor::Start : Anchor::End});
}

std::vector<double> spread(std::vector<double> wanted, double apart, double low, double high) {
    std::vector<std::size_t> order(wanted.size());
    std::iota(order.begin(), order.end(), 0U);
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return wanted[i]; });
    double next = low;
    for (const std::size_t i : order) {  // downwards: none above its neighbour
        wanted[i] = std::max(wanted[i], next);
        next = wanted[i] + apart;
    }
    double last = high;
    for (auto i = order.rbegin(); i != order.rend() && wanted[*i] > last; ++i) {  // back up from the end of the column
        wanted[*i] = last;
        last -= apart;
    }
    return wanted;
}

void Callouts::draw(Svg& svg, double x, double top, double bottom) const {
    std::vector<double> heights;
    for (const Note& note : notes_) heights.push_back(note.at.y);
    heights = spread(std::move(heights), 1.35 * words_mm, top, bottom);
    for (std::size_t i = 0; i < notes_.size(); ++i) leader(svg, notes_[i].at, {x, heights[i]}, notes_[i].words);
}

}  // namespace guardband::report::drawing
