#include "report/running_time_comparison.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/comparison_bars.h"
#include "report/figure_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using calc::CassetteSpan;
using calc::ComparedFormat;
using calc::RunningTime;

constexpr std::size_t bar_width = 34, grade_width = 14;

/// A bar: `#` as long as the fastest mode runs, `=` on to the end of the slowest.
std::string bar_text(const CassetteSpan& span, double seconds_per_column) {
    const auto columns = [&](double seconds) {
        return static_cast<std::size_t>(std::max(1.0, std::round(seconds / seconds_per_column)));
    };
    const std::size_t fast = columns(span.shortest.seconds.value), slow = columns(span.longest.seconds.value);
    return std::string(fast, '#') + std::string(slow - fast, '=');
}

/// Hours above the bars: a mark begins where its hour stands.
std::string axis_text(double longest_s, double seconds_per_column) {
    const double step = hours_between_marks(longest_s / 3600);
    std::string line;
    for (int i = 0; i * step * 3600 <= longest_s; ++i) {
        const std::string mark = fmt::format("|{:g} h", i * step);
        const auto at = static_cast<std::size_t>(std::round(i * step * 3600 / seconds_per_column));
        if (at + mark.size() > bar_width + 4) break;
        line += std::string(at - line.size(), ' ') + mark;
    }
    return std::string(grade_width + 2, ' ') + line + "\n";
}

std::string line_of(const ComparisonBar& bar, double seconds_per_column) {
    const std::string mark = bar.cassette == "standard" ? "" : "*";
    return " " + padded(bar.span->shortest.grade->id + mark, grade_width) + " " +
           padded(bar_text(*bar.span, seconds_per_column), bar_width) + " " + span_text(*bar.span);
}

std::string format_text(const ComparedFormat& format, double seconds_per_column) {
    std::string text = format.format->name + ", " + format.system->id + "\n";
    for (const ComparisonBar& bar : bars_of(format)) text += line_of(bar, seconds_per_column) + "\n";
    return text;
}

Json end_json(const RunningTime& row) {
    return {{"address", address_of(*row.format, *row.mode)},
            {"tape_speed_mm_s", row.speed_mm_s.value},
            {"seconds", row.seconds.value},
            {"seconds_low", row.seconds.low},
            {"seconds_high", row.seconds.high}};
}

}  // namespace

std::string running_time_comparison_text(const std::vector<ComparedFormat>& formats, const table::Edition& edition) {
    if (formats.empty()) return "Nothing in the table fits all of these.\n";
    const double longest = longest_seconds(formats), per_column = longest / bar_width;
    std::string text = "Running times side by side, of the common cassette and of the longest (*)\n\n" +
                       axis_text(longest, per_column);
    for (const ComparedFormat& format : formats) text += format_text(format, per_column);
    const std::string notes =
        "#### in the fastest mode, on to ==== in the slowest; hours and minutes of the whole tape, leaders not "
        "counted. "
        "Where labels count the system's own minutes, cassettes of the other's are left out.";
    return text + "\n" + wrapped(notes, page_width) + "\n\n" + wrapped(edition_text(edition) + ".", page_width) + "\n";
}

std::string running_time_comparison_json(const std::vector<ComparedFormat>& formats, const table::Edition& edition) {
    Json rows = Json::array();
    for (const ComparedFormat& format : formats)
        for (const ComparisonBar& bar : bars_of(format)) {
            const RunningTime& row = bar.span->shortest;
            rows.push_back({{"format", format.format->id},
                            {"system", format.system->id},
                            {"cassette", bar.cassette},
                            {"grade", row.grade->id},
                            {"length_m", row.length_m.value},
                            {"fastest", end_json(row)},
                            {"slowest", end_json(bar.span->longest)}});
        }
    return to_text(Json{{"rows", std::move(rows)}, {"table_version", edition.version}});
}

}  // namespace guardband::report
