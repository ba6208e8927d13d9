#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "measure/waveform/field_layout.h"
#include "measure/waveform/line_clock.h"
#include "measure/waveform/tally.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// A sync as far as time matters.
struct LineMoment {
    std::int64_t number = 0;
    double lead = 0, trail = 0;  ///< samples
    int in_field = -1;
    std::int64_t field = -1;
    bool half_line = false;  ///< the field starts half way between lines
    double field_place = 0;
};

/// `line_rate`, `time_base_error_rms`, `line_jitter_rms`, `time_base_components`.
///
/// Method: within each second the times of both edges of line sync are held against the best constant line rate, so
/// that neither the capture's clock nor its drift counts, and nor do motions slower than about half a hertz. Lines that
/// count are those from the third after field blanking to the twelfth before field sync. A line is read twice, by
/// its leading and by its trailing edge; their product takes the place of the square, so that noise on the edges adds
/// nothing to the mean. Bias: none from white noise; a width of sync that changes from line to line reads as no error.
/// Scatter: from field to field, in the uncertainty.
class LineTimes {
public:
    LineTimes(const FieldLayout& layout, double rate_hz, double line_samples);

    void see_line(const VideoLine& line);
    void finish(quantity::Figures& figures);

    /// How far a line lies to the right of where it should, samples, of one stretch; for who looks on (head switch).
    struct Displaced {
        LineMoment moment;
        double samples = 0;
    };
    const std::vector<Displaced>& last_stretch() const { return displaced_; }
    /// True right after a stretch was closed.
    bool closed_stretch() const { return closed_; }

private:
    struct Fit {
        double first_number = 0, mean_number = 0, mean_place = 0, slope = 0;
        double at(double number) const { return mean_place + slope * (number - mean_number); }
    };

    bool counts(std::size_t i) const;
    std::optional<Fit> fit(double LineMoment::*edge) const;
    void close_stretch();
    void add_products(const Fit& lead, const Fit& trail);
    quantity::Figure components() const;

    FieldLayout layout_;
    double rate_hz_, line_samples_;
    std::vector<LineMoment> stretch_;
    std::vector<std::optional<double>> to_next_field_;
    std::vector<Displaced> displaced_;
    bool closed_ = false;
    Tally slope_, square_, step_square_;
    double lines_in_slope_ = 0, weighted_slope_ = 0;
    std::int64_t counted_ = 0;
    std::int64_t last_in_series_ = -1;
    std::vector<float> series_;  ///< displacement of each line, samples, of the first minute
};

}  // namespace guardband::measure
