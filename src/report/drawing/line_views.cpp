#include "report/drawing/line_views.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"

namespace guardband::report::drawing {
namespace {

constexpr int grey_steps = 6;
constexpr int points_per_cycle = 16;
constexpr Levels plain_levels{-300, 0, 700};  // sync to picture as three to seven, in no particular unit

constexpr Style trace{.fill = "none", .stroke = ink::black, .stroke_width_mm = 0.3};

}  // namespace

Levels SignalView::levels() const { return line_.levels.value_or(plain_levels); }

/// A pulse whose edges pass half their height at its beginning and end.
void SignalView::add_pulse(std::vector<Point>& points, const Pulse& pulse) const {
    const double half_edge = line_.sync_edge_us / 2, end_us = pulse.start_us + pulse.width_us;
    points.push_back({x(pulse.start_us - half_edge), y(0)});
    points.push_back({x(pulse.start_us + half_edge), y(levels().sync_mv)});
    points.push_back({x(end_us - half_edge), y(levels().sync_mv)});
    points.push_back({x(end_us + half_edge), y(0)});
}

/// Steps of grey from black to white; blanking's edges pass half their height at its beginning and end.
void SignalView::add_picture(std::vector<Point>& points, double origin_us) const {
    const double half_edge = line_.blanking_edge_us / 2;
    const double begin = origin_us + line_.picture_us, end = origin_us + line_.end_us();
    points.push_back({x(begin - half_edge), y(0)});
    for (int i = 0; i < grey_steps; ++i) {
        const double mv = levels().black_mv + (levels().white_mv - levels().black_mv) * i / (grey_steps - 1);
        points.push_back({x(i == 0 ? begin + half_edge : begin + (end - begin) * i / grey_steps), y(mv)});
        points.push_back(
            {x(i + 1 == grey_steps ? end - half_edge : begin + (end - begin) * (i + 1) / grey_steps), y(mv)});
    }
    points.push_back({x(end + half_edge), y(0)});
}

void SignalView::draw_line(Svg& svg, const std::string& id, double from_us, double to_us) const {
    svg.open_clipped_group(id, {x(from_us), y(1.3 * levels().white_mv)}, {x(to_us), y(1.2 * levels().sync_mv)}, trace);
    std::vector<Point> points;
    for (const double origin_us : {-line_.period_us, 0.0, line_.period_us}) {
        add_pulse(points, {origin_us, line_.sync_us});
        add_picture(points, origin_us);
    }
    svg.polyline(points);
    for (const double origin_us : {0.0, line_.period_us}) draw_burst(svg, origin_us);
    svg.close_group();
}

void SignalView::draw_burst(Svg& svg, double origin_us) const {
    if (!line_.burst) return;
    std::vector<Point> points;
    const int count = static_cast<int>(std::ceil(line_.burst->cycles * points_per_cycle));
    for (int i = 0; i <= count; ++i) {
        const double cycle = line_.burst->cycles * i / count;
        points.push_back({x(origin_us + line_.burst->start_us + line_.burst->length_us() * i / count),
                          y(line_.burst->amplitude_mv / 2 * std::sin(2 * std::numbers::pi * cycle))});
    }
    svg.polyline(points, {.fill = "none", .stroke = ink::blue, .stroke_width_mm = 0.2});
}

/// Stretches of picture among the half lines [from, to), their times from the beginning of `from`.
std::vector<Pulse> SignalView::picture_stretches(int field_number, int from, int to) const {
    std::vector<Pulse> stretches;
    const double half_us = line_.period_us / 2;
    const int first_pulse = line_.first_pulse(field_number), first_picture = line_.first_picture(field_number);
    for (int half_line = from; half_line < to; ++half_line) {
        if (half_line >= first_pulse && half_line < first_picture) continue;
        const bool begins =
            half_line % 2 == 0 || half_line == first_picture;  // after line blanking, or with the field's picture
        const bool ends = half_line % 2 != 0 || half_line + 1 == first_pulse;
        const double start_us = (half_line - from) * half_us + (begins ? line_.picture_us : 0);
        const double end_us = (half_line - from + 1) * half_us - (ends ? line_.porch_us : 0);
        if (!begins && !stretches.empty())
            stretches.back().width_us = end_us - stretches.back().start_us;
        else
            stretches.push_back({start_us, end_us - start_us});
    }
    return stretches;
}

void SignalView::draw_field(Svg& svg, const std::string& id, int field_number, int from, int to) const {
    const double half_us = line_.period_us / 2, end_us = (to - from) * half_us;
    svg.open_clipped_group(id, {x(0), y(1.1 * levels().white_mv)}, {x(end_us), y(1.2 * levels().sync_mv)}, trace);
    for (const Pulse& picture : picture_stretches(field_number, from, to))
        svg.rectangle({x(picture.start_us), y(levels().white_mv)},
                      {x(picture.start_us + picture.width_us), y(levels().black_mv)},
                      {.fill = ink::pale, .stroke = ink::grey, .stroke_width_mm = 0.12});
    std::vector<Point> points{{x(0), y(0)}};
    for (const Pulse& pulse : line_.pulses(field_number, from, to)) add_pulse(points, pulse);
    points.push_back({x(end_us), y(0)});
    svg.polyline(points);
    svg.close_group();
}

void SignalView::draw_levels(Svg& svg, double left, double right) const {
    std::vector<std::pair<double, std::string>> rows{
        {levels().sync_mv, "sync tip"}, {0, "blanking"}, {levels().white_mv, "white"}};
    if (levels().black_mv != 0) rows.emplace_back(levels().black_mv, "black");
    std::vector<double> heights;
    for (const auto& [mv, name] : rows) heights.push_back(y(mv) + 0.9);
    heights = spread(std::move(heights), words_mm * 1.1, y(1.2 * levels().white_mv), y(1.3 * levels().sync_mv));
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto& [mv, name] = rows[i];
        svg.line({left, y(mv)}, {right, y(mv)}, {.stroke = ink::grey, .stroke_width_mm = 0.12, .dashes = "1.5 1"});
        const std::string value = line_.levels ? name + " " + number_text(mv, 4) + " mV" : name;
        svg.text({left - 1, heights[i]}, value, {.size_mm = words_mm, .anchor = Anchor::End});
        if (line_.levels)
            svg.text({right + 1, heights[i]}, number_text(line_.levels->ire(mv), 3) + " IRE", {.size_mm = words_mm});
    }
}

}  // namespace guardband::report::drawing
