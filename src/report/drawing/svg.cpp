#include "report/drawing/svg.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::report::drawing {
namespace {

/// Advance widths of blank to tilde in a wide sans-serif, hundredths of the size (read from the metrics of DejaVu
/// Sans).
constexpr std::array advances{32, 40, 46, 84, 64, 95, 78, 27, 39, 39, 50, 84, 32, 36,  32, 34, 64, 64, 64,
                              64, 64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 53, 100, 68, 69, 70, 77, 63,
                              58, 77, 75, 29, 29, 66, 56, 86, 75, 79, 60, 79, 69, 63,  61, 73, 68, 99, 69,
                              61, 69, 39, 34, 39, 84, 50, 50, 61, 63, 55, 63, 62, 35,  63, 63, 28, 28, 58,
                              28, 97, 63, 61, 63, 63, 41, 52, 39, 63, 59, 82, 59, 59,  52, 64, 34, 64, 84};
constexpr int other_advance = 84;    // as wide as a plus sign: no sign that we set is wider, save the long dash
constexpr double bold_share = 1.12;  // how much wider the bold face of such a sans-serif runs, at most

bool continues_code_point(char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; }

int advance_of(char c) {
    const auto code = static_cast<unsigned char>(c);
    return code >= ' ' && code <= '~' ? advances.at(code - ' ') : other_advance;
}

/// The text as XML takes it. Control characters, which it does not take at all, are left out.
std::string escaped(std::string_view text) {
    std::string result;
    for (const char c : text) {
        if (c == '&')
            result += "&amp;";
        else if (c == '<')
            result += "&lt;";
        else if (c == '>')
            result += "&gt;";
        else if (c == '"')
            result += "&quot;";
        else if (static_cast<unsigned char>(c) >= ' ' && c != '\x7f')
            result += c;
        else if (c == '\n' || c == '\t')
            result += ' ';
    }
    return result;
}

/// Thousandths of a millimetre, without trailing zeros.
std::string number(double value) {
    if (!std::isfinite(value)) throw quantity::DomainError("a drawing takes finite coordinates only");
    std::string text = fmt::format("{:.3f}", value);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.ends_with('.')) text.pop_back();
    return text == "-0" ? "0" : text;
}

std::string attributes(const Style& style) {
    std::string text;
    if (!style.fill.empty()) text += fmt::format(" fill=\"{}\"", style.fill);
    if (!style.stroke.empty()) text += fmt::format(" stroke=\"{}\"", style.stroke);
    if (style.stroke_width_mm > 0) text += fmt::format(" stroke-width=\"{}\"", number(style.stroke_width_mm));
    if (!style.dashes.empty()) text += fmt::format(" stroke-dasharray=\"{}\"", style.dashes);
    return text;
}

std::string rectangle_text(Point a, Point b, const std::string& more) {
    return fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}/>\n", number(std::min(a.x, b.x)),
                       number(std::min(a.y, b.y)), number(std::abs(b.x - a.x)), number(std::abs(b.y - a.y)), more);
}

constexpr std::string_view anchor_names[] = {"start", "middle", "end"};

/// How much of a text's width lies left of its place.
constexpr double anchor_shares[] = {0, 0.5, 1};

std::string turning(double turned_deg, Point about) {
    if (turned_deg == 0) return {};
    return fmt::format(" transform=\"rotate({} {} {})\"", number(turned_deg), number(about.x), number(about.y));
}

}  // namespace

double text_width_mm(std::string_view words, double size_mm, bool bold) {
    int hundredths = 0;
    for (const char c : words)
        if (!continues_code_point(c)) hundredths += advance_of(c);
    return hundredths / 100.0 * size_mm * (bold ? bold_share : 1);
}

Svg::Svg(double width_mm, double height_mm, std::string_view title, std::string_view description) {
    body_ = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} "
        "{1}\" "
        "font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\" fill=\"none\" stroke=\"none\" "
        "stroke-linejoin=\"round\">\n"
        "<title>{2}</title>\n<desc>{3}</desc>\n",
        number(width_mm), number(height_mm), escaped(title), escaped(description));
    rectangle({0, 0}, {width_mm, height_mm}, {.fill = "#ffffff"});
}

void Svg::open_group(std::string_view id, const Style& style) {
    body_ += fmt::format("<g id=\"{}\"{}>\n", escaped(id), attributes(style));
    ++open_groups_;
}

void Svg::open_clipped_group(std::string_view id, Point corner, Point opposite, const Style& style) {
    body_ +=
        fmt::format("<clipPath id=\"{}-window\">{}</clipPath>\n", escaped(id), rectangle_text(corner, opposite, ""));
    body_ += fmt::format("<g id=\"{0}\" clip-path=\"url(#{0}-window)\"{1}>\n", escaped(id), attributes(style));
    ++open_groups_;
}

void Svg::close_group() {
    if (open_groups_ == 0) throw quantity::DomainError("no group of the drawing is open");
    body_ += "</g>\n";
    --open_groups_;
}

void Svg::line(Point from, Point to, const Style& style) {
    body_ += fmt::format("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"{}/>\n", number(from.x), number(from.y),
                         number(to.x), number(to.y), attributes(style));
}

void Svg::polyline(std::span<const Point> points, const Style& style) { add_points("polyline", points, style); }

void Svg::polygon(std::span<const Point> points, const Style& style) { add_points("polygon", points, style); }

void Svg::add_points(std::string_view element, std::span<const Point> points, const Style& style) {
    body_ += fmt::format("<{} points=\"", element);
    for (const Point& point : points)
        body_ += (body_.back() == '"' ? "" : " ") + number(point.x) + "," + number(point.y);
    body_ += fmt::format("\"{}/>\n", attributes(style));
}

void Svg::rectangle(Point corner, Point opposite, const Style& style) {
    body_ += rectangle_text(corner, opposite, attributes(style));
}

void Svg::text(Point at, std::string_view words, const TextStyle& style) {
    const auto anchor = static_cast<std::size_t>(style.anchor);
    if (style.on_white) {
        const double width = text_width_mm(words, style.size_mm, style.bold) + 0.4 * style.size_mm;
        const double left = at.x - (anchor_shares[anchor] * (width - 0.4 * style.size_mm)) - 0.2 * style.size_mm;
        body_ += rectangle_text({left, at.y - 0.9 * style.size_mm}, {left + width, at.y + 0.3 * style.size_mm},
                                " fill=\"#ffffff\"" + turning(style.turned_deg, at));
    }
    body_ += fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"", number(at.x), number(at.y),
                         number(style.size_mm), style.fill);
    if (style.anchor != Anchor::Start) body_ += fmt::format(" text-anchor=\"{}\"", anchor_names[anchor]);
    if (style.bold) body_ += " font-weight=\"bold\"";
    body_ += turning(style.turned_deg, at) + ">" + escaped(words) + "</text>\n";
}

std::string Svg::finished() const {
    if (open_groups_ != 0) throw quantity::DomainError("a group of the drawing is still open");
    return body_ + "</svg>\n";
}

}  // namespace guardband::report::drawing
