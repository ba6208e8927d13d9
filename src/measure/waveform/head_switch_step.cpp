#include "measure/waveform/head_switch_step.h"

#include <fmt/format.h>

#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int most_lines_before = 20;    ///< a switch earlier than that is none
constexpr double least_step_s = 20e-9;
constexpr double least_significance = 3;
constexpr std::int64_t least_fields = 2;

}  // namespace

/// Each field sync of the stretch with the lines around it.
void HeadSwitchStep::see_stretch(const std::vector<LineTimes::Displaced>& lines) {
    for (std::size_t i = before; i + after <= lines.size(); ++i) {
        const LineMoment& first = lines[i].moment;
        if (first.in_field != 0 || lines[i - 1].moment.field == first.field) continue;
        if (lines[i + after - 1].moment.number - lines[i - before].moment.number != before + after - 1) continue;
        Profile& profile = profiles_[first.half_line ? 1 : 0];
        // Against the lines well before, so that what is slower than the field drops out.
        double reference = 0;
        for (int k = 0; k < 5; ++k) reference += lines[i - before + static_cast<std::size_t>(k)].samples / 5;
        for (int k = 0; k < before + after; ++k)
            profile.places[static_cast<std::size_t>(k)].add(lines[i - before + static_cast<std::size_t>(k)].samples - reference);
    }
}

/// Least squares of a + b k + step (k ≥ at) for each place of the step; the one that leaves least.
std::optional<HeadSwitchStep::Step> HeadSwitchStep::step_of(const Profile& profile, double half) const {
    if (profile.places.front().count() < least_fields) return std::nullopt;
    constexpr int n = before + after;
    std::optional<Step> best;
    double best_left = 0;
    for (int at = before - most_lines_before; at < n - 1; ++at) {
        // The regressors made orthogonal: constant, ramp, step less what these two explain of it.
        double ramp_norm = 0, step_mean = double(n - at) / n, step_ramp = 0, mean = 0;
        for (int k = 0; k < n; ++k) {
            const double r = k - (n - 1) / 2.0;
            ramp_norm += r * r;
            step_ramp += r * (k >= at ? 1 : 0);
            mean += profile.places[static_cast<std::size_t>(k)].mean() / n;
        }
        double norm = 0, product = 0, ramp_product = 0;
        for (int k = 0; k < n; ++k)
            ramp_product += (k - (n - 1) / 2.0) * profile.places[static_cast<std::size_t>(k)].mean();
        const auto pure_step = [&](int k) {
            return (k >= at ? 1 : 0) - step_mean - step_ramp / ramp_norm * (k - (n - 1) / 2.0);
        };
        for (int k = 0; k < n; ++k) {
            norm += pure_step(k) * pure_step(k);
            product += pure_step(k) * profile.places[static_cast<std::size_t>(k)].mean();
        }
        const double step = product / norm;
        double left = 0;
        for (int k = 0; k < n; ++k) {
            const double rest = profile.places[static_cast<std::size_t>(k)].mean() - mean -
                                ramp_product / ramp_norm * (k - (n - 1) / 2.0) - step * pure_step(k);
            left += rest * rest;
        }
        if (best && left >= best_left) continue;
        best_left = left;
        best = Step{before - at + half + 0.5, step, std::sqrt(left / (n - 3) / norm)};
    }
    return best;
}

void HeadSwitchStep::finish(quantity::Figures& figures) const {
    Tally line, step;
    double square = 0, uncertainty = 0;
    std::string parts;
    for (const std::size_t kind : {std::size_t{0}, std::size_t{1}}) {
        // Lines before the start of field sync, which in every other field comes half a line before a line's sync.
        const auto found = step_of(profiles_[kind], kind == 1 ? -0.5 : 0);
        if (!found) continue;
        line.add(found->lines_before_sync);
        step.add(found->samples);
        square += found->samples * found->samples;
        uncertainty = std::max(uncertainty, found->uncertainty);
    }
    const double us = 1e6 / rate_hz_;
    const double size = std::sqrt(square / std::max<double>(1, static_cast<double>(step.count())));
    if (step.count() == 0 || size < least_significance * uncertainty || size / rate_hz_ < least_step_s) {
        const std::string why = step.count() == 0 ? "no field sync was seen with the lines before it"
                                                  : "no step stands out in the lines before field sync: no head switch";
        figures.add("head_switch_line", Figure::unknown(why));
        figures.add("skew", Figure::unknown(why));
        return;
    }
    figures.add("head_switch_line", Figure::measured(line.mean(), std::max(0.3, line.uncertainty()), "lines"));
    figures.add("skew", Figure::measured(step.mean() * us, std::max(0.002, uncertainty * us), "µs")
                            .with_note("positive: the lines after the switch come late"));
}

}  // namespace guardband::measure
