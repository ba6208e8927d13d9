#include "report/comparison_bars.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace guardband::report {
namespace {

std::string hours_minutes(double seconds) {
    const auto minutes = std::llround(seconds / 60);
    return fmt::format("{}:{:02}", minutes / 60, minutes % 60);
}

}  // namespace

std::vector<ComparisonBar> bars_of(const calc::ComparedFormat& format) {
    if (format.standard_is_longest()) return {{"standard and longest", &format.longest}};
    if (!format.standard) return {{"longest", &format.longest}};
    return {{"standard", &*format.standard}, {"longest", &format.longest}};
}

double longest_seconds(const std::vector<calc::ComparedFormat>& formats) {
    double longest = 0;
    for (const calc::ComparedFormat& format : formats)
        for (const ComparisonBar& bar : bars_of(format)) longest = std::max(longest, bar.span->longest.seconds.value);
    return longest;
}

double hours_between_marks(double hours) {
    constexpr double most_marks = 6;
    for (double decade = 0.1;; decade *= 10)
        for (const double step : {1.0, 2.0, 5.0})
            if (hours <= most_marks * step * decade) return step * decade;
}

std::string span_text(const calc::CassetteSpan& span) {
    std::string fastest = hours_minutes(span.shortest.seconds.value) + " " + span.shortest.mode->id;
    if (span.has_one_speed()) return fastest;
    return fastest + " to " + hours_minutes(span.longest.seconds.value) + " " + span.longest.mode->id;
}

}  // namespace guardband::report
