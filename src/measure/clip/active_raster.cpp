#include "measure/clip/active_raster.h"

#include <fmt/format.h>

#include "measure/clip/scanning_match.h"

namespace guardband::measure {
namespace {

using Edges = std::array<ActiveEdge, 4>;

/// Black that was put around the picture.
std::string padding_note(const Edges& edges, const media::PictureFormat& picture) {
    const auto& [left, right, top, bottom] = edges;
    const int width = picture.width, height = picture.height;
    std::string note;
    if (left.hard && right.hard && left.blank + right.blank >= 4 && left.blank + right.blank < width / 8.0)
        note = fmt::format("{:.0f} samples of picture in a raster of {}: black was put beside it",
                           width - left.blank - right.blank, width);
    if (top.hard && bottom.hard && top.blank + bottom.blank >= 2 && top.blank + bottom.blank < 12)
        note += fmt::format("{}{:.0f} lines of picture in a raster of {}: black was put above or below",
                            note.empty() ? "" : "; ", height - top.blank - bottom.blank, height);
    return note;
}

/// The shape of the picture if it stands between wide bars.
std::string shape_note(const Edges& edges, const media::PictureFormat& p, const table::Table& table) {
    const auto& [left, right, top, bottom] = edges;
    const bool wide = top.blank > p.height / 20.0 && bottom.blank > p.height / 20.0,
               narrow = left.blank > p.width / 20.0 && right.blank > p.width / 20.0;
    if (!wide && !narrow) return {};
    double sample_aspect = 0;
    if (const table::Raster* raster = table.find_raster(p.width, p.height))
        if (const auto* aspect = raster->facts.known("pixel_aspect"); aspect && aspect->exact)
            sample_aspect = aspect->exact->value();
    const double width = p.width - left.blank - right.blank, height = p.height - top.blank - bottom.blank;
    const std::string shape =
        sample_aspect > 0 && height > 0
            ? fmt::format(", {:.2f} times as wide as high on a 4:3 screen", width * sample_aspect / height)
            : std::string();
    return fmt::format("the picture stands between black bars{}", shape);
}

/// In 625 lines the first line of one field and the last of the other hold half a line of picture.
std::string half_line_note(double top, const media::PictureFormat& picture, const table::Table& table) {
    const table::Raster* raster = table.find_raster(picture.width, picture.height);
    if (raster == nullptr || raster->scanning != "625/50") return {};
    const auto line = static_cast<int>(top);
    if (line == 0 || line > 4) return {};
    return fmt::format("the half line 23 stands {} line{} lower than it should", line, line == 1 ? "" : "s");
}

/// Vertical blanking that was captured above the picture.
std::string blanking_note(const Edges& edges, const media::PictureFormat& picture, const table::Table& table) {
    const int blanking = blanking_above(table, picture.height);
    if (blanking == 0) return {};
    return fmt::format("{:.0f} lines of vertical blanking were stored above the picture, as rasters of {} lines do",
                       edges[2].blank, picture.height);
}

}  // namespace

std::vector<std::string> raster_notes(const std::array<ActiveEdge, 4>& edges, bool is_half_line,
                                      const media::PictureFormat& picture, const table::Table& table) {
    std::vector<std::string> notes{blanking_note(edges, picture, table), padding_note(edges, picture),
                                   shape_note(edges, picture, table),
                                   is_half_line ? half_line_note(edges[2].blank, picture, table) : std::string()};
    std::erase_if(notes, [](const std::string& note) { return note.empty(); });
    return notes;
}

}  // namespace guardband::measure
