#pragma once

#include <span>
#include <string>
#include <string_view>

namespace guardband::report::drawing {

/// A place on the sheet: mm from its left and from its top.
struct Point {
    double x = 0, y = 0;
};

/// How a shape is painted. What is empty or 0 comes from the group around it.
struct Style {
    std::string_view fill = {}, stroke = {};
    double stroke_width_mm = 0;
    std::string_view dashes = {};  ///< `2 1`: mm drawn, mm left out
};

enum class Anchor { Start, Middle, End };

/// How words are set. The place of a text is on its baseline, at its anchor.
struct TextStyle {
    double size_mm = 3;
    Anchor anchor = Anchor::Start;
    bool bold = false;
    std::string_view fill = "#000000";
    double turned_deg = 0;  ///< clockwise about the place
    bool on_white = false;  ///< a white field below the words, where they stand on lines
};

/// Width of words in a wide sans-serif, mm, so that what is set in a narrower one fits too.
double text_width_mm(std::string_view words, double size_mm, bool bold = false);

/// Writes one SVG 1.1 drawing whose user unit is a millimetre on paper. Coordinates come out in thousandths of a
/// millimetre.
class Svg {
public:
    /// @param title, description  for those who can't see the drawing, and for programs that list it
    Svg(double width_mm, double height_mm, std::string_view title, std::string_view description);

    /// What is written until the group is closed stands in it. @param id  unique in the drawing, a letter first, no
    /// blanks
    void open_group(std::string_view id, const Style& style = {});
    /// A group of which only what lies in the rectangle shows.
    void open_clipped_group(std::string_view id, Point corner, Point opposite, const Style& style = {});
    void close_group();

    void line(Point from, Point to, const Style& style = {});
    void polyline(std::span<const Point> points, const Style& style = {});
    void polygon(std::span<const Point> points, const Style& style = {});
    void rectangle(Point corner, Point opposite, const Style& style = {});
    void text(Point at, std::string_view words, const TextStyle& style = {});

    /// The whole drawing. @throws DomainError if a group is still open
    std::string finished() const;

private:
    void add_points(std::string_view element, std::span<const Point> points, const Style& style);

    std::string body_;
    int open_groups_ = 0;
};

}  // namespace guardband::report::drawing
