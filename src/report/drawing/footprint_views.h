#pragma once

#include <string>
#include <utility>

#include "report/drawing/footprint.h"
#include "report/drawing/svg.h"

namespace guardband::report::drawing {

/// A stretch of tape on the sheet, seen from the coated side with the upper edge up.
class TapeView {
public:
    /// @param corner  where the lower edge meets the left end, on the sheet  @param scale  mm on the sheet to 1 mm of
    /// tape
    /// @param length_mm  of tape that shows
    TapeView(const Footprint& footprint, Point corner, double scale, double length_mm);

    /// A place on the tape: mm along from the left end, mm up from the lower edge.
    Point at(double along_mm, double up_mm) const {
        return {corner_.x + along_mm * scale_, corner_.y - up_mm * scale_};
    }
    double scale() const { return scale_; }
    double left() const { return corner_.x; }
    double right() const { return corner_.x + length_mm_ * scale_; }
    double top() const { return corner_.y - footprint_.tape_width_mm * scale_; }
    double bottom() const { return corner_.y; }

    /// Where the track in the middle of the view begins and ends.
    Point track_start() const;
    Point track_end() const;
    /// Every how many tracks one is drawn.
    int every() const { return every_; }

    /// The tape with all that is recorded on it. @param id  of the group; the tracks' own is `id-tracks`
    void draw(Svg& svg, const std::string& id) const;

private:
    double middle_start_mm() const;
    void draw_tracks(Svg& svg, const std::string& id) const;
    void draw_track(Svg& svg, int number) const;
    void draw_tracks_along(Svg& svg, const std::string& id) const;
    void draw_edge_tracks(Svg& svg, const std::string& id) const;
    void draw_outline(Svg& svg, const std::string& id) const;
    std::pair<int, int> visible_tracks() const;
    Point turned_over(Point place) const;

    const Footprint& footprint_;
    Point corner_;
    double scale_, length_mm_;
    int every_ = 1;
};

}  // namespace guardband::report::drawing
