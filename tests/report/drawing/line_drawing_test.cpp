// Drawings of a line, read back out of the SVG and measured by the scales that they state.
#include "report/drawing/line_drawing.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"
#include "report/drawing/video_line.h"
#include "support/built_in_table.h"
#include "support/drawing_check.h"
#include "support/svg_reader.h"

namespace guardband::report::drawing {
namespace {

using quantity::InputError;
using support::SvgElement;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::ThrowsMessage;

using support::built_in;

SvgElement drawn(const std::string& system) { return support::read_svg(line_drawing(built_in(), system, "test").svg); }

/// The n of `1 µs = n mm` in the remark below a view's heading.
double mm_per_us(const SvgElement& svg, const std::string& heading) {
    const auto texts = support::texts_of(svg);
    const auto found = std::ranges::find(texts, heading);
    return std::stod((found + 1)->substr(std::string("1 µs = ").size()));
}

using Points = std::vector<std::pair<double, double>>;

Points trace_of(const SvgElement& svg, const std::string& group) {
    return svg.group(group).all("polyline").front()->points();
}

/// Where a trace passes a height, x in its order. @param falling  downwards on paper, that is to a lower level
std::vector<double> crossings(const Points& trace, double height, bool falling) {
    std::vector<double> found;
    for (std::size_t i = 1; i < trace.size(); ++i) {
        const auto [x1, y1] = trace[i - 1];
        const auto [x2, y2] = trace[i];
        const bool passes = falling ? y1 < height && y2 >= height : y1 > height && y2 <= height;
        if (passes) found.push_back(x1 + (x2 - x1) * (height - y1) / (y2 - y1));
    }
    return found;
}

double lowest(const Points& trace) { return std::ranges::max(trace, {}, &std::pair<double, double>::second).second; }
double highest(const Points& trace) { return std::ranges::min(trace, {}, &std::pair<double, double>::second).second; }

struct Expected {
    const char* system;
    double period_us, sync_us, porch_us, picture_us, sync_mv, white_mv;
};

// Source: `composite-parameters` and `national-signals-table` print front porch 1.5, sync 4.7 and sync to picture 9.4
// (525) and 10.5 µs (625); levels 286 and 300 mV of a volt. Line periods: 1/15 734.265 734 Hz (BT.470, 4.5 MHz / 286)
// and 64 µs.
constexpr Expected published[] = {{"NTSC", 63.5556, 4.7, 1.5, 9.4, -285.7, 714.3},
                                  {"PAL", 64, 4.7, 1.5, 10.5, -300, 700},
                                  {"SECAM", 64, 4.7, 1.5, 10.5, -300, 700}};

TEST(LineDrawing, KeepsTimesToScale) {
    for (const Expected& e : published) {
        const SvgElement svg = drawn(e.system);
        for (const auto& [heading, group] : {std::pair{"One line", "line"}, {"Line blanking", "blanking"}}) {
            const double scale = mm_per_us(svg, heading), allowed = 0.002 / scale;  // ends are written to 0.001 mm
            const Points trace = trace_of(svg, group);
            const double floor = lowest(trace), roof = highest(trace);
            const double zero = floor - (floor - roof) * -e.sync_mv / (e.white_mv - e.sync_mv);
            const auto sync_falls = crossings(trace, (zero + floor) / 2, true),
                       sync_rises = crossings(trace, (zero + floor) / 2, false);
            ASSERT_GE(sync_falls.size(), 2U);
            EXPECT_NEAR((sync_rises[1] - sync_falls[1]) / scale, e.sync_us, allowed) << e.system;
            EXPECT_NEAR((sync_falls[1] - sync_falls[0]) / scale, e.period_us, allowed + 5e-5) << e.system;
            const auto picture_falls = crossings(trace, (zero + roof) / 2, true);  // white to blanking, at half height
            EXPECT_NEAR((sync_falls[1] - picture_falls[0]) / scale, e.porch_us, allowed) << e.system;
        }
    }
}

TEST(LineDrawing, KeepsLevelsToScale) {
    for (const Expected& e : published) {
        const SvgElement svg = drawn(e.system);
        const Points trace = trace_of(svg, "line");
        constexpr double mm_per_mv = 3.0 / 100;
        EXPECT_THAT(support::texts_of(svg), Contains(HasSubstr("100 mV = 3 mm")));
        EXPECT_NEAR(lowest(trace) - highest(trace), (e.white_mv - e.sync_mv) * mm_per_mv, 0.004)
            << e.system;  // levels above to 0.05 mV
    }
    EXPECT_THAT(support::texts_of(drawn("NTSC")),
                AllOf(Contains("black 53.57 mV"), Contains("7.5 IRE"), Contains("−40 IRE"), Contains("100 IRE"),
                      Contains("sync tip −285.7 mV")));
    EXPECT_THAT(support::texts_of(drawn("PAL")),
                AllOf(Contains("white 700 mV"), Contains("−42.9 IRE"), Not(Contains(HasSubstr("black")))));
}

// Source: `composite-parameters`: burst 5.3 µs and 9 cycles (NTSC), 5.6 µs and 10 cycles (PAL) after the sync edge, 286
// and 300 mV.
TEST(LineDrawing, DrawsTheBurstCycleByCycle) {
    for (const auto& [system, cycles, amplitude_mv, start_us, length_us] :
         {std::tuple{"NTSC", 9, 286.0, 5.3, 9 / 3.579545}, {"PAL", 10, 300.0, 5.6, 10 / 4.43361875}}) {
        const SvgElement svg = drawn(system);
        const auto traces = svg.group("blanking").all("polyline");
        ASSERT_GE(traces.size(), 2U);
        const Points burst = traces[1]->points();
        const double scale = mm_per_us(svg, "Line blanking"), middle = (lowest(burst) + highest(burst)) / 2;
        EXPECT_NEAR(static_cast<double>(crossings(burst, middle - 0.01, true).size()), cycles, 0.1) << system;
        EXPECT_NEAR(lowest(burst) - highest(burst), amplitude_mv / 1e3 * 36, 0.003)
            << system;  // 100 mV = 3.6 mm in this view
        EXPECT_NEAR((burst.back().first - burst.front().first) / scale, length_us, 0.001) << system;
        const Points trace = trace_of(svg, "blanking");
        const double sync_edge = crossings(trace, (middle + lowest(trace)) / 2, true).at(1);
        EXPECT_NEAR((burst.front().first - sync_edge) / scale, start_us, 0.001) << system;
    }
    EXPECT_EQ(drawn("SECAM").group("blanking").all("polyline").size(), 1U) << "no burst";
}

/// Widths of the pulses in a field's trace, µs, with the x where each begins.
std::vector<std::pair<double, double>> pulses_in(const SvgElement& svg, const std::string& group, double period_us) {
    const auto texts = support::texts_of(svg);
    const auto found = std::ranges::find(texts, "Field blanking");
    const Points trace = trace_of(svg, group);
    // The view's own scale: three syncs at the end are whole lines apart.
    const double half = (lowest(trace) + highest(trace)) / 2;
    const auto falls = crossings(trace, half, true), rises = crossings(trace, half, false);
    const double scale = (falls.back() - falls[falls.size() - 2]) / period_us;
    EXPECT_NEAR(std::stod((found + 1)->substr(std::string("one line = ").size())), scale * period_us, 0.06)
        << "as the view says";
    std::vector<std::pair<double, double>> pulses;
    for (std::size_t i = 0; i < falls.size() && i < rises.size(); ++i)
        pulses.emplace_back(falls[i], (rises[i] - falls[i]) / scale);
    return pulses;
}

std::vector<std::string> names_of(const std::vector<std::pair<double, double>>& pulses, double broad_us) {
    std::vector<std::string> names;
    for (const auto& [x, width_us] : pulses)
        names.emplace_back(width_us > 0.9 * broad_us ? "broad" : width_us < 3.5 ? "equalising" : "line");
    return names;
}

// Source: `national-signals-table`: 6 equalising, 6 broad, 6 equalising pulses of 2.35 and 27.1 µs (M); 5, 5, 5 of 2.35
// and 27.3 µs (B, D, G, H, I).
TEST(LineDrawing, CountsThePulsesOfBothFields) {
    for (const auto& [system, count, broad_us, period_us] :
         {std::tuple{"NTSC", 6, 27.1, 63.5556}, {"PAL", 5, 27.3, 64.0}}) {
        const SvgElement svg = drawn(system);
        for (const char* group : {"field-1", "field-2"}) {
            const auto pulses = pulses_in(svg, group, period_us);
            const auto names = names_of(pulses, broad_us);
            EXPECT_EQ(std::ranges::count(names, "broad"), count) << system << " " << group;
            EXPECT_EQ(std::ranges::count(names, "equalising"), 2 * count) << system << " " << group;
            const auto first_broad = std::ranges::find(names, "broad");
            EXPECT_EQ(std::ranges::count(names.begin(), first_broad, "equalising"), count) << system << " " << group;
            for (std::size_t i = 0; i < pulses.size(); ++i) {
                if (names[i] == "broad") {
                    EXPECT_NEAR(pulses[i].second, broad_us, 0.002 / 0.13)
                        << system;  // ends to 0.001 mm at 0.13 mm and more to 1 µs
                }
            }
        }
    }
}

// Source: `pal-vertical-interval`: the first picture line is the second half of line 23, the last the first half of
// line 623. From memory, check at ITU-R BT.470-6: line 1 begins with the first broad pulse; field 2 begins its pulses
// half a line later, its picture with line 336.
TEST(VideoLine, NumbersLinesAsPalDoes) {
    const VideoLine line = video_line_of(built_in(), "PAL", "test");
    EXPECT_EQ(line.first_pulse(0) + line.field->equalising, 0) << "line 1 begins with the first broad pulse";
    EXPECT_EQ(line.line_number(line.first_picture(0)), 23);
    EXPECT_EQ(line.first_picture(0) % 2, 1) << "the second half of it";
    EXPECT_EQ(line.line_number(line.first_pulse(0) - 1), 623);
    EXPECT_EQ(line.line_number(line.first_picture(1)), 336);
    EXPECT_EQ(line.first_picture(1) % 2, 0);
    EXPECT_EQ(line.line_number(line.first_pulse(1) - 1), 310);
}

// From memory, check at SMPTE 170M: equalising in lines 1 to 3, broad pulses in 4 to 6, equalising in 7 to 9; in field
// 2 the broad pulses begin half-way through line 266.
TEST(VideoLine, NumbersLinesAsNtscDoes) {
    const VideoLine line = video_line_of(built_in(), "NTSC", "test");
    EXPECT_EQ(line.line_number(line.first_pulse(0)), 1);
    EXPECT_EQ(line.line_number(line.first_pulse(0) + 6), 4);
    EXPECT_EQ(line.line_number(line.first_pulse(0) + 17), 9);
    EXPECT_EQ(line.line_number(line.first_pulse(1) + 6), 266);
    EXPECT_EQ((line.first_pulse(1) + 6) % 2, 1);
}

// Interlace, exactly: a frame's pulses are those of its lines and what field blanking adds; fields lie a whole number
// of half lines apart that is odd.
TEST(VideoLine, KeepsOneSyncALineAndInterlaces) {
    for (const char* system : {"525/60", "625/50", "405/50", "819/50"}) {
        const VideoLine line = video_line_of(built_in(), system, "test");
        const int halves = line.lines(), in_blanking = 2 * line.field->equalising + line.field->broad;
        EXPECT_EQ(halves % 2, 1) << system;
        for (const int field : {0, 1}) {
            const int first = line.first_pulse(field);
            const auto pulses = line.pulses(field, first, first + halves);
            const int whole_lines = (halves - in_blanking + ((first + in_blanking) % 2 == 0 ? 1 : 0)) / 2;
            EXPECT_EQ(pulses.size(), static_cast<std::size_t>(in_blanking + whole_lines))
                << system << " field " << field + 1;
        }
    }
}

TEST(LineDrawing, LeavesOutWhatTheTableLacks) {
    const Drawing a405 = line_drawing(built_in(), "405/50", "test");
    EXPECT_THAT(a405.missing,
                AllOf(Contains(HasSubstr("numbers of the lines")), Contains(HasSubstr("levels and burst"))));
    EXPECT_THAT(a405.svg, Not(HasSubstr(" IRE")));
    EXPECT_THAT(a405.svg, HasSubstr("levels not to scale"));
    EXPECT_THAT(line_drawing(built_in(), "SECAM", "test").missing, Contains(HasSubstr("no burst")));
}

TEST(LineDrawing, SaysWhereThePrintedTimesDoNotAddUp) {
    EXPECT_THAT(support::texts_of(drawn("PAL")),
                Contains(HasSubstr("make 12 µs where line blanking is given as 12.05 µs")));
    EXPECT_THAT(support::texts_of(drawn("NTSC")), Not(Contains(HasSubstr("where line blanking is given"))));
}

TEST(LineDrawing, RefusesWhatItCannotDraw) {
    EXPECT_THAT([] { line_drawing(built_in(), "1125/60", "draw line 1125/60"); },
                ThrowsMessage<InputError>(HasSubstr("draw line 1125/60: the table gives no line blanking")));
    EXPECT_THAT([] { line_drawing(built_in(), "SECM", "x"); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"SECAM\"?")));
    EXPECT_THAT([] { line_drawing(built_in(), "G", "x"); },
                ThrowsMessage<InputError>(HasSubstr("way of transmission")));
}

TEST(LineDrawing, CanBeReadForEverySystem) {
    int count = 0;
    std::vector<std::string> systems;
    for (const table::Colour& colour : built_in().colours) systems.push_back(colour.id);
    for (const table::Scanning& scanning : built_in().scannings) systems.push_back(scanning.id);
    for (const std::string& system : systems) try {
            EXPECT_THAT(support::faults_of_words(drawn(system)), IsEmpty()) << system;
            ++count;
        } catch (const InputError& e) {
            EXPECT_THAT(e.what(), HasSubstr("the table gives no"));
        }
    EXPECT_GE(count, 11);
}

}  // namespace
}  // namespace guardband::report::drawing
