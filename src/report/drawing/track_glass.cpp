#include "report/drawing/track_glass.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"

namespace guardband::report::drawing {
namespace {

// How much of the window a pitch may take: so much of the neighbours shows that each can be named.
constexpr double widest_pitch_share = 1 / 1.15;
constexpr double pitches_apart = 4.5;               // so many in the window leave each dimension a track of its own
constexpr double gap_spacing_mm = 2.6;              // between the strokes that stand for the heads' gaps
constexpr double longest_gap_mm = 9;                // half of the gap that stands for the azimuth
constexpr double name_mm = 2.4, name_share = 0.03;  // size of the tracks' names and their place in the window

double radians(double degrees) { return degrees * std::numbers::pi / 180; }

}  // namespace

TrackGlass::TrackGlass(const Footprint& footprint, Point corner, Point opposite)
    : footprint_(footprint),
      corner_(corner),
      opposite_(opposite),
      direction_{footprint.along(), -footprint.across()},
      normal_{footprint.across(), footprint.along()} {
    const double pitch_mm = *footprint.pitch_um / 1e3;
    scale_ = preferred_scale(std::min(wanted_scale, widest_pitch_share * across_extent_mm() / pitch_mm));
    if (is_close()) shift_mm_ = (to_paper(*footprint.pitch_um) - to_paper(shown_width_um())) / 2;
}

bool TrackGlass::is_close() const { return across_extent_mm() < pitches_apart * to_paper(*footprint_.pitch_um); }

std::string TrackGlass::scale_remark() const {
    if (scale_ == wanted_scale) return {};
    return fmt::format("at {} one pitch would be {} mm, too much for this view", scale_text(wanted_scale),
                       number_text(wanted_scale * *footprint_.pitch_um / 1e3, 3));
}

/// A place in the window by its way along the tracks and across them, towards later tracks, from the middle of one.
Point TrackGlass::place(double along_mm, double across_mm) const {
    const Point middle{(corner_.x + opposite_.x) / 2, (corner_.y + opposite_.y) / 2};
    const double across = across_mm - shift_mm_;
    return {middle.x + direction_.x * along_mm + normal_.x * across,
            middle.y + direction_.y * along_mm + normal_.y * across};
}

/// How much of the tracks' pattern shows, measured across them through the window's middle.
double TrackGlass::across_extent_mm() const {
    return std::min(std::abs(height() / normal_.y), std::abs(width() / normal_.x));
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
    const double width = to_paper(shown_width_um());
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

/// The place across the tracks, within so much of the window's edges, that lies nearest to one on a line at a share of
/// the window: where a word can stand.
double TrackGlass::within_window(double share, double across_mm, double edge_mm) const {
    const auto free_coordinate = [&](double across) {
        const Point at = place(along_at(share, across), across);
        return is_steep() ? at.x : at.y;
    };
    const double at_zero = free_coordinate(0), slope = free_coordinate(1) - at_zero;
    const double low = ((is_steep() ? corner_.x : corner_.y) + edge_mm - at_zero) / slope;
    const double high = ((is_steep() ? opposite_.x : opposite_.y) - edge_mm - at_zero) / slope;
    return std::clamp(across_mm, std::min(low, high), std::max(low, high));
}

void TrackGlass::draw_names(Svg& svg) const {
    const double pitch = to_paper(*footprint_.pitch_um), width = to_paper(shown_width_um());
    const int reach = static_cast<int>(std::hypot(opposite_.x - corner_.x, opposite_.y - corner_.y) / 2 / pitch) + 1;
    for (int i = -reach; i <= reach; ++i) {
        draw_band_name(svg, i * pitch, width, footprint_.colour_track_width_um ? "luminance" : name_of(i));
        if (footprint_.colour_track_width_um)
            draw_band_name(svg, (i + 0.5) * pitch, to_paper(*footprint_.colour_track_width_um), "colour");
    }
}

/// In the middle of the band, or as near to it as shows; not at all where too little of the band shows.
void TrackGlass::draw_band_name(Svg& svg, double across_mm, double width_mm, const std::string& words) const {
    const double shown_mm = within_window(name_share, across_mm, name_mm);
    if (std::abs(shown_mm - across_mm) <= width_mm / 2 - 0.6 * name_mm) draw_name(svg, shown_mm, words);
}

void TrackGlass::draw_name(Svg& svg, double across_mm, const std::string& words) const {
    const Point middle = place(along_at(name_share, across_mm), across_mm);
    const double turned = std::atan(direction_.y / direction_.x) * 180 / std::numbers::pi;
    const double upright = is_steep() && turned > 0 ? turned - 180 : turned;  // steep tracks are read from the right
    const Point down{-std::sin(radians(upright)), std::cos(radians(upright))};
    const Point at{middle.x + 0.35 * name_mm * down.x, middle.y + 0.35 * name_mm * down.y};
    const bool is_inside = at.x > corner_.x && at.x + name_mm < opposite_.x && at.y - name_mm > corner_.y &&
                           at.y < opposite_.y - 0.3 * name_mm;
    if (is_inside && !words.empty()) svg.text(at, words, {.size_mm = name_mm, .turned_deg = upright, .on_white = true});
}

bool TrackGlass::has_guard_band() const { return footprint_.guard_band_um.value_or(0) > 0; }
std::string TrackGlass::pitch_words() const { return "pitch " + number_text(*footprint_.pitch_um) + " µm"; }
std::string TrackGlass::width_words() const { return "width " + number_text(shown_width_um()) + " µm"; }
std::string TrackGlass::colour_words() const {
    return "colour " + number_text(*footprint_.colour_track_width_um) + " µm";
}
std::string TrackGlass::guard_words() const { return "guard band " + number_text(*footprint_.guard_band_um) + " µm"; }

void TrackGlass::draw_dimensions(Svg& svg) const {
    const double pitch = to_paper(*footprint_.pitch_um), width = to_paper(shown_width_um());
    if (is_close())
        draw_dimensions_close(svg, pitch, width);
    else
        draw_dimensions_apart(svg, pitch, width);
}

/// Each dimension at a track of its own.
void TrackGlass::draw_dimensions_apart(Svg& svg, double pitch_mm, double width_mm) const {
    const double third = is_steep() ? 0.78 : 0.63;
    dimension(svg, 0.2, -width_mm / 2, pitch_mm - width_mm / 2, pitch_words());
    if (footprint_.track_width_um)
        dimension(svg, is_steep() ? 0.5 : 0.42, -pitch_mm - width_mm / 2, -pitch_mm + width_mm / 2, width_words());
    if (footprint_.colour_track_width_um) {
        const double colour = to_paper(*footprint_.colour_track_width_um);
        dimension(svg, third, 1.5 * pitch_mm - colour / 2, 1.5 * pitch_mm + colour / 2, colour_words());
    } else if (has_guard_band()) {
        dimension(svg, third, pitch_mm + width_mm / 2, 2 * pitch_mm - width_mm / 2, guard_words());
    }
    draw_azimuth(svg, 0.4, (is_steep() ? -4 : -2) * pitch_mm, width_mm);
}

/// All dimensions at the track in the middle, side by side.
void TrackGlass::draw_dimensions_close(Svg& svg, double pitch_mm, double width_mm) const {
    const bool steep = is_steep();
    dimension(svg, steep ? 0.24 : 0.2, -width_mm / 2, pitch_mm - width_mm / 2, pitch_words());
    if (footprint_.track_width_um) dimension(svg, steep ? 0.68 : 0.43, -width_mm / 2, width_mm / 2, width_words());
    if (footprint_.colour_track_width_um) {
        const double colour = to_paper(*footprint_.colour_track_width_um);
        dimension(svg, steep ? 0.86 : 0.66, pitch_mm / 2 - colour / 2, pitch_mm / 2 + colour / 2, colour_words());
    } else if (has_guard_band()) {
        dimension(svg, steep ? 0.86 : 0.66, width_mm / 2, pitch_mm - width_mm / 2, guard_words());
    }
    draw_azimuth(svg, steep ? 0.46 : 0.72, 0, width_mm);
}

/// One gap drawn bold beside a line square to its track.
void TrackGlass::draw_azimuth(Svg& svg, double share, double across_mm, double width_mm) const {
    if (!footprint_.azimuth_deg) return;
    const double along_mm = along_at(share, across_mm);
    const double reach = std::min(0.7 * width_mm, longest_gap_mm);
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
