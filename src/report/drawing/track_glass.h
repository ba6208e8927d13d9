#pragma once

#include <string>

#include "report/drawing/footprint.h"
#include "report/drawing/svg.h"

namespace guardband::report::drawing {

/// The tracks under a glass: bands of their true width and angle, the heads' gaps as strokes across them. The scale is
/// 1000:1, or the largest preferred one below at which a whole track still shows with what borders on it.
class TrackGlass {
public:
    static constexpr double wanted_scale = 1000;

    TrackGlass(const Footprint& footprint, Point corner, Point opposite);

    double scale() const { return scale_; }
    /// Why the scale is not the wanted one; empty if it is.
    std::string scale_remark() const;
    double width() const { return opposite_.x - corner_.x; }
    double height() const { return opposite_.y - corner_.y; }
    double bottom() const { return opposite_.y; }
    void draw(Svg& svg) const;

private:
    Point place(double along_mm, double across_mm) const;
    double along_at(double share, double across_mm) const;
    double within_window(double share, double across_mm, double edge_mm) const;
    double across_extent_mm() const;
    /// Whether so few tracks show that their dimensions have to share one.
    bool is_close() const;
    double to_paper(double um) const { return um / 1e3 * scale_; }
    double shown_width_um() const { return footprint_.track_width_um.value_or(*footprint_.pitch_um); }
    std::string name_of(int track) const;
    void draw_bands(Svg& svg) const;
    bool is_second(int track) const;
    void draw_band(Svg& svg, double across_mm, double width_mm, bool second) const;
    void draw_gaps(Svg& svg, double across_mm, double width_mm, bool second) const;
    void draw_names(Svg& svg) const;
    void draw_band_name(Svg& svg, double across_mm, double width_mm, const std::string& words) const;
    void draw_name(Svg& svg, double across_mm, const std::string& words) const;
    void draw_dimensions(Svg& svg) const;
    void draw_dimensions_apart(Svg& svg, double pitch_mm, double width_mm) const;
    void draw_dimensions_close(Svg& svg, double pitch_mm, double width_mm) const;
    std::string pitch_words() const;
    std::string width_words() const;
    std::string colour_words() const;
    std::string guard_words() const;
    bool has_guard_band() const;
    void draw_azimuth(Svg& svg, double share, double across_mm, double width_mm) const;
    void dimension(Svg& svg, double share, double from_mm, double to_mm, const std::string& words) const;
    bool is_steep() const;

    const Footprint& footprint_;
    Point corner_, opposite_, direction_, normal_;
    double scale_ = 1;
    double shift_mm_ = 0;  ///< of the window's middle from that of a track, across the tracks
};

}  // namespace guardband::report::drawing
