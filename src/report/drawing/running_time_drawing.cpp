#include "report/drawing/running_time_drawing.h"

#include <fmt/format.h>

#include "report/comparison_bars.h"
#include "report/drawing/svg.h"
#include "report/figure_page.h"

namespace guardband::report::drawing {
namespace {

using calc::ComparedFormat;

constexpr double width_mm = 297, margin_mm = 12;
constexpr double names_mm = 92;        // right end of the names, left end of the bars
constexpr double bars_right_mm = 236;  // what is beyond is for the times
constexpr double top_mm = 34, bar_mm = 3.4, row_mm = 5, gap_mm = 3.2, foot_mm = 20;
constexpr std::string_view fast_fill = "#1f4e79", slow_fill = "#a9c4de", grid_stroke = "#cccccc";

double height_mm(const std::vector<ComparedFormat>& formats) {
    double height = top_mm + foot_mm;
    for (const ComparedFormat& format : formats)
        height += gap_mm + row_mm * static_cast<double>(bars_of(format).size());
    return height;
}

class Sheet {
public:
    Sheet(const std::vector<ComparedFormat>& formats, const table::Edition& edition)
        : formats_(formats),
          edition_(edition),
          height_(height_mm(formats)),
          longest_s_(longest_seconds(formats)),
          svg_(width_mm, height_, "Running times of cassettes",
               "Bars of the common and of the longest cassette of each tape format, from the fastest mode to the "
               "slowest") {}

    std::string whole() {
        svg_.text({margin_mm, 14}, "Running times of cassettes", {.size_mm = 6, .bold = true});
        draw_legend();
        draw_grid();
        double y = top_mm;
        for (const ComparedFormat& format : formats_) y = draw_format(format, y + gap_mm);
        svg_.text(
            {margin_mm, height_ - 11},
            "Whole tape, leaders not counted. Where labels count the system's own minutes, cassettes of the other's "
            "are left out.",
            {.size_mm = 2.8});
        svg_.text({margin_mm, height_ - 7}, edition_text(edition_) + ".", {.size_mm = 2.8});
        return svg_.finished();
    }

private:
    double x_of(double seconds) const { return names_mm + (bars_right_mm - names_mm) * seconds / longest_s_; }

    void draw_legend() {
        svg_.rectangle({margin_mm, 19}, {margin_mm + 8, 19 + bar_mm}, {.fill = fast_fill});
        svg_.text({margin_mm + 10, 22}, "in the fastest mode", {.size_mm = 3});
        svg_.rectangle({margin_mm + 46, 19}, {margin_mm + 54, 19 + bar_mm}, {.fill = slow_fill});
        svg_.text({margin_mm + 56, 22}, "on to the end of the slowest", {.size_mm = 3});
        svg_.text({margin_mm + 106, 22}, "* the longest cassette; the other is the common one", {.size_mm = 3});
    }

    void draw_grid() {
        const double step = hours_between_marks(longest_s_ / 3600);
        svg_.open_group("hours", {.stroke = grid_stroke, .stroke_width_mm = 0.2});
        for (int i = 0; i * step * 3600 <= longest_s_; ++i)
            svg_.line({x_of(i * step * 3600), top_mm}, {x_of(i * step * 3600), height_ - foot_mm});
        svg_.close_group();
        for (int i = 0; i * step * 3600 <= longest_s_; ++i)
            svg_.text({x_of(i * step * 3600), top_mm - 2}, fmt::format("{:g} h", i * step),
                      {.size_mm = 3, .anchor = Anchor::Middle});
    }

    /// @returns the lower end of what it drew
    double draw_format(const ComparedFormat& format, double y) {
        svg_.text({margin_mm, y + bar_mm - 0.5}, format.format->name + ", " + format.system->id,
                  {.size_mm = 3, .bold = true});
        for (const ComparisonBar& bar : bars_of(format)) {
            draw_bar(bar, y);
            y += row_mm;
        }
        return y;
    }

    void draw_bar(const ComparisonBar& bar, double y) {
        const double fast = x_of(bar.span->shortest.seconds.value), slow = x_of(bar.span->longest.seconds.value);
        const double baseline = y + bar_mm - 0.5;
        const std::string mark = bar.cassette == "standard" ? "" : " *";
        svg_.text({names_mm - 2, baseline}, bar.span->shortest.grade->id + mark, {.size_mm = 3, .anchor = Anchor::End});
        svg_.rectangle({names_mm, y}, {fast, y + bar_mm}, {.fill = fast_fill});
        if (!bar.span->has_one_speed()) svg_.rectangle({fast, y}, {slow, y + bar_mm}, {.fill = slow_fill});
        svg_.text({slow + 1.5, baseline}, span_text(*bar.span), {.size_mm = 3, .on_white = true});
    }

    const std::vector<ComparedFormat>& formats_;
    const table::Edition& edition_;
    double height_, longest_s_;
    Svg svg_;
};

}  // namespace

std::string running_time_drawing(const std::vector<ComparedFormat>& formats, const table::Edition& edition) {
    return Sheet(formats, edition).whole();
}

}  // namespace guardband::report::drawing
