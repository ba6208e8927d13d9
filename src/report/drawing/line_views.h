#pragma once

#include <string>
#include <vector>

#include "report/drawing/svg.h"
#include "report/drawing/video_line.h"

namespace guardband::report::drawing {

/// A stretch of the signal on the sheet: time to the right, level upwards.
class SignalView {
public:
    /// @param at_zero  where the sync edge of the line crosses blanking  @param mm_per_us, mm_per_volt  scales
    SignalView(const VideoLine& line, Point at_zero, double mm_per_us, double mm_per_volt)
        : line_(line), zero_(at_zero), mm_per_us_(mm_per_us), mm_per_volt_(mm_per_volt) {}

    double x(double us) const { return zero_.x + us * mm_per_us_; }
    double y(double mv) const { return zero_.y - mv / 1e3 * mm_per_volt_; }
    double mm_per_us() const { return mm_per_us_; }

    /// Levels to draw by: the system's, or three parts of sync to seven of picture where the table has none.
    Levels levels() const;

    /// One line from the end of the one before to the beginning of the next, `from_us` to `to_us`, with steps of grey
    /// for a picture.
    void draw_line(Svg& svg, const std::string& id, double from_us, double to_us) const;
    /// Sync, equalising and broad pulses of a field with the picture around them as plain blocks. Time counts from half
    /// line `from`.
    void draw_field(Svg& svg, const std::string& id, int field_number, int from, int to) const;
    /// Thin lines at the levels, their names and values at both ends.
    void draw_levels(Svg& svg, double left, double right) const;

private:
    void add_pulse(std::vector<Point>& points, const Pulse& pulse) const;
    void add_picture(std::vector<Point>& points, double origin_us) const;
    void draw_burst(Svg& svg, double origin_us) const;
    std::vector<Pulse> picture_stretches(int field_number, int from, int to) const;

    const VideoLine& line_;
    Point zero_;
    double mm_per_us_, mm_per_volt_;
};

}  // namespace guardband::report::drawing
