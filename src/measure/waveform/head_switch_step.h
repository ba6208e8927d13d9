#pragma once

#include <array>

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/waveform/tally.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// A sync as far as time matters.
struct LineMoment {
    std::int64_t number = 0;
    double lead = 0, trail = 0;  ///< samples; `trail` is no number if sync has not a line's width
    int in_field = -1;
    std::int64_t field = -1;
    bool half_line = false;  ///< the field starts half way between lines
    double field_place = 0;
};

/// How far a line lies to the right of where it should, samples.
struct DisplacedLine {
    LineMoment moment;
    double samples = 0;
};

/// `head_switch_line` and `skew`: the step in the lines' places where a machine's heads take over from each other, some
/// lines before field sync.
///
/// Method: the places of the last lines before field sync and the first after it, averaged over fields, each kind of
/// field by itself; the step between two straight lines of one slope that explains them best. Only a step of three
/// times its own uncertainty and of more than 20 ns counts. Positive: the lines after the switch come late. Each kind
/// of field tells between which two syncs the switch lies, and those of the two kinds lie half a line apart: together
/// they tell the half line, and its middle is given (a standard uncertainty of 0.14 lines, 0.29 where only one kind
/// tells). A step of more than a sixth of a line is not followed.
class HeadSwitchStep {
public:
    explicit HeadSwitchStep(double rate_hz) : rate_hz_(rate_hz) {}
    void see_stretch(const std::vector<DisplacedLine>& lines);
    /// Where the switch is, as far as known by now; nothing if there is none.
    std::optional<double> lines_before_sync() const;
    void finish(quantity::Figures& figures) const;

private:
    static constexpr int before = 30, after = 3;
    struct Profile {
        std::array<Tally, before + after> places;  ///< samples, from the earliest line to the latest
    };
    struct Step {
        double lines_before_sync = 0;  ///< the middle between the lines before and after it
        double line_uncertainty = 0;   ///< of that
        double samples = 0, uncertainty = 0;
    };
    struct Finding {
        Step step;        ///< mean of both kinds of field
        std::string why;  ///< there is none; empty if there is
    };
    static std::optional<Step> step_of(const Profile& profile, double half);
    Finding find() const;

    double rate_hz_;
    std::array<Profile, 2> profiles_;  ///< of fields that start with a line, and half way between lines
};

}  // namespace guardband::measure
