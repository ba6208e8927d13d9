#include "report/drawing/footprint_drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "report/drawing/drawing_sheet.h"
#include "report/drawing/footprint_views.h"
#include "report/drawing/track_glass.h"

namespace guardband::report::drawing {
namespace {

using Layout = Footprint::Layout;

constexpr double strip_left_mm = 20, strip_right_mm = 279;  // the upper view goes across the sheet
constexpr double strip_top_mm = 43;
constexpr double longest_track_mm = 215, widest_strip_mm = 52;
constexpr double piece_left_mm = 24, piece_right_mm = 58;  // the piece that shows the whole width
constexpr double glass_left_mm = 99, glass_right_mm = 199;
constexpr double list_left_mm = 206, list_width_mm = 79;
constexpr double heading_room_mm = 7;

std::string every_text(int every) {
    return every == 1 ? "one track marked" : fmt::format("one track in {} drawn, one marked", every);
}

/// Puts the views of one footprint on a sheet.
class Page {
public:
    Page(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode, const std::string& input)
        : format_(format),
          mode_(mode),
          footprint_(footprint_of(table, format, mode, input)),
          sheet_(table, title(), subtitle()) {}

    Drawing whole() {
        list_figures();
        const double floor = sheet_.draw_notes(notes()) - 2;
        const double shelf = draw_strip();
        sheet_.draw_figures({footprint_.layout == Layout::Along ? strip_left_mm : list_left_mm, shelf + 6},
                            list_width_mm, floor);
        if (footprint_.layout != Layout::Along) {
            draw_piece(shelf, floor);
            draw_glass(shelf, floor);
        }
        return {sheet_.finished(), footprint_.missing};
    }

private:
    std::string title() const {
        return fmt::format("{}, {}, mode {}: the tracks on the tape", format_.name, mode_.system, mode_.id);
    }
    std::string subtitle() const {
        return fmt::format(
            "{} · seen from the coated side, the reference edge below · to scale; dimensions of the tape itself",
            table::address_of(format_, mode_));
    }

    std::vector<std::string> notes() const {
        std::vector<std::string> notes;
        if (!footprint_.missing.empty()) notes.push_back("Left out: " + joined(footprint_.missing) + ".");
        notes.push_back("Drawn so though the table does not say it: " + joined(assumptions()) + ".");
        return notes;
    }

    std::vector<std::string> assumptions() const {
        std::vector<std::string> all{"the tape running to the left"};
        all.insert(all.end(), footprint_.assumed.begin(), footprint_.assumed.end());
        return all;
    }

    void list(std::string_view name, std::string_view key, std::string_view unit) {
        if (const table::Fact* fact = format_.fact_in(mode_, key); fact != nullptr && fact->is_number())
            sheet_.add_figure(name, *fact, unit);
    }

    void list_figures() {
        sheet_.add_figure("tape width", *format_.tape.known("width"), "mm");
        list("tape speed", "tape_speed", "mm/s");
        list("drum diameter", "diameter", "mm");
        list("drum speed", "drum_speed", "rev/s");
        list("video heads", "heads", "");
        list("wrap", "wrap", "deg");
        list("azimuth, ±", "azimuth", "deg");
        list("FM sound azimuth, ±", "hifi_azimuth", "deg");
        list("track angle, tape still", "track_angle_still", "deg");
        list("track angle, tape moving", "track_angle_moving", "deg");
        list("track pitch", "track_pitch", "µm");
        list("track width", "track_width", "µm");
        list("colour track width", "colour_track_width", "µm");
        list("guard band", "guard_band", "µm");
        list("writing speed", "writing_speed", "m/s");
        if (footprint_.track_length_mm)
            sheet_.add_computed("track length", fmt::format("{:.4g} mm", *footprint_.track_length_mm));
        if (footprint_.tracks_per_mm)
            sheet_.add_computed("tracks along the tape", fmt::format("{:.4g} per mm", *footprint_.tracks_per_mm));
        for (const EdgeTrack& track : footprint_.edge_tracks)
            sheet_.add_figure(track.name + (track.count > 1 ? fmt::format(", {} of", track.count) : ""), *track.width,
                              "mm");
    }

    double run_mm() const {
        return footprint_.layout == Layout::Along
                   ? 0
                   : (footprint_.high_mm - footprint_.low_mm) / footprint_.across() * footprint_.along();
    }

    std::string_view strip_name() const {
        if (footprint_.layout == Layout::Along) return "The tape";
        return footprint_.track_length_mm ? "A whole track" : "The tracks";
    }

    /// The upper view. @returns where the lower ones begin
    double draw_strip() {
        const double length = std::max(std::abs(run_mm()), 1e-6);
        const double scale =
            preferred_scale(std::min(longest_track_mm / length, widest_strip_mm / footprint_.tape_width_mm));
        const double bottom = strip_top_mm + footprint_.tape_width_mm * scale;
        const TapeView view(footprint_, {strip_left_mm, bottom}, scale, (strip_right_mm - strip_left_mm) / scale);
        Svg& svg = sheet_.svg();
        sheet_.heading({DrawingSheet::margin_mm, 29}, "A", strip_name(), scale,
                       footprint_.layout == Layout::Along ? "" : every_text(view.every()));
        view.draw(svg, "strip");
        draw_motion(view);
        if (footprint_.layout == Layout::Along)
            label_tracks_along(view);
        else
            dimension_strip(view);
        scale_bar(svg, {strip_left_mm, bottom + 12}, scale);
        svg.text({strip_left_mm, bottom + 4}, "reference edge", {.size_mm = words_mm});
        return bottom + 22;
    }

    void draw_motion(const TapeView& view) {
        Svg& svg = sheet_.svg();
        const double y = view.top() - 4;
        svg.open_group("motion");
        arrow(svg, {view.left() + 28, y}, {view.left(), y}, thick);
        const table::Fact& speed = *format_.fact_in(mode_, "tape_speed");
        svg.text({view.left() + 30, y + words_mm / 3}, "tape, " + value_text_in(speed, "mm/s"), {.size_mm = words_mm});
        if (footprint_.layout == Layout::Across || footprint_.motion) draw_head_motion(view, y);
        svg.close_group();
    }

    /// The way of the heads over the tape, at the tracks' own angle.
    void draw_head_motion(const TapeView& view, double y) {
        const double length = std::min(28.0, 8 / footprint_.across());
        const double x = view.left() + 84;
        const Point from{footprint_.along() < 0 ? x + length * -footprint_.along() : x, y + 1.5};
        const Point to{from.x + length * footprint_.along(), from.y - length * footprint_.across()};
        arrow(sheet_.svg(), from, to, {.stroke = ink::blue, .stroke_width_mm = 0.45});
        const table::Fact* writing = format_.fact_in(mode_, "writing_speed");
        const std::string sense = footprint_.layout == Layout::Across                  ? "across"
                                  : footprint_.motion == calc::HeadMotion::AgainstTape ? "against"
                                                                                       : "with";
        sheet_.svg().text(
            {std::max(from.x, to.x) + 2, y + words_mm / 3},
            "heads, " + sense + " the tape" + (writing == nullptr ? "" : ", " + value_text_in(*writing, "m/s")),
            {.size_mm = words_mm});
    }

    void label_tracks_along(const TapeView& view) {
        vertical_dimension(sheet_.svg(), view.top(), view.bottom(), view.left() - 5, view.left(),
                           number_text(footprint_.tape_width_mm) + " mm");
    }

    void dimension_strip(const TapeView& view) {
        Svg& svg = sheet_.svg();
        const Point start = view.track_start(), end = view.track_end();
        svg.open_group("strip-dimensions");
        draw_angle(view);
        if (footprint_.track_length_mm && footprint_.layout == Layout::Slanted)
            horizontal_dimension(svg, start.x, end.x, view.bottom() + 8.5, view.bottom(),
                                 fmt::format("one track: {:.4g} mm long, {:.4g} mm along the edge",
                                             *footprint_.track_length_mm, std::abs(run_mm())));
        draw_field(view);
        svg.close_group();
    }

    /// The angle at the track's beginning, between it and the way the tape runs.
    void draw_angle(const TapeView& view) {
        Svg& svg = sheet_.svg();
        const Point start = view.track_start();
        const double radius =
            footprint_.layout == Layout::Across
                ? 9
                : std::min(0.6 * std::hypot(view.track_end().x - start.x, view.track_end().y - start.y), 55.0);
        const double side = footprint_.layout == Layout::Across || footprint_.along() < 0 ? -1 : 1;
        const double angle = footprint_.angle_deg * std::numbers::pi / 180;
        std::vector<Point> arc;
        for (int i = 0; i <= 24; ++i)
            arc.push_back(
                {start.x + side * radius * std::cos(angle * i / 24), start.y - radius * std::sin(angle * i / 24)});
        svg.line(start, {start.x + side * (radius + 3), start.y},
                 {.stroke = ink::black, .stroke_width_mm = 0.18, .dashes = "3 0.8 0.8 0.8"});
        svg.polyline(arc, thin);
        const std::string words = number_text(footprint_.angle_deg) + "°";
        if (footprint_.layout == Layout::Across)
            svg.text({start.x - radius - 2, start.y - 4}, words,
                     {.size_mm = words_mm, .anchor = Anchor::End, .on_white = true});
        else if (start.y - arc.back().y > 2 * words_mm)
            svg.text({arc[12].x + side * 1.5, arc[12].y + words_mm / 3}, words,
                     {.size_mm = words_mm, .anchor = side < 0 ? Anchor::End : Anchor::Start, .on_white = true});
        else
            leader(svg, arc[12], {arc[12].x + side * 4, view.bottom() + 3}, words);
    }

    /// How much tape a field takes, above the strip's right end.
    void draw_field(const TapeView& view) {
        if (footprint_.tracks_per_field.value_or(0) < 0.99) return;
        const double advance = footprint_.advance_mm() * *footprint_.tracks_per_field;
        const std::string tracks = fmt::format("{:.4g}{}", *footprint_.tracks_per_field,
                                               *footprint_.tracks_per_field > 1.01 ? " tracks" : " track");
        const std::string words = fmt::format("one field: {}, {:.4g} mm of tape", tracks, advance);
        const double width = advance * view.scale(), x = view.right() - text_width_mm(words, words_mm) - 5 - width;
        horizontal_dimension(sheet_.svg(), x, x + width, view.top() - 4, view.top(), words);
    }

    /// The whole width of the tape, larger.
    void draw_piece(double top, double floor) {
        const double room = floor - top - 2 * heading_room_mm;
        const double scale = preferred_scale(room / footprint_.tape_width_mm);
        const double bottom = top + heading_room_mm + footprint_.tape_width_mm * scale;
        const TapeView view(footprint_, {piece_left_mm, bottom}, scale, (piece_right_mm - piece_left_mm) / scale);
        Svg& svg = sheet_.svg();
        sheet_.heading({DrawingSheet::margin_mm, top}, "B", "The whole width", scale, every_text(view.every()));
        view.draw(svg, "piece");
        svg.open_group("piece-dimensions");
        if (footprint_.pitch_um) draw_outline_of_glass(view, floor - top);
        vertical_dimension(svg, view.top(), view.bottom(), view.left() - 6, view.left(),
                           number_text(footprint_.tape_width_mm) + " mm");
        callouts_of(view).draw(svg, view.right() + 6, view.top() + 1, view.bottom() - 1);
        svg.close_group();
        scale_bar(svg, {piece_left_mm, bottom + 4}, scale);
    }

    /// What the third view enlarges, at its true size.
    void draw_outline_of_glass(const TapeView& view, double room) {
        const TrackGlass glass = glass_at(0, room);
        const double share = view.scale() / glass.scale();
        const Point middle{(view.track_start().x + view.track_end().x) / 2,
                           (view.track_start().y + view.track_end().y) / 2};
        const double half_width = glass.width() / 2 * share, half_height = glass.height() / 2 * share;
        sheet_.svg().rectangle({middle.x - half_width, middle.y - half_height},
                               {middle.x + half_width, middle.y + half_height},
                               {.fill = "none", .stroke = ink::black, .stroke_width_mm = 0.25});
        sheet_.svg().text({middle.x + half_width + 1, middle.y - half_height - 0.5}, "C",
                          {.size_mm = words_mm, .bold = true, .on_white = true});
    }

    TrackGlass glass_at(double top, double floor) const {
        return {footprint_,
                {glass_left_mm, top + heading_room_mm},
                {glass_right_mm,
                 std::min(floor - heading_room_mm, top + heading_room_mm + (glass_right_mm - glass_left_mm))}};
    }

    Callouts callouts_of(const TapeView& view) const {
        Callouts callouts;
        double low = 0, high = footprint_.side_width_mm();
        for (const EdgeTrack& track : footprint_.edge_tracks)
            for (int i = 0; i < track.count; ++i) {
                const double middle = track.at_upper_edge ? high - track.width_mm / 2 : low + track.width_mm / 2;
                (track.at_upper_edge ? high : low) += track.at_upper_edge ? -track.width_mm : track.width_mm;
                callouts.add({view.right() - 2, view.at(0, middle).y},
                             fmt::format("{} {:.3g} mm", track.name, track.width_mm));
            }
        if (footprint_.track_length_mm && footprint_.layout == Layout::Slanted)
            callouts.add({view.right() - 2, view.at(0, (footprint_.low_mm + footprint_.high_mm) / 2).y},
                         fmt::format("video tracks {:.3g} mm", footprint_.high_mm - footprint_.low_mm));
        if (footprint_.sides > 1)
            callouts.add({view.right() - 2, view.at(0, 1.5 * footprint_.side_width_mm()).y}, "the other side");
        return callouts;
    }

    void draw_glass(double top, double floor) {
        const TrackGlass glass = glass_at(top, floor);
        sheet_.heading({glass_left_mm, top}, "C", "Tracks enlarged", glass.scale(), glass.scale_remark());
        glass.draw(sheet_.svg());
        scale_bar(sheet_.svg(), {glass_left_mm, glass.bottom() + 3}, glass.scale());
    }

    const table::TapeFormat& format_;
    const table::Mode& mode_;
    Footprint footprint_;
    DrawingSheet sheet_;
};

}  // namespace

Drawing footprint_drawing(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
                          const std::string& input) {
    return Page(table, format, mode, input).whole();
}

}  // namespace guardband::report::drawing
