#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "report/drawing/svg.h"

namespace guardband::report::drawing {

/// Inks of the drawings: black for lines and words; tints and hues that stay apart for colour-blind readers (Okabe and
/// Ito's set), each of them named in words on the drawing too.
namespace ink {
inline constexpr std::string_view black = "#000000", grey = "#777777", dark = "#444444", pale = "#e6e6e6",
                                  white = "#ffffff";
inline constexpr std::string_view blue = "#0072b2", vermilion = "#d55e00", green = "#009e73", purple = "#aa4499";
inline constexpr std::string_view blue_tint = "#cfe3f1", orange_tint = "#fae3b8", green_tint = "#c5e8dd",
                                  purple_tint = "#ecd3e4";
}  // namespace ink

inline constexpr Style thin{.stroke = ink::black, .stroke_width_mm = 0.18};
inline constexpr Style thick{.stroke = ink::black, .stroke_width_mm = 0.45};
inline constexpr double words_mm = 2.7;  ///< size of the words on drawings

/// A line with a head at its end.
void arrow(Svg& svg, Point from, Point to, const Style& style = thin);

/// A line between two places with heads at both ends; heads from outside where it is short.
void dimension_line(Svg& svg, Point a, Point b);

/// Where a dimension's words go when they don't fit between its ends.
enum class Beside { After, Before };

/// A dimension along the sheet at height `y`, with extension lines from the features at `feature_y`. Words above the
/// line, or beside it where it is short.
void horizontal_dimension(Svg& svg, double x1, double x2, double y, double feature_y, std::string_view words,
                          Beside beside = Beside::After);

/// A dimension up the sheet at `x`, with extension lines from the features at `feature_x`; words turned along it, or
/// below its end.
void vertical_dimension(Svg& svg, double y1, double y2, double x, double feature_x, std::string_view words);

/// A bent line from a feature to words at `to`, which stand away from the feature.
void leader(Svg& svg, Point at, Point to, std::string_view words);

/// Places on a line, each moved as little as need be for all to be `apart` and within `low` and `high` (if there is
/// room for them).
std::vector<double> spread(std::vector<double> wanted, double apart, double low, double high);

/// Words in a column beside a view, a leader from each to its feature, none on top of another.
class Callouts {
public:
    void add(Point at, std::string words) { notes_.push_back({at, std::move(words)}); }
    /// @param x  where the words begin  @param top, bottom  the column
    void draw(Svg& svg, double x, double top, double bottom) const;

private:
    struct Note {
        Point at;
        std::string words;
    };
    std::vector<Note> notes_;
};

}  // namespace guardband::report::drawing
