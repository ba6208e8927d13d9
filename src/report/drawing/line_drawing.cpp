#include "report/drawing/line_drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/drawing/line_views.h"
#include "report/drawing/video_line.h"

namespace guardband::report::drawing {
namespace {

constexpr double left_mm = 44, right_mm = 268;          // of the upper and the lower view
constexpr double line_zero_mm = 65, line_volt_mm = 30;  // height of blanking, and of a volt, in the upper view
constexpr double blanking_right_mm = 176;               // of the middle view
constexpr double blanking_zero_mm = 118, blanking_volt_mm = 36;
constexpr double list_left_mm = 200, list_top_mm = 90, list_width_mm = 85, list_floor_mm = 147;
constexpr double field_volt_mm = 9, field_zeros_mm[] = {166.5, 183.5};
constexpr int lead_half_lines = 4, trail_half_lines = 4;  // of picture before and after field blanking

double rounded_down(double scale) { return std::floor(scale * 10) / 10; }

class Page {
public:
    Page(const table::Table& table, const std::string& system, const std::string& input)
        : line_(video_line_of(table, system, input)), sheet_(table, title(), subtitle()) {}

    Drawing whole() {
        list_figures();
        draw_line();
        draw_blanking();
        sheet_.draw_figures({list_left_mm, list_top_mm}, list_width_mm, list_floor_mm);
        if (line_.field) draw_fields();
        sheet_.draw_notes(notes());
        return {sheet_.finished(), line_.missing};
    }

private:
    const table::Facts& scanning() const { return line_.scanning->facts; }

    std::string name() const { return line_.colour == nullptr ? line_.scanning->name : line_.colour->name; }
    std::string title() const { return name() + ": one line and the field blanking"; }
    std::string subtitle() const {
        const std::string colour = line_.colour == nullptr ? "" : line_.colour->id + " · ";
        return fmt::format("{}{} · composite signal, times between half-height points of edges · to scale", colour,
                           line_.scanning->id);
    }

    std::vector<std::string> notes() const {
        std::vector<std::string> notes;
        if (!line_.missing.empty()) notes.push_back("Left out: " + joined(line_.missing) + ".");
        std::vector<std::string> settled{"grey steps for a picture"};
        if (!line_.levels) settled.emplace_back("sync and picture as three to seven, levels not to scale");
        settled.insert(settled.end(), line_.remarks.begin(), line_.remarks.end());
        notes.push_back("Drawn so: " + joined(settled) + ".");
        return notes;
    }

    void list(const table::Facts& facts, std::string_view name, std::string_view key, std::string_view unit) {
        if (const table::Fact* fact = facts.known(key); fact != nullptr && fact->is_number())
            sheet_.add_figure(name, *fact, unit);
    }

    void list_figures() {
        list(scanning(), "line rate", "line_rate", "Hz");
        list(scanning(), "field rate", "field_rate", "Hz");
        list(scanning(), "line blanking", "line_blanking", "µs");
        list(scanning(), "front porch", "front_porch", "µs");
        list(scanning(), "line sync", "sync_width", "µs");
        list(scanning(), "sync edge to picture", "sync_to_picture", "µs");
        list(scanning(), "blanking edge", "line_blanking_rise", "µs");
        list(scanning(), "sync edge", "sync_rise", "µs");
        if (line_.colour != nullptr) list_colour(line_.colour->facts);
        list(scanning(), "equalising pulse", "equalising_width", "µs");
        list(scanning(), "broad pulse", "broad_width", "µs");
        list(scanning(), "field blanking", "field_blanking", "lines");
    }

    void list_colour(const table::Facts& colour) {
        list(colour, "subcarrier", "subcarrier", "Hz");
        list(colour, "subcarrier, red lines", "subcarrier_red", "Hz");
        list(colour, "subcarrier, blue lines", "subcarrier_blue", "Hz");
        list(colour, "burst after sync edge", "burst_start", "µs");
        list(colour, "burst, cycles", "burst_cycles", "");
        list(colour, line_.burst ? "burst, peak to peak" : "subcarrier, peak to peak", "burst_amplitude", "mV");
        list(colour, "sync tip", "sync_level", "mV");
        list(colour, "set-up", "setup_level", "IRE");
        list(colour, "white", "white_level", "mV");
    }

    static std::string microseconds(double us) { return fmt::format("{:.4g} µs", us); }

    static std::string time_scale(double mm_per_us) { return fmt::format("1 µs = {} mm", number_text(mm_per_us)); }

    /// The upper view: a whole line.
    void draw_line() {
        const double before = line_.porch_us + 0.05 * line_.period_us,
                     after = line_.picture_us + 0.03 * line_.period_us;
        const double scale = rounded_down((right_mm - left_mm) / (before + line_.period_us + after));
        const SignalView view(line_, {left_mm + before * scale, line_zero_mm}, scale, line_volt_mm);
        Svg& svg = sheet_.svg();
        sheet_.heading({DrawingSheet::margin_mm, 29}, "A", "One line", 0,
                       time_scale(scale) + level_scale(line_volt_mm));
        view.draw_levels(svg, left_mm, right_mm);
        view.draw_line(svg, "line", -before, line_.period_us + after);
        svg.open_group("line-dimensions");
        const double floor = view.y(view.levels().sync_mv), roof = view.y(view.levels().white_mv);
        horizontal_dimension(svg, view.x(0), view.x(line_.period_us), floor + 7, floor,
                             "line " + fmt::format("{:.6g} µs", line_.period_us));
        horizontal_dimension(svg, view.x(line_.picture_us), view.x(line_.end_us()), roof - 4, roof,
                             "picture " + microseconds(line_.end_us() - line_.picture_us));
        horizontal_dimension(svg, view.x(line_.end_us()), view.x(line_.period_us + line_.picture_us), roof - 4,
                             view.y(0), "line blanking", Beside::Before);
        svg.close_group();
    }

    std::string level_scale(double mm_per_volt) const {
        return line_.levels ? fmt::format(", 100 mV = {} mm", number_text(mm_per_volt / 10)) : "";
    }

    /// The middle view: line blanking.
    void draw_blanking() {
        const double before = line_.porch_us + 0.12 * line_.blanking_us(),
                     after = line_.picture_us + 0.12 * line_.blanking_us();
        const double scale = rounded_down((blanking_right_mm - left_mm) / (before + after));
        const SignalView view(line_, {left_mm + before * scale, blanking_zero_mm}, scale, blanking_volt_mm);
        sheet_.heading({DrawingSheet::margin_mm, 86}, "B", "Line blanking", 0,
                       time_scale(scale) + level_scale(blanking_volt_mm));
        view.draw_levels(sheet_.svg(), left_mm, view.x(after));
        view.draw_line(sheet_.svg(), "blanking", -before, after);
        dimension_blanking(view);
    }

    void dimension_blanking(const SignalView& view) {
        Svg& svg = sheet_.svg();
        svg.open_group("blanking-dimensions");
        const double floor = view.y(view.levels().sync_mv), zero = view.y(0);
        horizontal_dimension(svg, view.x(0), view.x(line_.sync_us), floor + 5, floor,
                             "sync " + microseconds(line_.sync_us));
        horizontal_dimension(svg, view.x(-line_.porch_us), view.x(0), floor + 5, zero,
                             "front porch " + microseconds(line_.porch_us), Beside::Before);
        horizontal_dimension(svg, view.x(0), view.x(line_.picture_us), floor + 10.5, floor,
                             "sync edge to picture " + microseconds(line_.picture_us));
        horizontal_dimension(svg, view.x(-line_.porch_us), view.x(line_.picture_us), floor + 16, zero,
                             "line blanking " + microseconds(line_.blanking_us()));
        if (line_.burst) dimension_burst(view);
        svg.close_group();
    }

    void dimension_burst(const SignalView& view) {
        Svg& svg = sheet_.svg();
        const Burst& burst = *line_.burst;
        const double top = view.y(burst.amplitude_mv / 2), end = burst.start_us + burst.length_us();
        horizontal_dimension(svg, view.x(0), view.x(burst.start_us), top - 9, top, microseconds(burst.start_us));
        horizontal_dimension(svg, view.x(burst.start_us), view.x(end), top - 4, top,
                             fmt::format("burst {:.3g} cycles, {}", burst.cycles, microseconds(burst.length_us())));
        const double bottom = view.y(-burst.amplitude_mv / 2);
        vertical_dimension(svg, top, bottom, view.x(end) + 6, view.x(end),
                           fmt::format("{:.4g} mV", burst.amplitude_mv));
    }

    /// The lower view: field blanking of both fields, one above the other.
    void draw_fields() {
        const int count =
            lead_half_lines + static_cast<int>(std::lround(2 * line_.field->blanking_lines)) + trail_half_lines;
        const double scale = (right_mm + 12 - DrawingSheet::margin_mm - 14) / (count * line_.period_us / 2);
        sheet_.heading({DrawingSheet::margin_mm, 152}, "C", "Field blanking", 0,
                       fmt::format("one line = {:.3g} mm", scale * line_.period_us));
        for (int field = 0; field < 2; ++field) draw_field(field, count, scale);
    }

    void draw_field(int field, int count, double scale) {
        const int from = line_.first_pulse(field) - lead_half_lines;
        const SignalView view(line_, {DrawingSheet::margin_mm + 14, field_zeros_mm[field]}, scale, field_volt_mm);
        Svg& svg = sheet_.svg();
        svg.text({DrawingSheet::margin_mm, field_zeros_mm[field] - 1}, fmt::format("field {}", field + 1),
                 {.size_mm = words_mm});
        view.draw_field(svg, field == 0 ? "field-1" : "field-2", field, from, from + count);
        if (line_.field->numbered) number_lines(view, from, count);
        if (field == 0) dimension_field(view);
    }

    void number_lines(const SignalView& view, int from, int count) {
        constexpr double size = 2.2;
        const double width = line_.period_us * view.mm_per_us();
        const int step = width > text_width_mm("0000", size) ? 1 : 5;
        const double y = view.y(view.levels().sync_mv) + 3.2;
        for (int half_line = from + (from % 2 != 0 ? 1 : 0); half_line + 1 < from + count; half_line += 2) {
            const int number = line_.line_number(half_line);
            if (number % step != 0 && number != 1) continue;
            const double start_us = (half_line - from) * line_.period_us / 2;
            sheet_.svg().line({view.x(start_us), y - 2.6}, {view.x(start_us), y - 1.4}, thin);
            sheet_.svg().text({view.x(start_us) + width / 2, y}, fmt::format("{}", number),
                              {.size_mm = size, .anchor = Anchor::Middle});
        }
    }

    void dimension_field(const SignalView& view) {
        Svg& svg = sheet_.svg();
        const FieldInterval& field = *line_.field;
        const double half_us = line_.period_us / 2, begin = lead_half_lines * half_us, top = view.y(0) - 2.5,
                     zero = view.y(0);
        const double broad = begin + field.equalising * half_us, after = broad + field.broad * half_us,
                     end = after + field.equalising * half_us;
        svg.open_group("field-dimensions");
        if (field.equalising > 0) {
            horizontal_dimension(svg, view.x(begin), view.x(broad), top, zero,
                                 fmt::format("{} × {}", field.equalising, microseconds(field.equalising_us)));
            horizontal_dimension(svg, view.x(after), view.x(end), top, zero,
                                 fmt::format("{} × {}", field.equalising, microseconds(field.equalising_us)));
        }
        horizontal_dimension(svg, view.x(broad), view.x(after), top, zero,
                             fmt::format("{} × {}", field.broad, microseconds(field.broad_us)), Beside::After);
        horizontal_dimension(
            svg, view.x(begin - line_.porch_us), view.x(begin + 2 * half_us * field.blanking_lines + line_.picture_us),
            view.y(view.levels().white_mv) - 2.5, zero,
            fmt::format("field blanking {} lines and line blanking", number_text(field.blanking_lines)));
        svg.close_group();
    }

    VideoLine line_;
    DrawingSheet sheet_;
};

}  // namespace

Drawing line_drawing(const table::Table& table, const std::string& system, const std::string& input) {
    return Page(table, system, input).whole();
}

}  // namespace guardband::report::drawing
