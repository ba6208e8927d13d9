// Footprints, read back out of the SVG and measured by the scale that the drawing states.
#include "report/drawing/footprint_drawing.h"

#include <gmock/gmock.h>

#include <cmath>
#include <iostream>
#include <numbers>

#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "support/drawing_check.h"
#include "support/svg_reader.h"

namespace guardband::report::drawing {
namespace {

using quantity::InputError;
using support::scale_of;
using support::SvgElement;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::ThrowsMessage;

using support::built_in;

struct Line {
    double x1, y1, x2, y2;

    double length() const { return std::hypot(x2 - x1, y2 - y1); }
    double angle_deg() const { return std::atan2(std::abs(y2 - y1), std::abs(x2 - x1)) * 180 / std::numbers::pi; }
    /// +1 if it rises to the right on paper.
    int lean() const { return (x2 - x1) * (y2 - y1) < 0 ? 1 : -1; }
};

Line line_of(const SvgElement& element) {
    return {element.number("x1"), element.number("y1"), element.number("x2"), element.number("y2")};
}

std::vector<Line> lines_of(const SvgElement& svg, const std::string& group) {
    std::vector<Line> lines;
    for (const SvgElement* element : svg.group(group).all("line")) lines.push_back(line_of(*element));
    return lines;
}

/// Distance of two parallel lines.
double apart(const Line& a, const Line& b) {
    const double dx = (a.x2 - a.x1) / a.length(), dy = (a.y2 - a.y1) / a.length();
    return std::abs((b.x1 - a.x1) * dy - (b.y1 - a.y1) * dx);
}

/// One mode with its drawing.
struct Drawn {
    const table::TapeFormat* format;
    const table::Mode* mode;
    std::string address;
    SvgElement svg;

    std::optional<double> fact(std::string_view key, std::string_view unit) const {
        const table::Fact* found = format->fact_in(*mode, key);
        return found == nullptr ? std::nullopt : std::optional(found->in(unit));
    }
};

Drawn drawn(const std::string& address) {
    const auto [format, mode] = built_in().at(address, "test");
    return {format, mode, address, support::read_svg(footprint_drawing(built_in(), *format, *mode, "test").svg)};
}

/// All modes of the table that can be drawn.
const std::vector<Drawn>& all_drawn() {
    static const std::vector<Drawn> all = [] {
        std::vector<Drawn> result;
        for (const table::TapeFormat& format : built_in().formats)
            for (const table::Mode& mode : format.modes) try {
                    result.push_back(drawn(address_of(format, mode)));
                } catch (const InputError&) {  // the table lacks its angle, pitch or speed: see below
                }
        return result;
    }();
    return all;
}

/// The n of `one track in n drawn` in the view of this letter.
int every_in(const SvgElement& svg, const std::string& letter) {
    const auto texts = support::texts_of(svg);
    const auto found = std::ranges::find(texts, letter);
    const std::string& remark = *(found + 2);
    return remark.starts_with("one track in ") ? std::stoi(remark.substr(13)) : 1;
}

/// The scale of the view of this letter, which names it in the text after.
double scale_in(const SvgElement& svg, const std::string& letter) {
    const auto texts = support::texts_of(svg);
    return scale_of(svg, *(std::ranges::find(texts, letter) + 1));
}

bool runs_along(const Drawn& d) { return !d.svg.has_group("glass"); }

TEST(Footprint, DrawsEveryModeThatTheTableKnowsEnoughOf) {
    std::size_t modes = 0;
    for (const table::TapeFormat& format : built_in().formats) modes += format.modes.size();
    std::cout << "  " << all_drawn().size() << " of " << modes << " modes drawn\n";
    EXPECT_GE(all_drawn().size(), 100U);
}

TEST(Footprint, RefusesTheOthersInOneLine) {
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Mode& mode : format.modes) try {
                footprint_drawing(built_in(), format, mode, "draw footprint x");
            } catch (const InputError& e) {
                EXPECT_THAT(e.what(),
                            AllOf(HasSubstr("draw footprint x: the table gives no "),
                                  HasSubstr(address_of(format, mode)), HasSubstr("guardband formats " + format.id)));
                EXPECT_EQ(std::string(e.what()).find('\n'), std::string::npos);
                const bool lacks = format.fact_in(mode, "tape_speed") == nullptr ||
                                   format.fact_in(mode, "track_angle_moving") == nullptr ||
                                   format.fact_in(mode, "track_pitch") == nullptr;
                EXPECT_TRUE(lacks) << address_of(format, mode) << ": " << e.what();
            }
}

/// How far rounding can turn a line whose ends are written to 0.001 mm in both directions.
double rounding_deg(const Line& line) { return 0.001 * std::numbers::sqrt2 / line.length() * 180 / std::numbers::pi; }

// The recorded angle, as the table has it for the moving tape.
TEST(Footprint, DrawsTracksAtTheirAngle) {
    for (const Drawn& d : all_drawn()) {
        const auto angle = d.fact("track_angle_moving", "deg");
        if (runs_along(d) || !angle) continue;
        for (const char* group : {"strip-tracks", "strip-marked", "piece-tracks", "piece-marked"})
            for (const Line& line : lines_of(d.svg, group))
                EXPECT_NEAR(line.angle_deg(), std::min(*angle, 180 - *angle), rounding_deg(line))
                    << d.address << " " << group;
        const Line band{d.svg.group("glass-tracks").all("polygon").front()->points().at(0).first,
                        d.svg.group("glass-tracks").all("polygon").front()->points().at(0).second,
                        d.svg.group("glass-tracks").all("polygon").front()->points().at(1).first,
                        d.svg.group("glass-tracks").all("polygon").front()->points().at(1).second};
        EXPECT_NEAR(band.angle_deg(), std::min(*angle, 180 - *angle), rounding_deg(band)) << d.address << " glass";
    }
}

// The tape runs to the left and the heads enter below: heads that run with the tape go up to the left, heads that run
// against it up to the right. Across the tape the tape's own motion leaves the track leaning back from the way it runs,
// up to the right.
TEST(Footprint, LeansByTheWayThatTheHeadsRun) {
    for (const Drawn& d : all_drawn()) {
        if (runs_along(d)) continue;
        const table::Fact* motion = d.format->facts.known("head_motion");
        const bool rises_to_the_right = d.format->facts.find("recording")->printed == "transverse" ||
                                        (motion != nullptr && motion->printed == "against the tape");
        EXPECT_EQ(lines_of(d.svg, "strip-marked").front().lean(), rises_to_the_right ? 1 : -1) << d.address;
        EXPECT_EQ(d.svg.group("motion").all("line").size(), motion != nullptr || rises_to_the_right ? 2U : 1U)
            << d.address << ": an arrow for the heads only if their way is known";
    }
}

TEST(Footprint, SpacesTracksByTheirPitch) {
    for (const Drawn& d : all_drawn()) {
        const auto pitch = d.fact("track_pitch", "µm");
        if (runs_along(d) || !pitch || d.format->tape.known("sides") != nullptr) continue;
        for (const auto& [letter, group] : {std::pair{"A", "strip"}, std::pair{"B", "piece"}}) {
            const double expected_mm = *pitch / 1e3 * scale_in(d.svg, letter) * every_in(d.svg, letter);
            const Line marked = lines_of(d.svg, std::string(group) + "-marked").front();
            std::vector<double> distances;
            for (const Line& line : lines_of(d.svg, std::string(group) + "-tracks"))
                distances.push_back(apart(marked, line));
            ASSERT_GE(distances.size(), 2U) << d.address;
            for (const double distance : distances) {
                const double steps = std::round(distance / expected_mm);
                EXPECT_GE(steps, 1) << d.address;
                EXPECT_NEAR(distance, steps * expected_mm, 0.002)
                    << d.address << " " << group;  // two ends rounded to 0.001 mm
            }
        }
    }
}

TEST(Footprint, DrawsBandsOfTheirWidthUnderTheGlass) {
    for (const Drawn& d : all_drawn()) {
        if (runs_along(d)) continue;
        const double scale = scale_of(d.svg, "Tracks enlarged");
        const auto bands = d.svg.group("glass-tracks").all("polygon");
        ASSERT_GE(bands.size(), 4U) << d.address;
        const auto side = [](const SvgElement& band, std::size_t from, std::size_t to) {
            return Line{band.points().at(from).first, band.points().at(from).second, band.points().at(to).first,
                        band.points().at(to).second};
        };
        const auto pitch = d.fact("track_pitch", "µm");
        const double width_um = d.fact("track_width", "µm").value_or(pitch.value_or(0));
        for (std::size_t i = 0; i < bands.size() && pitch; ++i) {
            EXPECT_NEAR(apart(side(*bands[i], 0, 1), side(*bands[i], 3, 2)), width_um / 1e3 * scale, 0.002)
                << d.address;
            if (i == 0) continue;
            EXPECT_NEAR(apart(side(*bands[i - 1], 0, 1), side(*bands[i], 0, 1)), *pitch / 1e3 * scale, 0.002)
                << d.address;
        }
        if (const auto colour_um = d.fact("colour_track_width", "µm")) {
            const SvgElement& band = *d.svg.group("glass-colour-tracks").all("polygon").front();
            EXPECT_NEAR(apart(side(band, 0, 1), side(band, 3, 2)), *colour_um / 1e3 * scale, 0.002) << d.address;
        }
    }
}

/// The frame around the tracks under the glass: the one unfilled rectangle of its size.
Line glass_window(const Drawn& d) {
    for (const SvgElement* box : d.svg.all("rect"))
        if (box->attributes.contains("fill") && box->attributes.at("fill") == "none" && box->number("width") > 50 &&
            box->number("width") < 150)
            return {box->number("x"), box->number("y"), box->number("x") + box->number("width"),
                    box->number("y") + box->number("height")};
    ADD_FAILURE() << d.address << " has no window";
    return {};
}

// The inset is at 1000:1 wherever a track and its borders fit its window; where they don't, the sheet says so.
TEST(Footprint, EnlargesTracksAThousandTimes) {
    std::size_t thousandfold = 0, drawn_across = 0;
    for (const Drawn& d : all_drawn()) {
        if (runs_along(d)) continue;
        ++drawn_across;
        const double scale = scale_of(d.svg, "Tracks enlarged");
        const auto texts = support::texts_of(d.svg);
        const bool gives_a_reason = std::ranges::any_of(
            texts, [](const std::string& text) { return text.starts_with("at 1000:1 one pitch would be "); });
        EXPECT_EQ(gives_a_reason, scale != 1000) << d.address;
        thousandfold += scale == 1000 ? 1 : 0;
        if (scale == 1000) continue;
        const Line window = glass_window(d);
        const bool is_steep = *d.fact("track_angle_moving", "deg") > 45;
        const double room_mm = is_steep ? window.x2 - window.x1 : window.y2 - window.y1;
        EXPECT_LT(scale, 1000) << d.address;
        EXPECT_GT(1.2 * *d.fact("track_pitch", "µm"), room_mm) << d.address << ": 1 µm is 1 mm at 1000:1";
    }
    std::cout << "  " << thousandfold << " of " << drawn_across << " modes at 1000:1\n";
    for (const char* address : {"vhs:525/60:SP", "vhs:525/60:EP", "beta:525/60:I", "8mm:625/50:SP", "dv:625/50:SP",
                                "video-2000:625/50:SP", "d-2:625/50:standard"})
        EXPECT_EQ(scale_of(drawn(address).svg, "Tracks enlarged"), 1000) << address;
}

TEST(Footprint, DimensionsWhatTheTableKnowsUnderTheGlass) {
    for (const Drawn& d : all_drawn()) {
        if (runs_along(d)) continue;
        const Line window = glass_window(d);
        const auto is_inside = [&](const std::string& beginning) {
            return std::ranges::any_of(d.svg.group("glass").all("text"), [&](const SvgElement* text) {
                return text->text.starts_with(beginning) && text->number("x") > window.x1 &&
                       text->number("x") < window.x2 && text->number("y") > window.y1 && text->number("y") < window.y2;
            });
        };
        EXPECT_TRUE(is_inside("pitch ")) << d.address;
        EXPECT_EQ(is_inside("width "), d.fact("track_width", "µm").has_value()) << d.address;
        EXPECT_EQ(is_inside("azimuth "), d.fact("azimuth", "deg").has_value()) << d.address;
        const bool has_guard = d.fact("guard_band", "µm").value_or(0) > 0 && !d.fact("colour_track_width", "µm");
        EXPECT_EQ(is_inside("guard band "), has_guard) << d.address;
    }
}

// The strokes that stand for the gaps: square to the track, turned by the azimuth, one way and the other on tracks side
// by side.
TEST(Footprint, TurnsTheGapsByTheAzimuth) {
    for (const char* address :
         {"vhs:625/50:SP", "beta:525/60:I", "dv:625/50:SP", "u-format:625/50:LB", "quadruplex:625/50:HB-15"}) {
        const Drawn d = drawn(address);
        const double azimuth = *d.fact("azimuth", "deg");
        const auto strokes = lines_of(d.svg, "glass-tracks");
        std::vector<double> turns;
        const auto band = d.svg.group("glass-tracks").all("polygon").front()->points();
        const double along =
            std::atan2(band[1].second - band[0].second, band[1].first - band[0].first) * 180 / std::numbers::pi;
        for (const Line& stroke : strokes) {
            const double across = std::atan2(stroke.y2 - stroke.y1, stroke.x2 - stroke.x1) * 180 / std::numbers::pi;
            turns.push_back(std::remainder(across - along - 90, 180));
        }
        for (const double turn : turns)
            EXPECT_NEAR(std::abs(turn), azimuth, 0.02) << address;  // strokes of 7 mm or more to 0.001 mm
        if (azimuth > 0) {
            EXPECT_LT(std::ranges::min(turns), 0) << address;
            EXPECT_GT(std::ranges::max(turns), 0) << address;
        }
    }
}

TEST(Footprint, DrawsTapeAndEdgeTracksToScale) {
    for (const Drawn& d : all_drawn()) {
        const double scale = scale_in(d.svg, "A");
        const auto edges = lines_of(d.svg, "strip-outline");
        ASSERT_EQ(edges.size(), 2U);
        EXPECT_NEAR(edges[1].y1 - edges[0].y1, d.format->tape.known("width")->in("mm") * scale, 0.001) << d.address;
    }
}

// Source: `track-configuration` prints the linear sound of VHS as 1 mm wide at the upper edge, the control track at the
// lower one.
TEST(Footprint, PutsTheEdgeTracksOfVhsWhereTheyBelong) {
    const Drawn d = drawn("vhs:625/50:SP");
    const double scale = scale_of(d.svg, "The whole width");
    const auto tape = lines_of(d.svg, "piece-outline");
    const auto tracks = d.svg.group("piece-edges").all("rect");
    ASSERT_EQ(tracks.size(), 2U);
    EXPECT_NEAR(tracks[0]->number("y"), tape[0].y1, 0.001) << "sound at the upper edge";
    EXPECT_NEAR(tracks[0]->number("height"), 1.0 * scale, 0.001);
    EXPECT_NEAR(tracks[1]->number("y") + tracks[1]->number("height"), tape[1].y1, 0.001)
        << "control track at the lower edge";
    EXPECT_THAT(support::texts_of(d.svg), AllOf(Contains("linear sound 1 mm"), Contains("control track 0.75 mm"),
                                                Contains("azimuth 6°"), Contains("pitch 49 µm")));
}

/// How far the tape moves from one track to the next, as the drawing shows it.
double drawn_advance_mm(const Drawn& d) {
    const auto lines = lines_of(d.svg, "strip-tracks");
    return (lines.at(1).x1 - lines.at(0).x1) / scale_of(d.svg, "A whole track") / every_in(d.svg, "A");
}

// By another way than angle and pitch: tape speed over tracks a second. Speeds as printed: VHS 23.39 mm/s
// (`vhs-figures-625`), type C 239.8 mm/s
// (`type-c-figures`), type B 243 mm/s (`type-b-figures`), quadruplex 15.625 in/s (encyclopaedia article). Tolerances:
// rounding of the printed pitch (49 µm to half a micrometre, 214 and 200 µm likewise) and of the angle (5.96° to
// 0.005°), worst case.
TEST(Footprint, AdvancesAsTheTapeDoes) {
    EXPECT_NEAR(drawn_advance_mm(drawn("vhs:625/50:SP")), 23.39 / 50, 0.4678 * (0.5 / 49 + 0.005 / 5.96));
    EXPECT_NEAR(drawn_advance_mm(drawn("type-c:625/50:standard")), 239.8 / 50, 4.796 * (0.5 / 214 + 0.005 / 2.56));
    EXPECT_NEAR(drawn_advance_mm(drawn("type-b:625/50:standard")), 243.0 / 300, 0.81 * (0.5 / 200 + 0.05 / 14.3));
    EXPECT_NEAR(drawn_advance_mm(drawn("quadruplex:625/50:HB-15")), 15.625 * 25.4 / 1000,
                0.396875 * 0.05 / 396.9 + 0.001);
}

// Source: a VHS field's track is 10.07 mm high and 96.9 mm long (625/50, from writing speed and angle; the height also
// from memory).
TEST(Footprint, MakesTracksAsLongAsAField) {
    const Drawn d = drawn("vhs:625/50:SP");
    const Line track = lines_of(d.svg, "strip-marked").front();
    const double scale = scale_of(d.svg, "A whole track");
    EXPECT_NEAR(track.length() / scale, 96.9, 0.1);
    EXPECT_NEAR((track.y1 - track.y2) / scale, 10.07, 0.03);
}

// One head round a drum of 134.6 mm that the tape wraps by 350 of 360 degrees: π · 134.6 · 350/360 = 411.1 mm, give or
// take the 4.07 mm that the tape moves meanwhile, since the table does not say which way.
TEST(Footprint, LeavesTheGapWhereTheTapeMeetsItself) {
    const Drawn d = drawn("type-a:525/60:standard");
    EXPECT_NEAR(lines_of(d.svg, "strip-marked").front().length() / scale_of(d.svg, "A whole track"), 411.1, 4.07);
}

TEST(Footprint, ShowsBothSidesOfATapeThatIsTurnedOver) {
    const Drawn d = drawn("video-2000:625/50:SP");
    const auto tape = lines_of(d.svg, "strip-outline");
    const double middle = (tape[0].y1 + tape[1].y1) / 2;
    int above = 0, below = 0;
    for (const Line& line : lines_of(d.svg, "strip-tracks")) {
        EXPECT_TRUE((line.y1 < middle) == (line.y2 < middle)) << "no track crosses to the other side";
        ++(line.y1 < middle ? above : below);
        EXPECT_EQ(line.lean(), -1) << "turned by half a turn, a line keeps its lean";
    }
    EXPECT_GT(above, 2);
    EXPECT_EQ(above, below);
}

TEST(Footprint, SaysWhatItLeavesOut) {
    const auto [format, mode] = built_in().at("vcr:625/50:standard", "test");
    const Drawing drawing = footprint_drawing(built_in(), *format, *mode, "test");
    EXPECT_THAT(drawing.missing, Contains("linear sound of 2 × 0.7 mm, its place (not in the table)"));
    EXPECT_THAT(drawing.svg, HasSubstr("Left out: "));
    EXPECT_THAT(support::read_svg(drawing.svg).group("piece-edges").children, IsEmpty());
}

TEST(Footprint, DrawsFixedHeadsAsTracksAlongTheTape) {
    const Drawn d = drawn("four-track-1953:525/60:standard");
    const auto tracks = lines_of(d.svg, "strip-tracks");
    EXPECT_EQ(tracks.size(), 4U);
    for (const Line& track : tracks) EXPECT_EQ(track.y1, track.y2);
}

TEST(Footprint, CanBeReadInEveryMode) {
    for (const Drawn& d : all_drawn()) EXPECT_THAT(support::faults_of_words(d.svg), IsEmpty()) << d.address;
}

TEST(Footprint, NamesItsSources) {
    const Drawn d = drawn("vhs:625/50:SP");
    EXPECT_THAT(support::texts_of(d.svg), Contains(HasSubstr("[1] VHS format: summary of its figures")));
    EXPECT_THAT(support::texts_of(d.svg), Contains("from memory"));
}

/// VHS with one figure changed.
Drawing drawn_with(std::string_view key, double value) {
    const auto place = built_in().at("vhs:625/50:SP", "test");
    const table::TapeFormat& format = *place.first;
    table::Mode mode = *place.second;
    std::vector<table::Fact> facts = mode.facts.all();
    table::Fact fact = *format.fact_in(mode, key);
    std::erase_if(facts, [&](const table::Fact& f) { return f.key == key; });
    fact.value = value;
    fact.printed = std::to_string(value);
    fact.exact.reset();
    facts.push_back(std::move(fact));
    mode.facts = table::Facts(std::move(facts));
    return footprint_drawing(built_in(), format, mode, "test");
}

// Figures driven to the ends of what the table allows, one at a time.
TEST(Footprint, StandsFiguresAtTheEndsOfTheirRanges) {
    for (const auto& [key, value] : {std::pair{"track_pitch", 2.0},
                                     {"track_pitch", 2000.0},
                                     {"track_angle_moving", 0.2},
                                     {"track_angle_moving", 99.0},
                                     {"tape_speed", 0.5},
                                     {"writing_speed", 0.2},
                                     {"azimuth", 60.0},
                                     {"drum_speed", 1.0},
                                     {"linear_sound_track_width", 5.0}}) {
        const Drawing drawing = drawn_with(key, value);
        EXPECT_NO_THROW(support::read_svg(drawing.svg)) << key << " " << value;
        EXPECT_LT(drawing.svg.size(), 400000U) << key << " " << value;
    }
    EXPECT_THAT([] { drawn_with("track_angle_moving", 0); }, ThrowsMessage<InputError>(HasSubstr("can’t be drawn")));
    EXPECT_THAT([] { drawn_with("tape_speed", 12000); }, ThrowsMessage<InputError>(HasSubstr("can’t be drawn")));
}

}  // namespace
}  // namespace guardband::report::drawing
