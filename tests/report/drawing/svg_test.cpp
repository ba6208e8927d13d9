#include "report/drawing/svg.h"

#include <gtest/gtest.h>

#include <array>
#include <limits>

#include "quantity/errors.h"
#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"
#include "support/drawing_check.h"
#include "support/svg_reader.h"

namespace guardband::report::drawing {
namespace {

using support::read_svg;
using support::SvgElement;

TEST(Svg, IsAPageInMillimetres) {
    const SvgElement svg = read_svg(Svg(297, 210, "a title", "what it shows").finished());
    EXPECT_EQ(svg.name, "svg");
    EXPECT_EQ(svg.attributes.at("xmlns"), "http://www.w3.org/2000/svg");
    EXPECT_EQ(svg.attributes.at("width"), "297mm");
    EXPECT_EQ(svg.attributes.at("viewBox"), "0 0 297 210");
    EXPECT_EQ(svg.all("title").front()->text, "a title");
    EXPECT_EQ(svg.all("desc").front()->text, "what it shows");
}

TEST(Svg, WritesShapesWithWhatIsSetAndNoMore) {
    Svg drawing(10, 10, "t", "d");
    drawing.open_group("group", {.stroke = "#000000", .stroke_width_mm = 0.25, .dashes = "1 2"});
    drawing.line({1, 2}, {3.00049, 4.0005001});
    drawing.close_group();
    const SvgElement svg = read_svg(drawing.finished());
    const SvgElement& line = *svg.group("group").all("line").front();
    EXPECT_EQ(line.attributes.at("x1"), "1");
    EXPECT_EQ(line.attributes.at("x2"), "3") << "thousandths of a millimetre, no trailing zeros";
    EXPECT_EQ(line.attributes.at("y2"), "4.001");
    EXPECT_FALSE(line.attributes.contains("stroke")) << "comes from the group";
    EXPECT_EQ(svg.group("group").attributes.at("stroke-dasharray"), "1 2");
}

TEST(Svg, TakesAnyWords) {
    Svg drawing(10, 10, "a < b & \"c\"", "d");
    drawing.text({1, 1}, std::string("x < y\x01 & z\nnext"));
    const SvgElement svg = read_svg(drawing.finished());
    EXPECT_EQ(svg.all("title").front()->text, "a < b & \"c\"");
    EXPECT_EQ(svg.all("text").front()->text, "x < y & z next")
        << "control characters, which XML does not take, are left out";
}

TEST(Svg, RefusesWhatNoDrawingCanShow) {
    Svg drawing(10, 10, "t", "d");
    EXPECT_THROW(drawing.line({0, 0}, {std::numeric_limits<double>::infinity(), 0}), quantity::DomainError);
    EXPECT_THROW(drawing.close_group(), quantity::DomainError);
    drawing.open_group("open");
    EXPECT_THROW(drawing.finished(), quantity::DomainError);
}

// Source: font metrics of DejaVu Sans, read with another program: "azimuth 6°" at 1000 units takes 613 + 525 + 278 +
// 974 + 634 + 392 + 634 + 318 + 636
// + 500 = 5504. Our degree sign counts as wide as a plus sign.
TEST(TextWidth, IsThatOfAWideFaceOrMore) {
    EXPECT_NEAR(text_width_mm("azimuth 6", 1), 5.004, 0.05);
    EXPECT_GE(text_width_mm("azimuth 6°", 1), 5.504);
    EXPECT_LE(text_width_mm("azimuth 6°", 1), 6.0);
    EXPECT_DOUBLE_EQ(text_width_mm("mm", 6), 2 * text_width_mm("mm", 3));
    EXPECT_GT(text_width_mm("mm", 3, true), text_width_mm("mm", 3));
}

TEST(WordsOfADrawing, AreFoundFaultyWhereTheyAre) {
    Svg drawing(297, 210, "t", "d");
    drawing.text({20, 20}, "here");
    drawing.text({22, 21}, "there");
    drawing.text({280, 40}, "beyond the frame");
    drawing.text({20, 60}, "tiny", {.size_mm = 1.5});
    drawing.text({20, 80}, "upright", {.turned_deg = -90});
    drawing.text({18, 78}, "across it");
    const auto faults = support::faults_of_words(read_svg(drawing.finished()));
    EXPECT_EQ(faults,
              (std::vector<std::string>{"on top of each other: here / there", "outside the frame: beyond the frame",
                                        "too small: tiny", "on top of each other: upright / across it"}));
}

TEST(Scale, IsTheNextOfTheSeriesBelow) {
    EXPECT_DOUBLE_EQ(preferred_scale(1), 1);
    EXPECT_DOUBLE_EQ(preferred_scale(1.99), 1);
    EXPECT_DOUBLE_EQ(preferred_scale(2), 2);
    EXPECT_DOUBLE_EQ(preferred_scale(499), 200);
    EXPECT_DOUBLE_EQ(preferred_scale(0.7), 0.5);
    EXPECT_EQ(scale_text(200), "200:1");
    EXPECT_EQ(scale_text(0.5), "1:2");
}

TEST(ScaleBar, IsAsLongAsItSays) {
    for (const double scale : {0.5, 2.0, 200.0, 1000.0}) {
        Svg drawing(100, 100, "t", "d");
        scale_bar(drawing, {0, 0}, scale);
        const SvgElement svg = read_svg(drawing.finished());
        const std::string& words = svg.all("text").front()->text;
        const double length_mm = std::stod(words) * (words.find("µm") != std::string::npos ? 1e-3 : 1);
        EXPECT_NEAR(svg.all("rect").at(1)->number("width"), length_mm * scale, 0.001) << words;
    }
}

TEST(Numbers, HaveATrueMinusSignAndNoNoise) {
    EXPECT_EQ(number_text(-300), "−300");
    EXPECT_EQ(number_text(0.1 + 0.2), "0.3");
    EXPECT_EQ(number_text(396.875), "396.875");
}

TEST(Lines, BreakWhereTheWidthEnds) {
    const auto lines = lines_of("one two three four five", 12, 2.3);
    ASSERT_GT(lines.size(), 1U);
    std::string again;
    for (const std::string& line : lines) {
        EXPECT_LE(text_width_mm(line, 2.3), 12);
        again += (again.empty() ? "" : " ") + line;
    }
    EXPECT_EQ(again, "one two three four five");
}

TEST(Spread, KeepsApartAndMovesNoMoreThanNeeded) {
    EXPECT_EQ(spread({5, 20}, 4, 0, 30), (std::vector<double>{5, 20})) << "enough room already";
    EXPECT_EQ(spread({20, 5, 6}, 4, 0, 30), (std::vector<double>{20, 5, 9}));
    EXPECT_EQ(spread({29, 30, 30}, 4, 0, 30), (std::vector<double>{22, 26, 30})) << "pushed back from the end";
    EXPECT_EQ(spread({}, 4, 0, 30), std::vector<double>{});
}

TEST(Dimension, HasItsWordsBesideItWhereItIsShort) {
    Svg drawing(100, 100, "t", "d");
    horizontal_dimension(drawing, 10, 90, 20, 10, "80 mm");
    horizontal_dimension(drawing, 50, 52, 40, 30, "2 mm");
    horizontal_dimension(drawing, 50, 52, 60, 50, "2 mm", Beside::Before);
    const SvgElement svg = read_svg(drawing.finished());
    const auto texts = svg.all("text");
    EXPECT_NEAR(texts.at(0)->number("x"), 50, 1e-9);
    EXPECT_GT(texts.at(1)->number("x"), 52);
    EXPECT_LT(texts.at(2)->number("x"), 50);
    EXPECT_EQ(texts.at(2)->attributes.at("text-anchor"), "end");
}

}  // namespace
}  // namespace guardband::report::drawing
