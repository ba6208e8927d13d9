#include "report/running_time_comparison.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <sstream>

#include "report/comparison_bars.h"
#include "report/drawing/running_time_drawing.h"
#include "report/json.h"
#include "report/text_table.h"
#include "support/built_in_table.h"
#include "support/drawing_check.h"
#include "support/svg_reader.h"

namespace guardband::report {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

using support::built_in;

std::vector<calc::ComparedFormat> compared(const char* format = nullptr) {
    calc::RunningTimeQuery query;
    if (format != nullptr) query.format = &built_in().format(format, "test");
    return calc::compared_running_times(built_in(), calc::running_times(built_in(), query));
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream stream(text);
    for (std::string line; std::getline(stream, line);) lines.push_back(line);
    return lines;
}

TEST(RunningTimeComparisonText, FitsATerminal) {
    for (const std::string& line : lines_of(running_time_comparison_text(compared(), built_in().edition))) {
        EXPECT_LE(display_width(line), 80U) << line;
        EXPECT_FALSE(line.ends_with(" ")) << line;
    }
}

TEST(RunningTimeComparisonText, DrawsBarsAsLongAsTheyRun) {
    const auto formats = compared("vhs");
    const auto lines = lines_of(running_time_comparison_text(formats, built_in().edition));
    // 34 columns are 15:19 of an E-300; an E-180 runs 3:04 and 9:11, 6.8 and 20.4 columns.
    const auto line = std::ranges::find_if(lines, [](const std::string& l) { return l.starts_with(" E-180"); });
    ASSERT_NE(line, lines.end());
    EXPECT_EQ(std::ranges::count(*line, '#'), 7);
    EXPECT_EQ(std::ranges::count(*line, '='), 13);
    EXPECT_THAT(*line, HasSubstr("3:04 SP to 9:11 EP"));
    const auto most = std::ranges::find_if(lines, [](const std::string& l) { return l.starts_with(" E-300*"); });
    ASSERT_NE(most, lines.end());
    EXPECT_EQ(std::ranges::count(*most, '#') + std::ranges::count(*most, '='), 34);
}

TEST(RunningTimeComparisonJson, HasARowForEachBar) {
    const auto formats = compared("vhs");
    const Json json = Json::parse(running_time_comparison_json(formats, built_in().edition));
    ASSERT_EQ(json["rows"].size(), 4U);
    EXPECT_EQ(json["rows"][0]["cassette"], "standard");
    EXPECT_EQ(json["rows"][1]["cassette"], "longest");
    EXPECT_EQ(json["rows"][3]["slowest"]["address"], "vhs:625/50:EP");
    EXPECT_EQ(json["table_version"], built_in().edition.version);
}

TEST(RunningTimeDrawing, DrawsBarsToItsScaleOfHours) {
    const auto formats = compared("vhs");
    const auto svg = support::read_svg(drawing::running_time_drawing(formats, built_in().edition));
    const auto hours = svg.group("hours").all("line");
    ASSERT_EQ(hours.size(), 4U) << "0, 5, 10 and 15 h";
    const double zero = hours[0]->number("x1"), hour_mm = (hours[1]->number("x1") - zero) / 5;
    std::vector<double> ends;
    for (const support::SvgElement* bar : svg.all("rect"))
        if (bar->number("x") >= zero - 0.001) ends.push_back(bar->number("x") + bar->number("width"));
    std::vector<double> times;
    for (const calc::ComparedFormat& format : formats)
        for (const ComparisonBar& bar : bars_of(format)) {
            times.push_back(bar.span->shortest.seconds.value / 3600);
            times.push_back(bar.span->longest.seconds.value / 3600);
        }
    for (const double time : times)
        EXPECT_TRUE(std::ranges::any_of(ends, [&](double end) { return std::abs(zero + time * hour_mm - end) < 0.01; }))
            << time << " h";
}

TEST(RunningTimeDrawing, KeepsItsWordsApartAndOnTheSheet) {
    for (const char* format : {"vhs", "quadruplex", "beta", "d-7", "eiaj-1"})
        EXPECT_THAT(support::faults_of_words(
                        support::read_svg(drawing::running_time_drawing(compared(format), built_in().edition))),
                    IsEmpty())
            << format;
    EXPECT_THAT(
        support::faults_of_words(support::read_svg(drawing::running_time_drawing(compared(), built_in().edition))),
        IsEmpty());
}

TEST(HoursBetweenMarks, LeavesSixAtMost) {
    EXPECT_EQ(hours_between_marks(15.3), 5);
    EXPECT_EQ(hours_between_marks(12), 2);
    EXPECT_EQ(hours_between_marks(1.5), 0.5);
    EXPECT_EQ(hours_between_marks(0), 0.1);
}

}  // namespace
}  // namespace guardband::report
