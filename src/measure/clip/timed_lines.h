#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "dsp/uneven_sines.h"
#include "measure/clip/displacement_series.h"
#include "measure/clip/fixed_displacement.h"

namespace guardband::measure {

/// The displacements of a series' lines, or of means over a few of them, with the times at which they were scanned, and
/// with their place in the frame.
class TimedLines {
public:
    /// Of what returns with each frame: what both fields share, and what they differ by.
    struct Locked {
        bool alike = false, apart = false;
    };

    /// @param end            first line of the fields that no longer counts
    /// @param lines_of_mean  a mean counts from half of its lines on
    /// @param frames         so many, from the first
    TimedLines(const DisplacementSeries& series, std::size_t end, const LineTiming& timing, std::size_t lines_of_mean,
               std::size_t frames);

    dsp::UnevenSeries all;  ///< samples

    double seconds() const { return all.times_s.empty() ? 0 : all.times_s.back() - all.times_s.front(); }
    /// Half of what the two edges differ by, where both are seen; nothing if that is less than half of all.
    std::optional<dsp::UnevenSeries> apart() const;

    /// Mean of values at each place of the frame, less the mean of all. @param values  one for each of `all`; what is
    /// not a number is passed over
    std::vector<double> pattern(const std::vector<double>& values, Locked locked) const;
    std::vector<double> pattern_of_apart(Locked locked) const;
    /// A pattern at its places' times in a frame.
    dsp::UnevenSeries pattern_series(const std::vector<double>& pattern) const;
    void subtract(const std::vector<double>& pattern, std::vector<double>& values) const;

private:
    std::size_t places_ = 0;          ///< of a field
    std::vector<std::size_t> place_;  ///< of each value: those of the upper rows' field first
    std::vector<double> apart_;       ///< not a number where it isn't known
    std::vector<double> place_s_;
};

}  // namespace guardband::measure
