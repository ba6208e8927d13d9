#pragma once

#include <cstdint>
#include <vector>

#include "testsignal/composite/exact_ramp.h"
#include "testsignal/composite/recipe.h"
#include "testsignal/composite/scan_pattern.h"

namespace guardband::testsignal {

/// A run of samples that show one stretch of one line: time on the line, from its sync edge, runs straight.
struct LineRun {
    std::int64_t line = 0;          ///< from 0, line 1 of the first frame
    std::int64_t first_sample = 0;  ///< may be negative at the start of the recording
    int count = 0;
    double first_us = 0;  ///< time on the line of the first sample, as it was meant
    double step_us = 0;   ///< from sample to sample
};

/// Where everything stands in time: sampling clock, line rate, subcarrier, displacement of lines.
class Timeline {
public:
    explicit Timeline(const CompositeRecipe& recipe);

    std::int64_t sample_count() const { return sample_count_; }
    std::int64_t first_line() const { return first_line_; }
    /// The stretches of a line, cut to the recording: one, or two where the head switch falls into it; from the
    /// middle of the front porch before it to the middle of the next.
    std::vector<LineRun> runs(std::int64_t line) const;
    /// How late a line's sync edge is, ns.
    double displacement_ns(std::int64_t line) const;
    /// Sample number, with its fraction, at which a line's sync edge stands.
    double edge_sample(std::int64_t line) const;
    /// Turns of the U axis at the first sample of a run, whole ones left out.
    double subcarrier_turns(const LineRun& run) const;
    /// Turns from one sample of a run to the next.
    double turns_per_sample(const LineRun& run) const;
    /// Half line, with its fraction, at which a field's head switch is; below a field's vertical sync.
    double switch_half_line(std::int64_t field) const;
    double samples_per_us() const { return samples_per_us_; }

private:
    double displaced_samples(double half_line, bool before_switch) const;
    double random_ns(std::int64_t line) const;
    double step_ns(double half_line, bool before_switch) const;
    double flagging_ns(double half_line, bool before_switch) const;
    double lateness_ns(double half_line, bool before_switch) const;
    LineRun run_between(std::int64_t line, double from_us, double to_us, double late_at_start,
                        double late_at_end) const;

    CompositeRecipe recipe_;
    ScanPattern pattern_;
    ExactRamp samples_per_line_, turns_per_line_, crystal_turns_per_sample_;
    double samples_per_us_, line_us_, turns_per_us_ = 0, origin_, margin_us_;
    std::int64_t sample_count_, first_line_;
};

}  // namespace guardband::testsignal
