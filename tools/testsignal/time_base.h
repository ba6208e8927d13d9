#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "testsignal/picture.h"
#include "testsignal/recipe.h"
#include "testsignal/shift_kernel.h"

namespace guardband::testsignal {

/// A piece of a line that was lost.
struct Dropout {
    std::int64_t field = 0;  ///< in the order of time
    int line = 0;            ///< of the field, from 0 at its top
    double start_us = 0;     ///< from the left edge of the stored picture
    double length_us = 0;
    bool bright = false;
    bool held = false;  ///< filled from the line above
};

/// Moves the lines of each field sideways, blanks their ends and puts in dropouts. Does nothing where a recipe asks for
/// none of it.
///
/// A displaced line is the picture's line read between its samples by a `ShiftKernel` of 24 samples: up to 0.42 cycles
/// per sample (5.67 MHz at 13.5 MHz) its place errs by less than 0.001 samples (0.07 ns), and the low-pass of the
/// picture leaves nothing beyond. Blanking is a factor taken at each sample's place on the displaced line, so it has no
/// error of interpolation.
class TimeBase {
public:
    explicit TimeBase(const Recipe& recipe);

    /// Luma samples that must be drawn beyond either edge of the picture. A wider scene is another one, so nothing asks
    /// for them that doesn't need them: dropouts don't.
    int margin_px() const { return margin_px_; }

    /// By how much each line of a field lies too far to the right, ns. @param field  that the noise is numbered by
    std::vector<double> displacements_ns(std::int64_t field) const;
    /// By how many frame lines a field lies too low.
    double lower_lines(std::int64_t field) const;
    std::vector<Dropout> dropouts(std::int64_t field) const;

    /// @param picture  one field, drawn `margin_px` wider at either edge; is cut to its size
    void apply(std::int64_t field, Picture& picture);

private:
    void move(std::int64_t field, Picture& picture);
    void move_row(const float* in, int width, double position, float* out, int out_width);
    double blanking_factor(double x_px) const;
    void blank(Picture& picture, const std::vector<double>& moves_px) const;
    void lose(std::int64_t field, Picture& picture) const;

    Recipe recipe_;
    bool moves_;  ///< lines, or blanks their ends
    int margin_px_ = 0;
    ShiftKernel kernel_;
    std::vector<float> weights_, padded_;
    Picture moved_;
};

/// The figures that a measurement of the clip should give, by the meanings that the project gives them.
struct TimeBaseTruth {
    double time_base_error_rms_ns = 0, time_base_error_peak_ns = 0, line_jitter_rms_ns = 0, flagging_ns = 0;
    double vertical_jitter_rms_lines = 0;  ///< against the clip's mean
    std::optional<int> head_switch_line;
    std::optional<double> head_switch_step_ns;
};

/// Gathers them, field by field.
class TimeBaseTally {
public:
    explicit TimeBaseTally(const Recipe& recipe);
    void add(const std::vector<double>& displacements_ns, double lower_lines);
    TimeBaseTruth truth() const;

private:
    std::size_t first_ = 2, end_ = 0;  ///< lines that count: from the third to the head switch
    std::optional<int> head_switch_line_;
    std::vector<double> all_ns_, flagging_ns_, step_ns_, lower_lines_;
    double jitter_squares_ = 0;
    std::int64_t jitter_count_ = 0;
};

}  // namespace guardband::testsignal
