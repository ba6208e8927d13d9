#include "report/measurement_report.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <sstream>

namespace guardband::report {
namespace {

using quantity::Event;
using quantity::Figure;
using testing::HasSubstr;

Measurement example() {
    Measurement measurement;
    measurement.headline = "fog-horn.mkv";
    measurement.input = {{"path", std::string("fog-horn.mkv")}, {"frames", std::int64_t{250}}};
    measurement.figures.add("frame_rate", Figure::measured(25.0000004, 3.2e-6, "Hz"));
    measurement.figures.add("repeated_fields", Figure::counted(2));
    measurement.figures.add("field_order", Figure::unknown("the picture stands still"));
    measurement.figures.add("screen_rate", Figure::measured(60, 0.001, "Hz").with_alternatives({85}));
    quantity::Limit limit;
    limit.high = 0;
    limit.source = "practice";
    measurement.figures.find("repeated_fields")->judge(limit, quantity::Verdict::Outside);
    measurement.edition = {"1.2.3", "2026-11-25", {}};
    measurement.events.push_back(
        {"repeated", quantity::Severity::Warning, 1.2, 30, 60, 2, {}, {}, {}, "2 fields repeat those before"});
    return measurement;
}

const std::vector<FigureTitle> titles{{"frame_rate", "frames per second", "Time"},
                                      {"repeated_fields", "repeated fields", "Time"},
                                      {"field_order", "field order", "Scan"}};

TEST(FigureValueText, ShowsTheDigitsThatTheUncertaintyLeavesSure) {
    EXPECT_EQ(figure_value_text(Figure::measured(25.0000004, 3.2e-6, "Hz")), "25.0000004 ± 0.0000032 Hz");
    EXPECT_EQ(figure_value_text(Figure::measured(31.74, 1.3, "")), "31.7 ± 1.3");
    EXPECT_EQ(figure_value_text(Figure::measured(1234.5, 120, "ns")), "1234 ± 120 ns");
    EXPECT_EQ(figure_value_text(Figure::counted(2)), "2");
    EXPECT_EQ(figure_value_text(Figure::measured(0.088, 0.0021, "share")), "8.80 ± 0.21 %");
    EXPECT_EQ(figure_value_text(Figure::measured(4e-8, 2e-8, "share")), "less than 0.0001 %");
    EXPECT_EQ(figure_value_text(Figure::measured(0, 0, "share")), "0 %");
    EXPECT_EQ(figure_value_text(Figure::text("top first")), "top first");
}

TEST(MeasurementText, SaysTheVerdictFirst) {
    const std::string text = measurement_text(example(), titles);
    EXPECT_THAT(text,
                HasSubstr("Outside its limit: repeated fields (1 of 1 figures that have one). 1 was not measured."));
    EXPECT_THAT(text, HasSubstr("field order: the picture stands still"));
    EXPECT_THAT(text, HasSubstr("could also be 85 Hz"));
    EXPECT_THAT(text, HasSubstr("frame 30"));
    EXPECT_THAT(text, HasSubstr("outside  at most 0 [1]"));
    EXPECT_THAT(text, HasSubstr("   [1] practice\n"));
    EXPECT_THAT(text, HasSubstr("Table 1.2.3 of 2026-11-25."));
    EXPECT_LT(text.find("Outside its"), text.find("Time"));
}

TEST(MeasurementText, ShowsServicesOfDataWithWhatTheySay) {
    Measurement measurement = example();
    measurement.columns = page_width;
    const std::string pages = "pages 100, 101, 102, 103, 104, 105, 106, 107 and 43 more; \"KEEPER'S PAGES\"";
    measurement.figures.add(
        "data_lines", Figure::services({{"teletext", {7, 8, 9, 320, 321}, false, 98, 100, 0.99999, "bytes", pages},
                                        {"time code", {24}, true, 50, 50, 1, "lines", "10:00:00:00 to 10:00:01:24"}}));
    const std::string text = measurement_text(measurement, titles);
    EXPECT_THAT(text, HasSubstr("2 services"));
    EXPECT_THAT(text, HasSubstr("    teletext: lines 7-9, 320, 321; in 98 of 100 fields; 99.9 % of bytes"));
    EXPECT_THAT(text, HasSubstr("        pages 100, 101"));
    EXPECT_THAT(text, HasSubstr("    time code: row 24; in 50 of 50 fields; all lines right\n"));
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 80U) << line;
    const auto json = nlohmann::json::parse(measurement_json(measurement))["figures"]["data_lines"]["value"];
    EXPECT_EQ(json[0]["service"], "teletext");
    EXPECT_EQ(json[0]["lines"].size(), 5U);
    EXPECT_EQ(json[1]["rows"][0], 24);
    EXPECT_EQ(json[1]["right"], 1);
    EXPECT_EQ(figure_value_text(Figure::services({})), "none");
}

TEST(MeasurementText, SaysAReasonOnce) {
    Measurement measurement = example();
    measurement.figures.add("scan", Figure::unknown("the picture stands still"));
    const std::string text = measurement_text(measurement, titles);
    EXPECT_EQ(text.find("the picture stands still"), text.rfind("the picture stands still"));
    EXPECT_THAT(text, HasSubstr("field order; scan: the picture stands still"));
}

TEST(MeasurementText, TellsDropoutsThatGoOnTogether) {
    using quantity::Severity;
    Measurement measurement = example();
    measurement.columns = 160;
    measurement.events = {{"bright", Severity::Warning, 2.1, 52, 104, {}, 171, 5.0, 9.0, "dropout, bright, first"},
                          {"missing", Severity::Warning, 2.2, 55, 110, 1, {}, {}, {}, "1 frame is missing"},
                          {"held", Severity::Note, 2.9, 72, 145, {}, 174, 5.0, 12.04, "dropout, held, second"},
                          {"dropouts", Severity::Warning, 4.8, 120, {}, 40, {}, {}, {}, "40 more dropouts"},
                          {"dark", Severity::Warning, 7.0, 175, 350, {}, 20, 5.0, 4.0, "dropout, dark, third"}};
    const std::string text = measurement_text(measurement, titles);
    EXPECT_THAT(text,
                HasSubstr("2.10 s   frame 52  warning  42 dropouts from here on (1 bright, 1 held, 40 not listed), "
                          "up to 12.0 µs\n"));
    EXPECT_THAT(text, HasSubstr("7.00 s  frame 175  warning  dropout, dark, third\n"));
    EXPECT_LT(text.find("42 dropouts"), text.find("1 frame is missing"));
    EXPECT_EQ(text.find("second\n"), std::string::npos);
    EXPECT_THAT(text, HasSubstr("--json lists each of them"));
}

Event gap_at(std::int64_t frame) {
    Event event;
    event.kind = "stamp gap", event.severity = quantity::Severity::Warning;
    event.time_s = static_cast<double>(frame) / 25, event.frame = frame;
    event.what = "room for 1 frame";
    return event;
}

TEST(MeasurementText, TellsWhatComesBackEvenlyInOneRow) {
    Measurement measurement = example();
    measurement.events.clear(), measurement.columns = 160;
    for (std::int64_t i = 1; i <= 50; ++i) measurement.events.push_back(gap_at(25 * i));
    measurement.events[7].what = "room for 2 frames";
    const std::string text = measurement_text(measurement, titles);
    EXPECT_THAT(text, HasSubstr("1.00 s  frame 25  warning  room for 1 frame; the like every 25 frames, 50 times in "
                                "all, the last at frame 1250\n"));
    EXPECT_EQ(text.find("frame 50"), std::string::npos);
    EXPECT_EQ(nlohmann::json::parse(measurement_json(measurement))["events"].size(), 50U);
    measurement.columns = page_width;
    std::istringstream lines(measurement_text(measurement, titles));
    for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 80U) << line;
}

TEST(MeasurementText, TellsNearlyEvenOnesInOneRowAndOthersApart) {
    Measurement measurement = example();
    measurement.events.clear(), measurement.columns = 160;
    for (const std::int64_t frame : {3, 10, 30, 51, 70, 91, 110, 300}) measurement.events.push_back(gap_at(frame));
    const std::string text = measurement_text(measurement, titles);
    EXPECT_THAT(text, HasSubstr("frame 10  warning  room for 1 frame; the same every 20 frames or so, 6 times in all, "
                                "the last at frame 110\n"));
    EXPECT_THAT(text, HasSubstr("frame 3  warning  room for 1 frame\n"));
    EXPECT_THAT(text, HasSubstr("frame 300  warning  room for 1 frame\n"));
}

TEST(MeasurementText, TellsTheFirstOfManyUnevenOnes) {
    Measurement measurement = example();
    measurement.events.clear(), measurement.columns = 160;
    for (std::int64_t i = 1; i <= 40; ++i) measurement.events.push_back(gap_at(i * i * (i % 2 + 1)));
    std::ranges::sort(measurement.events, {}, &Event::time_s);
    measurement.events.push_back({"missing", quantity::Severity::Fault, 200, 5000, {}, {}, {}, {}, {}, "another kind"});
    const std::string text = measurement_text(measurement, titles);
    EXPECT_THAT(text, HasSubstr("room for 1 frame; the same 35 times more, the last at frame 3042\n"));
    EXPECT_THAT(text, HasSubstr("another kind\n"));
}

TEST(MeasurementJson, IsThatOfTheContract) {
    const auto json = nlohmann::json::parse(measurement_json(example()));
    EXPECT_EQ(json["schema"], "guardband.measure/1");
    EXPECT_EQ(json["input"]["frames"], 250);
    const auto& figures = json["figures"];
    EXPECT_DOUBLE_EQ(figures["frame_rate"]["value"].get<double>(), 25.0000004);
    EXPECT_EQ(figures["frame_rate"]["unit"], "Hz");
    EXPECT_DOUBLE_EQ(figures["frame_rate"]["uncertainty"].get<double>(), 3.2e-6);
    EXPECT_EQ(figures["frame_rate"]["verdict"], "no limit");
    EXPECT_EQ(figures["repeated_fields"]["value"], 2);
    EXPECT_EQ(figures["repeated_fields"]["verdict"], "outside");
    EXPECT_EQ(figures["repeated_fields"]["limit"]["high"], 0);
    EXPECT_TRUE(figures["field_order"]["value"].is_null());
    EXPECT_EQ(figures["field_order"]["reason"], "the picture stands still");
    EXPECT_FALSE(figures["field_order"].contains("verdict"));
    EXPECT_EQ(figures["screen_rate"]["alternatives"], nlohmann::json({85.0}));
    EXPECT_EQ(json["events"][0]["kind"], "repeated");
    EXPECT_EQ(json["events"][0]["field"], 60);
    EXPECT_EQ(json["table_version"], "1.2.3");
}

TEST(MeasurementJson, SurvivesAPathThatIsNoUtf8) {
    Measurement measurement = example();
    measurement.input[0].second = std::string("\xff\xfe.mkv");
    EXPECT_NO_THROW(nlohmann::json::parse(measurement_json(measurement)));
}

}  // namespace
}  // namespace guardband::report
