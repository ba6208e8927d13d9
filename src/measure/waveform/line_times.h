#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "measure/series.h"
#include "measure/waveform/field_layout.h"
#include "measure/waveform/head_switch_step.h"
#include "measure/waveform/line_clock.h"
#include "measure/waveform/tally.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// `line_rate`, `time_base_error_rms`, `line_jitter_rms`, `time_base_components`, and through
/// `HeadSwitchStep` `head_switch_line` and `skew`.
///
/// Method: within each second the times of both edges of line sync are held against the best constant line rate, so
/// that neither the capture's clock nor its drift counts, and nor do motions slower than about half a hertz. Lines that
/// count are those from the third after field blanking to the head switch, or to the equalising pulses without one. A
/// line is read twice, by its leading and by its trailing edge; their product takes the place of the square, so that
/// noise on the edges adds nothing to the mean. The trailing edge lies a little way towards the next line's place; that
/// is made up for. Bias: none from white noise; a width of sync that changes from line to line reads as no error.
/// Scatter: from field to field, in the uncertainty.
class LineTimes {
public:
    LineTimes(const FieldLayout& layout, double rate_hz, const SyncShape& sync);

    /// One row a line, once its second is over.
    static constexpr std::array<std::string_view, 7> series_columns{
        "time_s", "line", "field", "line_of_field", "displacement_ns", "sync_width_us", "counted"};
    void write_series(SeriesSink sink) { sink_ = std::move(sink); }

    void see_line(const VideoLine& line);
    void finish(quantity::Figures& figures);
    /// Lines before field sync where heads change over; nothing if they don't.
    std::optional<double> head_switch_line() const { return head_switch_.lines_before_sync(); }

private:
    struct Fit {
        double first_number = 0, mean_number = 0, mean_place = 0, slope = 0;
        double at(double number) const { return mean_place + slope * (number - mean_number); }
    };

    bool counts(std::size_t i) const;
    std::optional<Fit> fit(double LineMoment::*edge) const;
    void close_stretch();
    void add_squares(const Fit& lead, const Fit& trail);
    std::vector<DisplacedLine> displaced_by(const Fit& fit) const;
    void keep_series(const std::vector<DisplacedLine>& lines);
    void write_rows(const Fit& fit) const;
    quantity::Figure components() const;

    SeriesSink sink_;
    FieldLayout layout_;
    double rate_hz_, line_samples_, width_share_;
    std::vector<LineMoment> stretch_;
    std::vector<std::optional<double>> to_next_field_;
    HeadSwitchStep head_switch_;
    double uncounted_;  ///< lines before the next field sync that do not count
    bool saw_fields_ = false;
    Tally slope_, square_, step_square_;
    double lines_in_slope_ = 0, weighted_slope_ = 0;
    std::int64_t counted_ = 0;
    std::int64_t last_in_series_ = -1;
    std::vector<float> series_;  ///< displacement of each line, samples, of the first minute
};

}  // namespace guardband::measure
