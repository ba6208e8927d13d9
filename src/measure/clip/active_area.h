#pragma once

#include <array>
#include <optional>
#include <vector>

#include "measure/clip/active_raster.h"
#include "measure/clip/level_counts.h"
#include "measure/clip/luma_range.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `active_left`, `active_right` (samples), `active_top`, `active_bottom` (frame lines): how much of the stored raster
/// lies blank beside the picture; with the picture's own width and height they add up to the raster.
///
/// Method: means over bands of 48 lines tell how bright each column gets; where the outermost one stays at a steady
/// level near black, there is blanking, and the picture begins about where the mean over the clip is half way up to
/// what it is some samples further in. The median over some lines of where each is half way up gives the place more
/// finely. Lines likewise by their halves, whole lines only; a line counts as picture if half of it does. Bias below
/// 0.5 samples where the picture near its edge is about as bright as further in; a time base that sways is averaged.
/// Needs a few frames that are brighter than black near their edges. Can't tell: blanking from pictures that are flat
/// black there all the time; data lines above the picture from picture.
class ActiveArea final : public ClipMeasurement {
public:
    explicit ActiveArea(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void see_columns(const FrameFeatures& features);
    void see_lines(const FrameFeatures& features);
    void see_edges(const media::Frame& frame);
    bool is_lit() const;
    std::optional<ActiveEdge> refined(const ActiveEdge& coarse, bool steep, bool right) const;
    std::optional<ActiveEdge> column_edge(bool right) const;
    std::optional<ActiveEdge> edge_below_blanking() const;
    std::optional<ActiveEdge> line_edge(bool bottom) const;
    bool line_is_lit(std::size_t line, double blanking, int half) const;
    bool is_half_line(double line) const;

    const ClipContext& context_;
    LumaRange range_;
    double black_;  ///< 8-bit code
    int blanking_;  ///< lines of vertical blanking that the raster holds above the picture
    std::array<std::vector<float>, 2> crossings_;  ///< of single lines, left and right: samples before the picture
    LevelCounts columns_;                          ///< by column, from the left
    std::array<LevelCounts, 2> lines_;             ///< by frame line, of its left and right half
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
