#include "report/track_report.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "calc/track_working.h"
#include "report/beat_report.h"
#include "report/text_table.h"
#include "support/built_in_table.h"

namespace guardband::report {
namespace {

using testing::HasSubstr;
using testing::Not;

using support::built_in;

TrackAnswer answer_of(const table::TapeFormat& format, const table::Mode& mode) {
    TrackAnswer answer;
    answer.format = &format, answer.mode = &mode;
    answer.tracks = calc::track_geometry(built_in(), format, mode);
    answer.carriers = calc::carriers_of(built_in(), format, mode);
    answer.checks = calc::closures_of(built_in(), format, mode);
    answer.working = calc::track_working(built_in(), format, mode);
    return answer;
}

void expect_fits(const std::string& text, const std::string& what) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(display_width(line), 80U) << what << ": " << line;
    EXPECT_THAT(text, testing::EndsWith(".\n"));
    for (const char* slip : {" nan", " inf", "  \n", "= \n"}) EXPECT_THAT(text, Not(HasSubstr(slip))) << what;
}

/// Every mode of the table with all that can be asked of it.
TEST(TrackText, FitsATerminalForEveryMode) {
    int asked = 0;
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Mode& mode : format.modes) {
            const std::string address = address_of(format, mode);
            TrackAnswer answer = answer_of(format, mode);
            expect_fits(track_text(answer, built_in()), address);
            answer.shuttle = calc::shuttle(built_in(), format, mode, -7);
            answer.loss_query = {calc::Input{0.1, 0.05}, calc::Input{0.3, 0}, calc::Input{0.5, 0}, calc::Input{0.1, 0},
                                 calc::Input{58, 2}};
            answer.losses = calc::losses_at_carriers(built_in(), format, mode, answer.loss_query);
            if (calc::pitch_of(built_in(), format, mode)) {
                answer.playback =
                    calc::playback(built_in(), {&format, &mode, nullptr, nullptr, calc::Input{200, 5}}, "test");
                answer.working = calc::playback_working(*answer.playback);
                ++asked;
            }
            expect_fits(track_text(answer, built_in()), address);
            EXPECT_TRUE(nlohmann::json::accept(track_json(answer, built_in()))) << address;
        }
    EXPECT_GT(asked, 60);
}

/// The widest table: a machine of another azimuth, whose head reaches the tracks beyond the next.
TEST(TrackText, FitsWithEveryColumnOfPickUp) {
    const auto [format, mode] = built_in().at("vhs:625/50:EP", "test");
    const auto [machine_format, machine_mode] = built_in().at("m-ii:625/50:standard", "test");
    TrackAnswer answer = answer_of(*format, *mode);
    answer.playback = calc::playback(built_in(), {format, mode, machine_format, machine_mode, {}}, "test");
    answer.working = calc::playback_working(*answer.playback);
    const std::string text = track_text(answer, built_in());
    expect_fits(text, "all columns");
    for (const char* column : {"own track", "azimuth", "neighbours", "same azimuth"})
        EXPECT_THAT(text, HasSubstr(column));
}

TEST(TrackJson, SaysWhyAFigureIsMissing) {
    const auto [format, mode] = built_in().at("m-ii:625/50:standard", "test");
    const auto json = nlohmann::json::parse(track_json(answer_of(*format, *mode), built_in()));
    EXPECT_TRUE(json.at("pitch_um").is_null());
    EXPECT_THAT(json.at("pitch_um_reason").get<std::string>(), HasSubstr("track angle"));
    EXPECT_TRUE(json.at("writing_speed_m_s").is_number());
    EXPECT_TRUE(json.at("writing_speed_m_s_uncertainty").is_number());
}

BeatAnswer filmed(quantity::Rational screen, quantity::Rational camera, bool is_lamp, double readout_s) {
    BeatAnswer answer;
    answer.filming.screen = screen, answer.filming.camera = camera, answer.filming.is_lamp = is_lamp;
    answer.filming.exposure_s.value = 0.4 / camera.value(), answer.filming.readout_s.value = readout_s;
    answer.filming.exposure_error = 0.01;
    if (!is_lamp) calc::set_scan_share(answer.filming, built_in());
    answer.filmed = calc::filmed_screen(answer.filming);
    answer.working = calc::filmed_working(answer.filming, answer.filmed);
    return answer;
}

TEST(BeatText, FitsATerminalForEveryScreenAndCamera) {
    for (const table::Screen& screen : built_in().screens)
        for (const quantity::Rational camera : {quantity::Rational(24000, 1001), quantity::Rational(25),
                                                quantity::Rational(60000, 1001), quantity::Rational(120)})
            for (const double readout_s : {0.0, 0.008}) {
                const BeatAnswer answer = filmed(*screen.facts.known("refresh_rate")->exact, camera,
                                                 screen.facts.known("kind")->printed == "lamp", readout_s);
                expect_fits(beat_text(answer, built_in()), screen.id);
                EXPECT_TRUE(nlohmann::json::accept(beat_json(answer, built_in())));
            }
}

TEST(BeatText, SaysWhichWayBandsGo) {
    EXPECT_THAT(beat_text(filmed(51, 50, false, 0), built_in()), HasSubstr("downwards"));
    EXPECT_THAT(beat_text(filmed(49, 50, false, 0), built_in()), HasSubstr("upwards"));
    EXPECT_THAT(beat_text(filmed(50, 25, false, 0), built_in()), HasSubstr("stands still"));
    EXPECT_THAT(beat_text(filmed(60, 24, false, 0), built_in()), HasSubstr("without direction"));
}

}  // namespace
}  // namespace guardband::report
