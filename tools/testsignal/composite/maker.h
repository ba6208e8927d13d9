#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "testsignal/composite/disturbance.h"
#include "testsignal/composite/line_painter.h"
#include "testsignal/composite/modulator.h"
#include "testsignal/composite/recipe.h"
#include "testsignal/composite/timeline.h"

namespace guardband::testsignal {

/// What is known of composite video because it was made so. Rates are true ones, per second of true time; as the
/// sampling clock sees them they are smaller by its error.
struct CompositeTruth {
    std::int64_t samples = 0;
    double true_rate_hz = 0;  ///< of the sampling
    double line_rate_hz = 0, field_rate_hz = 0, subcarrier_hz = 0;
    double noise_mv = 0;  ///< RMS
    // Displacement of lines from the third after field blanking to the head switch (else to the next equalising
    // pulses), against the best straight line through them; the lines that are wholly in the recording.
    std::int64_t counted_lines = 0;
    double time_base_error_rms_ns = 0, line_jitter_rms_ns = 0;
    std::vector<double> skews_us;  ///< step at each head switch
    std::vector<CompositeDropout> dropouts;
};

/// Draws composite video, a line at a time. The same recipe gives the same samples.
class CompositeMaker {
public:
    explicit CompositeMaker(CompositeRecipe recipe);

    /// The samples that follow, in shares of full scale, about a line of them. @returns false at the end
    bool next(std::vector<float>& samples);
    /// Of what `next` has given; all of it after the last.
    CompositeTruth truth() const;
    const CompositeRecipe& recipe() const { return recipe_; }
    const Timeline& timeline() const { return timeline_; }
    const ScanPattern& pattern() const { return pattern_; }

private:
    void note(std::int64_t line);

    /// Sums for the best straight line through displacements.
    struct Fit {
        double n = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
        double jitter_squares = 0, jitter_n = 0;
    };

    CompositeRecipe recipe_;
    ScanPattern pattern_;
    Timeline timeline_;
    LinePainter painter_;
    Modulator modulator_;
    Disturbance disturbance_;
    PaintedLine line_;
    std::int64_t next_line_, next_sample_ = 0;
    Fit fit_;
    std::optional<double> before_ns_;
    std::vector<double> skews_us_;
};

/// All of a recording at once, for tests.
std::vector<float> make_composite(const CompositeRecipe& recipe);

}  // namespace guardband::testsignal
