#include "report/drawing/footprint_views.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"

namespace guardband::report::drawing {
namespace {

constexpr double closest_lines_mm =
    1.6;  // tracks closer on paper are drawn one in so many: lines of 0.15 mm stay apart in print
constexpr double widest_pitch_mm = 15;  // under the glass: four tracks or more in the window
constexpr double gap_spacing_mm = 2.6;  // between the strokes that stand for the heads' gaps
constexpr double break_mm = 1.2;        // depth of the zigzag where the tape goes on

constexpr Style track_line{.stroke = ink::grey, .stroke_width_mm = 0.15};
constexpr Style marked_line{.stroke = ink::blue, .stroke_width_mm = 0.6};

double radians(double degrees) { return degrees * std::numbers::pi / 180; }

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

TrackGlass::TrackGlass(const Footprint& footprint, Point corner, Point opposite)
    : footprint_(footprint),
      corner_(corner),
      opposite_(opposite),
      direction_{footprint.along(), -footprint.across()},
      normal_{footprint.across(), footprint.along()},
      scale_(preferred_scale(widest_pitch_mm / (*footprint.pitch_um / 1e3))) {}

/// A place in the window by its way along the tracks and across them, towards later tracks, from the middle of one.
Point TrackGlass::place(double along_mm, double across_mm) const {
    const Point middle{(corner_.x + opposite_.x) / 2, (corner_.y + opposite_.y) / 2};
    return {middle.x + direction_.x * along_mm + normal_.x * across_mm,
            middle.y + direction_.y * along_mm + normal_.y * across_mm};
}

bool TrackGlass::is_steep() const { return std::abs(direction_.y) > std::abs(direction_.x); }

void TrackGlass::draw(Svg& svg) const {
    svg.open_clipped_group("glass", corner_, opposite_);
    draw_bands(svg);
    draw_names(svg);
    draw_dimensions(svg);
    svg.close_group();
    svg.rectangle(corner_, opposite_, {.fill = "none", .stroke = ink::black, .stroke_width_mm = 0.3});
}

void TrackGlass::draw_bands(Svg& svg) const {
    const double pitch = to_paper(*footprint_.pitch_um);
    const double width = to_paper(footprint_.track_width_um.value_or(*footprint_.pitch_um));
    const int reach =
        static_cast<int>(std::ceil(std::hypot(opposite_.x - corner_.x, opposite_.y - corner_.y) / 2 / pitch)) + 1;
    svg.open_group("glass-tracks", {.stroke = ink::grey, .stroke_width_mm = 0.12});
    for (int i = -reach; i <= reach; ++i)
        draw_band(svg, i * pitch, width, !footprint_.colour_track_width_um && is_second(i));
    svg.close_group();
    if (!footprint_.colour_track_width_um) return;
    svg.open_group("glass-colour-tracks", {.stroke = ink::grey, .stroke_width_mm = 0.12});
    for (int i = -reach; i <= reach; ++i)
        draw_band(svg, (i + 0.5) * pitch, to_paper(*footprint_.colour_track_width_um), true);
    svg.close_group();
}

/// Which of the two kinds of heads wrote a track: they take turns, unless one head does it all.
bool TrackGlass::is_second(int track) const { return track % 2 != 0 && footprint_.heads != 1; }

void TrackGlass::draw_band(Svg& svg, double across_mm, double width_mm, bool second) const {
    const double half_length = std::hypot(opposite_.x - corner_.x, opposite_.y - corner_.y) / 2;
    const double low = across_mm - width_mm / 2, high = across_mm + width_mm / 2;
    svg.polygon(std::array{place(-half_length, low), place(half_length, low), place(half_length, high),
                           place(-half_length, high)},
                {.fill = second ? ink::orange_tint : ink::blue_tint});
    draw_gaps(svg, across_mm, width_mm, second);
}

void TrackGlass::draw_gaps(Svg& svg, double across_mm, double width_mm, bool second) const {
    if (!footprint_.azimuth_deg) return;
    const double half_length = std::hypot(opposite_.x - corner_.x, opposite_.y - corner_.y) / 2;
    const double lean = (second ? -1 : 1) * std::tan(radians(*footprint_.azimuth_deg)) * width_mm / 2;
    const Style stroke{.stroke = second ? ink::vermilion : ink::blue, .stroke_width_mm = 0.15};
    for (double along_mm = -half_length; along_mm <= half_length; along_mm += gap_spacing_mm)
        svg.line(place(along_mm - lean, across_mm - width_mm / 2), place(along_mm + lean, across_mm + width_mm / 2),
                 stroke);
}

/// How far along the tracks the middle of a band crosses a line at a share of the window's width, or of its height when
/// the tracks are steep.
double TrackGlass::along_at(double share, double across_mm) const {
    const Point middle = place(0, across_mm);
    if (is_steep()) return (opposite_.y + share * (corner_.y - opposite_.y) - middle.y) / direction_.y;
    return (corner_.x + share * (opposite_.x - corner_.x) - middle.x) / direction_.x;
}

std::string TrackGlass::name_of(int track) const {
    if (!footprint_.heads || footprint_.heads == 1) return {};
    const int heads = *footprint_.heads;
    return fmt::format("head {}", (track % heads + heads) % heads + 1);
}

void TrackGlass::draw_names(Svg& svg) const {
    const double pitch = to_paper(*footprint_.pitch_um);
    const int reach = static_cast<int>(std::hypot(opposite_.x - corner_.x, opposite_.y - corner_.y) / 2 / pitch) + 1;
    for (int i = -reach; i <= reach; ++i) {
        if (!footprint_.colour_track_width_um) {
            draw_name(svg, i * pitch, name_of(i));
            continue;
        }
        draw_name(svg, i * pitch, "luminance");
        draw_name(svg, (i + 0.5) * pitch, "colour");
    }
}

void TrackGlass::draw_name(Svg& svg, double across_mm, const std::string& words) const {
    constexpr double size = 2.4;
    const Point middle = place(along_at(0.03, across_mm), across_mm);
    const double turned = std::atan(direction_.y / direction_.x) * 180 / std::numbers::pi;
    const double upright = is_steep() && turned > 0 ? turned - 180 : turned;  // steep tracks are read from the right
    const Point down{-std::sin(radians(upright)), std::cos(radians(upright))};
    const Point at{middle.x + 0.35 * size * down.x, middle.y + 0.35 * size * down.y};
    const bool is_inside =
        at.x > corner_.x && at.x + size < opposite_.x && at.y - size > corner_.y && at.y < opposite_.y - 0.3 * size;
    if (is_inside && !words.empty()) svg.text(at, words, {.size_mm = size, .turned_deg = upright, .on_white = true});
}

void TrackGlass::draw_dimensions(Svg& svg) const {
    const double pitch = to_paper(*footprint_.pitch_um);
    const double width = to_paper(footprint_.track_width_um.value_or(*footprint_.pitch_um));
    const double third = is_steep() ? 0.78 : 0.63;
    dimension(svg, 0.2, -width / 2, pitch - width / 2, "pitch " + number_text(*footprint_.pitch_um) + " µm");
    if (footprint_.track_width_um)
        dimension(svg, is_steep() ? 0.5 : 0.42, -pitch - width / 2, -pitch + width / 2,
                  "width " + number_text(*footprint_.track_width_um) + " µm");
    if (footprint_.colour_track_width_um) {
        const double colour = to_paper(*footprint_.colour_track_width_um);
        dimension(svg, third, 1.5 * pitch - colour / 2, 1.5 * pitch + colour / 2,
                  "colour " + number_text(*footprint_.colour_track_width_um) + " µm");
    } else if (footprint_.guard_band_um.value_or(0) > 0) {
        dimension(svg, third, pitch + width / 2, 2 * pitch - width / 2,
                  "guard band " + number_text(*footprint_.guard_band_um) + " µm");
    }
    draw_azimuth(svg, (is_steep() ? -4 : -2) * pitch, width);
}

/// One gap drawn bold beside a line square to its track.
void TrackGlass::draw_azimuth(Svg& svg, double across_mm, double width_mm) const {
    if (!footprint_.azimuth_deg) return;
    const double along_mm = along_at(0.4, across_mm);
    const double reach = 0.7 * width_mm;
    const double lean = std::tan(radians(*footprint_.azimuth_deg)) * reach;  // of an even track
    if (lean != 0)
        svg.line(place(along_mm, across_mm - 1.3 * reach), place(along_mm, across_mm + 1.3 * reach),
                 {.stroke = ink::black, .stroke_width_mm = 0.25, .dashes = "1.2 0.6"});
    svg.line(place(along_mm - lean, across_mm - reach), place(along_mm + lean, across_mm + reach), thick);
    const Point middle = place(along_mm, across_mm);
    const std::string words = "azimuth " + number_text(*footprint_.azimuth_deg) + "°";
    if (is_steep())
        svg.text({middle.x, middle.y + 1.6 + words_mm}, words,
                 {.size_mm = words_mm, .anchor = Anchor::Middle, .on_white = true});
    else
        svg.text({middle.x + std::abs(lean) + 1.5, middle.y + words_mm / 3}, words,
                 {.size_mm = words_mm, .on_white = true});
}

void TrackGlass::dimension(Svg& svg, double share, double from_mm, double to_mm, const std::string& words) const {
    const double along_mm = along_at(share, (from_mm + to_mm) / 2);
    svg.line(place(along_mm, from_mm), place(along_mm, to_mm), {.stroke = ink::white, .stroke_width_mm = 1});
    dimension_line(svg, place(along_mm, from_mm), place(along_mm, to_mm));
    const Point middle = place(along_mm, (from_mm + to_mm) / 2);
    const bool fits_after = middle.x + 2 + text_width_mm(words, words_mm) < opposite_.x;
    if (is_steep())
        svg.text({middle.x, middle.y - 1.3}, words, {.size_mm = words_mm, .anchor = Anchor::Middle, .on_white = true});
    else
        svg.text({middle.x + (fits_after ? 1.6 : -1.6), middle.y + words_mm / 3}, words,
                 {.size_mm = words_mm, .anchor = fits_after ? Anchor::Start : Anchor::End, .on_white = true});
}

}  // namespace guardband::report::drawing
