#include "report/drawing/footprint_views.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"

namespace guardband::report::drawing {
namespace {

constexpr double closest_lines_mm =
    1.6;  // tracks closer on paper are drawn one in so many: lines of 0.15 mm stay apart in print
constexpr double break_mm = 1.2;  // depth of the zigzag where the tape goes on

constexpr Style track_line{.stroke = ink::grey, .stroke_width_mm = 0.15};
constexpr Style marked_line{.stroke = ink::blue, .stroke_width_mm = 0.6};

std::string_view tint_of(const EdgeTrack& track) {
    if (track.name == "linear sound") return ink::green_tint;
    return track.name == "control track" ? ink::purple_tint : ink::pale;
}

/// 1, 2, 5, 10 …: the least that keeps lines apart.
int sparse_step(double spacing_on_paper_mm) {
    int decade = 1;
    while (true) {
        for (const int step : {1, 2, 5})
            if (step * decade * spacing_on_paper_mm >= closest_lines_mm) return step * decade;
        decade *= 10;
    }
}

/// The edge of a piece that is broken off.
std::vector<Point> zigzag(double x, double top, double bottom) {
    std::vector<Point> points{{x, top}};
    const double middle = (top + bottom) / 2;
    points.insert(points.end(), {{x, middle - 2 * break_mm},
                                 {x - break_mm, middle - break_mm},
                                 {x + break_mm, middle + break_mm},
                                 {x, middle + 2 * break_mm}});
    points.push_back({x, bottom});
    return points;
}

}  // namespace

TapeView::TapeView(const Footprint& footprint, Point corner, double scale, double length_mm)
    : footprint_(footprint), corner_(corner), scale_(scale), length_mm_(length_mm) {
    if (footprint_.pitch_um) every_ = sparse_step(*footprint_.pitch_um / 1e3 * scale_);
}

double TapeView::middle_start_mm() const {
    const double run = (footprint_.high_mm - footprint_.low_mm) / footprint_.across() * footprint_.along();
    return (length_mm_ - run) / 2;
}

Point TapeView::track_start() const { return at(middle_start_mm(), footprint_.low_mm); }

Point TapeView::track_end() const {
    const double run = (footprint_.high_mm - footprint_.low_mm) / footprint_.across() * footprint_.along();
    return at(middle_start_mm() + run, footprint_.high_mm);
}

/// A place of the other side, which is this one turned over about the middle of the tape.
Point TapeView::turned_over(Point place) const {
    const Point middle = at(length_mm_ / 2, footprint_.tape_width_mm / 2);
    return {2 * middle.x - place.x, 2 * middle.y - place.y};
}

void TapeView::draw(Svg& svg, const std::string& id) const {
    svg.open_clipped_group(id, {left(), top()}, {right(), bottom()});
    if (footprint_.layout == Footprint::Layout::Along)
        draw_tracks_along(svg, id);
    else
        draw_tracks(svg, id);
    draw_edge_tracks(svg, id);
    svg.close_group();
    draw_outline(svg, id);
}

std::pair<int, int> TapeView::visible_tracks() const {
    const double advance = footprint_.advance_mm();
    const double run = std::abs(track_end().x - track_start().x) / scale_;
    const int reach = static_cast<int>(std::ceil((length_mm_ / 2 + run) / advance / every_)) + 1;
    return {-reach, reach};
}

void TapeView::draw_tracks(Svg& svg, const std::string& id) const {
    svg.open_group(id + "-tracks", track_line);
    const auto [first, last] = visible_tracks();
    for (int i = first; i <= last; ++i)
        if (i != 0) draw_track(svg, i * every_);
    svg.close_group();
    svg.open_group(id + "-marked", marked_line);
    svg.line(track_start(), track_end());
    svg.close_group();
}

/// Track `number` after the one in the middle; not at all if it would lie outside the window.
void TapeView::draw_track(Svg& svg, int number) const {
    const double shift = number * footprint_.advance_mm() * scale_;
    const Point start{track_start().x + shift, track_start().y}, end{track_end().x + shift, track_end().y};
    if (std::max(start.x, end.x) < left() || std::min(start.x, end.x) > right()) return;
    svg.line(start, end);
    if (footprint_.sides > 1) svg.line(turned_over(start), turned_over(end));
}

void TapeView::draw_tracks_along(Svg& svg, const std::string& id) const {
    svg.open_group(id + "-tracks", {.stroke = ink::blue, .stroke_width_mm = 0.35, .dashes = "8 1.5 1.5 1.5"});
    const int count = footprint_.heads.value_or(1);
    for (int i = 1; i <= count; ++i) {
        const double up = footprint_.tape_width_mm * i / (count + 1);
        svg.line(at(0, up), at(length_mm_, up));
    }
    svg.close_group();
}

void TapeView::draw_edge_tracks(Svg& svg, const std::string& id) const {
    double low = 0, high = footprint_.side_width_mm();
    svg.open_group(id + "-edges", {.stroke = ink::black, .stroke_width_mm = 0.12});
    for (const EdgeTrack& track : footprint_.edge_tracks)
        for (int i = 0; i < track.count; ++i) {
            const double from = track.at_upper_edge ? high - track.width_mm : low;
            (track.at_upper_edge ? high : low) += track.at_upper_edge ? -track.width_mm : track.width_mm;
            const Style style{.fill = tint_of(track)};
            const Point a = at(-1, from), b = at(length_mm_ + 1, from + track.width_mm);
            svg.rectangle(a, b, style);
            if (footprint_.sides > 1) svg.rectangle(turned_over(a), turned_over(b), style);
        }
    svg.close_group();
}

void TapeView::draw_outline(Svg& svg, const std::string& id) const {
    svg.open_group(id + "-outline", thick);
    svg.line({left(), top()}, {right(), top()});
    svg.line({left(), bottom()}, {right(), bottom()});
    svg.close_group();
    for (const double x : {left(), right()})
        svg.polyline(zigzag(x, top(), bottom()), {.fill = ink::white, .stroke = ink::black, .stroke_width_mm = 0.18});
    if (footprint_.sides > 1)
        svg.line(at(0, footprint_.side_width_mm()), at(length_mm_, footprint_.side_width_mm()),
                 {.stroke = ink::black, .stroke_width_mm = 0.18, .dashes = "4 1 1 1"});
}

}  // namespace guardband::report::drawing
