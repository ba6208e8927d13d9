#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "report/drawing/dimension.h"
#include "report/drawing/svg.h"
#include "table/table.h"

namespace guardband::report::drawing {

/// A drawing, and what it had to leave out.
struct Drawing {
    std::string svg;
    std::vector<std::string> missing;  ///< what the table does not know, for people
};

/// The largest scale of the series 1, 2, 5, 10 … (as in ISO 5455) that is not above `most`: 2 is two to one, 0.5 one to
/// two.
double preferred_scale(double most);

/// `2:1`, `1:2`.
std::string scale_text(double scale);

/// A bar that shows a round length of the thing drawn, with its left end at `at`.
void scale_bar(Svg& svg, Point at, double scale);

/// A number for a drawing, its significant digits limited, with a true minus sign.
std::string number_text(double value, int digits = 6);

/// `58 µm`, `5.9694°`: as printed where the fact stands in that unit, else to six significant digits.
std::string value_text_in(const table::Fact& fact, std::string_view unit);

/// `a; b; c`.
std::string joined(const std::vector<std::string>& parts);

/// Words broken into lines of a width.
std::vector<std::string> lines_of(std::string_view words, double width_mm, double size_mm);

/// A page of A4 across with a title, room for views, a list of figures and notes at its foot.
class DrawingSheet {
public:
    static constexpr double width_mm = 297, height_mm = 210, margin_mm = 12;

    DrawingSheet(const table::Table& table, std::string_view title, std::string_view subtitle);

    Svg& svg() { return svg_; }
    /// A view's heading: its letter, what it shows, its scale (0: none to be printed) and below them a remark, which
    /// may be empty.
    void heading(Point at, std::string_view letter, std::string_view what, double scale, std::string_view remark);
    /// Adds a row to the list of figures: a fact in a unit, with its source or, where there is none, its standing.
    void add_figure(std::string_view name, const table::Fact& fact, std::string_view unit);
    /// A row that was worked out from other figures.
    void add_computed(std::string_view name, std::string_view value);
    /// The list, its rows closer together if they would reach below `floor`.
    void draw_figures(Point corner, double width, double floor);
    /// Notes at the foot, the sources that the figures cite and the edition of the table after
    /// them. @returns the top of what they take
    double draw_notes(const std::vector<std::string>& notes);
    std::string finished() const { return svg_.finished(); }

private:
    struct Row {
        std::string name, value, source;
    };

    std::string cite(const table::Fact& fact);
    std::string sources_text() const;

    const table::Table& table_;
    Svg svg_;
    std::vector<const table::Source*> sources_;
    std::vector<Row> rows_;
};

}  // namespace guardband::report::drawing
