#include "report/drawing/drawing_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "quantity/unit.h"
#include "report/figure_page.h"

namespace guardband::report::drawing {
namespace {

using table::Fact;

constexpr double title_mm = 5, subtitle_mm = 3, heading_mm = 3, row_mm = 2.5, note_mm = 2.3;
constexpr double row_pitch_mm = 4, note_pitch_mm = 3.2;
constexpr double longest_bar_mm = 32;
constexpr double smallest_share = 5e-6;  // of tolerances that are shown in the value’s own unit

/// The first of `rest`'s words, removed from it with the blanks after them.
std::string_view next_word(std::string_view& rest) {
    const std::size_t end = std::min(rest.find(' '), rest.size());
    const std::string_view word = rest.substr(0, end);
    rest.remove_prefix(std::min(rest.find_first_not_of(' ', end), rest.size()));
    return word;
}

bool is_plain_number(const std::string& text) {
    return !text.empty() && text.find_first_not_of("0123456789.-") == std::string::npos &&
           text.find('-', 1) == std::string::npos;
}

std::string with_unit(const std::string& number, std::string_view unit) {
    if (unit.empty()) return number;
    return unit == "deg" ? number + "°" : number + " " + std::string(unit);
}

/// Two significant digits, never in powers of ten.
std::string half_width_text(double half) { return number_text(std::stod(fmt::format("{:.1e}", half))); }

/// The value's digits with unit and tolerance. Tiny tolerances read better in parts per million.
std::string with_tolerance(const std::string& digits, const Fact& fact, std::string_view unit) {
    if (!fact.low || !fact.high) return with_unit(digits, unit);
    const double low = fact.lowest_in(unit), high = fact.highest_in(unit), half = (high - low) / 2,
                 value = std::abs(fact.in(unit));
    if (half < smallest_share * value && half < 0.1)
        return fmt::format("{} ± {:.2g} ppm", with_unit(digits, unit), 1e6 * half / value);
    const bool is_even = std::abs(high - fact.in(unit)-half) < 1e-6 * half;
    return with_unit(digits + (is_even ? " ± " + half_width_text(half)
                                       : fmt::format(" ({} to {})", number_text(low), number_text(high))),
                     unit);
}

/// Digits as printed where they are a plain number in this unit. Exact rates keep all the digits that people know them
/// by.
std::string digits_in(const Fact& fact, std::string_view unit) {
    const bool is_exact_rate = fact.exact && fact.unit->dimension == quantity::Dimension::Frequency;
    if (fact.unit->name != unit || !is_plain_number(fact.printed))
        return number_text(fact.in(unit), is_exact_rate ? 9 : 6);
    return fact.printed.starts_with('-') ? "−" + fact.printed.substr(1) : fact.printed;
}

/// The size, or a smaller one in which the words fit between the margins.
double fitting_size_mm(std::string_view words, double size_mm, bool bold) {
    const double room = DrawingSheet::width_mm - 2 * DrawingSheet::margin_mm;
    return size_mm * std::min(1.0, room / text_width_mm(words, size_mm, bold));
}

}  // namespace

double preferred_scale(double most) {
    const double decade = std::pow(10, std::floor(std::log10(most)));
    for (const double step : {5.0, 2.0})
        if (step * decade <= most * (1 + 1e-9)) return step * decade;
    return decade;
}

std::string scale_text(double scale) { return scale >= 1 ? number_text(scale) + ":1" : "1:" + number_text(1 / scale); }

void scale_bar(Svg& svg, Point at, double scale) {
    const double length_mm = preferred_scale(longest_bar_mm / scale);
    const double on_paper = length_mm * scale;
    constexpr double thickness = 1;
    svg.rectangle(at, {at.x + on_paper, at.y + thickness},
                  {.fill = ink::white, .stroke = ink::black, .stroke_width_mm = 0.18});
    svg.rectangle(at, {at.x + on_paper / 2, at.y + thickness}, {.fill = ink::black});
    const std::string words = length_mm < 0.999 ? number_text(length_mm * 1e3) + " µm" : number_text(length_mm) + " mm";
    svg.text({at.x + on_paper + 1.2, at.y + 1.4}, words, {.size_mm = words_mm});
}

std::string number_text(double value, int digits) {
    const std::string text = fmt::format("{:.{}g}", value, digits);
    return text.starts_with('-') ? "−" + text.substr(1) : text;
}

std::string value_text_in(const Fact& fact, std::string_view unit) { return with_unit(digits_in(fact, unit), unit); }

std::string joined(const std::vector<std::string>& parts) { return fmt::format("{}", fmt::join(parts, "; ")); }

std::vector<std::string> lines_of(std::string_view words, double width_mm, double size_mm) {
    std::vector<std::string> lines;
    while (!words.empty()) {
        const std::string word(next_word(words));
        if (!lines.empty() && text_width_mm(lines.back() + " " + word, size_mm) <= width_mm)
            lines.back() += " " + word;
        else if (!word.empty())
            lines.push_back(word);
    }
    return lines;
}

DrawingSheet::DrawingSheet(const table::Table& table, std::string_view title, std::string_view subtitle)
    : table_(table), svg_(width_mm, height_mm, title, subtitle) {
    svg_.rectangle({margin_mm / 2, margin_mm / 2}, {width_mm - margin_mm / 2, height_mm - margin_mm / 2}, thin);
    svg_.text({margin_mm, margin_mm + 3.5}, title, {.size_mm = fitting_size_mm(title, title_mm, true), .bold = true});
    svg_.text({margin_mm, margin_mm + 9}, subtitle, {.size_mm = fitting_size_mm(subtitle, subtitle_mm, false)});
}

void DrawingSheet::heading(Point at, std::string_view letter, std::string_view what, double scale,
                           std::string_view remark) {
    svg_.text(at, letter, {.size_mm = heading_mm + 1, .bold = true});
    const std::string words = scale > 0 ? fmt::format("{}, scale {}", what, scale_text(scale)) : std::string(what);
    svg_.text({at.x + 5, at.y}, words, {.size_mm = heading_mm, .bold = true});
    svg_.text({at.x + 5, at.y + 3.6}, remark, {.size_mm = note_mm});
}

std::string DrawingSheet::cite(const Fact& fact) {
    if (fact.standing != table::Standing::Standard && fact.standing != table::Standing::Published)
        return std::string(to_string(fact.standing));
    const table::Source* source = table_.find_source(fact.source);
    auto found = std::ranges::find(sources_, source);
    if (found == sources_.end()) found = sources_.insert(sources_.end(), source);
    return fmt::format("[{}]", found - sources_.begin() + 1);
}

void DrawingSheet::add_figure(std::string_view name, const Fact& fact, std::string_view unit) {
    rows_.push_back({std::string(name), with_tolerance(digits_in(fact, unit), fact, unit), cite(fact)});
}

void DrawingSheet::add_computed(std::string_view name, std::string_view value) {
    rows_.push_back({std::string(name), std::string(value), std::string(to_string(table::Standing::Computed))});
}

void DrawingSheet::draw_figures(Point corner, double width, double floor) {
    const double pitch =
        std::min(row_pitch_mm, (floor - corner.y) / std::max<double>(1, static_cast<double>(rows_.size()) - 0.5));
    svg_.open_group("figures");
    double y = corner.y;
    for (const Row& row : rows_) {
        svg_.text({corner.x, y}, row.name, {.size_mm = row_mm});
        svg_.text({corner.x + 0.44 * width, y}, row.value, {.size_mm = row_mm});
        svg_.text({corner.x + width, y}, row.source, {.size_mm = note_mm, .anchor = Anchor::End, .fill = ink::dark});
        svg_.line({corner.x, y + 1.1}, {corner.x + width, y + 1.1}, {.stroke = ink::pale, .stroke_width_mm = 0.15});
        y += pitch;
    }
    svg_.close_group();
}

std::string DrawingSheet::sources_text() const {
    std::vector<std::string> parts;
    for (std::size_t i = 0; i < sources_.size(); ++i)
        parts.push_back(fmt::format("[{}] {}{}{}", i + 1, sources_[i]->title, sources_[i]->year.empty() ? "" : ", ",
                                    sources_[i]->year));
    return joined(parts);
}

double DrawingSheet::draw_notes(const std::vector<std::string>& notes) {
    std::vector<std::string> paragraphs = notes;
    paragraphs.push_back((sources_.empty() ? "" : "Sources: " + sources_text() + ". ") + edition_text(table_.edition) +
                         ".");
    std::vector<std::string> lines;
    for (const std::string& paragraph : paragraphs)
        for (std::string& line : lines_of(paragraph, width_mm - 2 * margin_mm, note_mm))
            lines.push_back(std::move(line));
    const double top = height_mm - margin_mm + 2 - note_pitch_mm * static_cast<double>(lines.size());
    svg_.open_group("notes");
    double y = top;
    for (const std::string& line : lines) svg_.text({margin_mm, y += note_pitch_mm}, line, {.size_mm = note_mm});
    svg_.close_group();
    return top;
}

}  // namespace guardband::report::drawing
