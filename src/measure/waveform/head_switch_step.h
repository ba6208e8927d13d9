#pragma once

#include <array>

#include "measure/waveform/line_times.h"

namespace guardband::measure {

/// `head_switch_line` and `skew`: the step in the lines' places where a machine's heads take over from each other, some
/// lines before field sync.
///
/// Method: the places of the last lines before field sync and the first after it, averaged over fields, each kind of
/// field by itself; the step between two straight lines of one slope that explains them best. Only a step of three
/// times its own uncertainty and of more than 20 ns counts. Positive: the lines after the switch come late.
class HeadSwitchStep {
public:
    explicit HeadSwitchStep(double rate_hz, double line_samples) : rate_hz_(rate_hz), line_samples_(line_samples) {}
    void see_stretch(const std::vector<LineTimes::Displaced>& lines);
    void finish(quantity::Figures& figures) const;

private:
    static constexpr int before = 30, after = 3;
    struct Profile {
        std::array<Tally, before + after> places;  ///< samples, from the earliest line to the latest
    };
    struct Step {
        double lines_before_sync = 0, samples = 0, uncertainty = 0;
    };
    std::optional<Step> step_of(const Profile& profile, double half) const;

    double rate_hz_, line_samples_;
    std::array<Profile, 2> profiles_;  ///< of fields that start with a line, and half way between lines
};

}  // namespace guardband::measure
