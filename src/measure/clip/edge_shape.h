#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "measure/clip/edge_filter.h"
#include "measure/clip/edge_rows.h"

namespace guardband::measure {

/// Learns from a clip what the picture's edges look like against blanking: level and noise of the blanking, the rise of
/// the edges, and how the pictures change along their lines. Makes the filters that place edges from that.
///
/// Method: level and noise from the outermost samples, where they lie near black; the rise by which the edges that are
/// sure fit best over all fields, a step steeper or softer at a time; the pictures' course from squared differences
/// some way in from the edges. All of it in the first fields, and now and then later.
class EdgeShape {
public:
    /// @param black_code   where blanking should lie, 8-bit codes
    /// @param codec_error  by which the file's codec errs where an edge rises, beside the noise, RMS 8-bit codes
    EdgeShape(double black_code, double codec_error);
    ~EdgeShape();

    /// Level and noise, if the outermost samples look like blanking and it is time to look.
    /// @returns whether the filters have been made anew
    bool learn_blanking(const EdgeRows& rows);
    /// Rise and course, from a field whose edges have been found. @returns as `learn_blanking`
    bool learn(const EdgeRows& rows, std::span<const EdgeLine> lines);

    bool has_blanking() const { return has_blanking_; }
    double blanking() const { return blanking_; }       ///< 8-bit codes
    double noise() const { return noise_.everywhere; }  ///< RMS, 8-bit codes
    double rise_px() const;                             ///< of the filters, 10 % to 90 %
    std::int64_t fields() const { return fields_; }     ///< learnt from

    /// For an edge with this piece of picture behind it. @param window  `EdgeFilter::taps` samples above blanking
    const EdgeFilter& filter(const float* window) const;
    /// For an edge whose noise averages out over frames: errs less by what the picture does, more by noise.
    const EdgeFilter& averaged_filter(const float* window) const;
    /// For an edge whose picture is known but for this error, RMS 8-bit codes, and has been levelled.
    const EdgeFilter& foreseen_filter(float error_codes) const;

private:
    /// Filters for one rise, noise and course of the picture, by how lively the picture is beside the edge.
    struct FilterBank;

    bool learn_rise(const EdgeRows& rows, std::span<const EdgeLine> lines);
    void learn_course(const EdgeRows& rows, std::span<const EdgeLine> lines);
    bool renew_filters();
    double misfit(const EdgeRows& rows, std::span<const EdgeLine> lines, const FilterBank& bank) const;

    double black_code_;
    bool has_blanking_ = false;
    double blanking_;
    EdgeNoise noise_;
    std::unique_ptr<FilterBank> filters_;
    std::array<std::unique_ptr<FilterBank>, 2> neighbours_;  ///< the next steeper, the next softer; once wanted
    std::size_t rise_index_;
    std::vector<double> softer_fits_worse_;  ///< of each rise, by how much the next softer one does, over all fields
    std::int64_t fields_ = 0;
    PictureCourse course_;
    std::vector<double> squared_differences_;  ///< of the pictures' samples, by distance; with noise
    double pairs_ = 0;
    std::vector<float> spare_;
};

}  // namespace guardband::measure
