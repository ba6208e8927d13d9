#include "measure/waveform/head_switch_step.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int most_lines_before = 20;  ///< a switch earlier than that is none
constexpr double least_step_s = 20e-9;
constexpr double least_significance = 3;
constexpr std::int64_t least_fields = 2;

}  // namespace

/// Each field sync of the stretch with the lines around it.
void HeadSwitchStep::see_stretch(const std::vector<DisplacedLine>& lines) {
    for (std::size_t change = 1; change < lines.size(); ++change) {
        const LineMoment& now = lines[change].moment;
        if (now.field < 0 || now.field == lines[change - 1].moment.field) continue;
        // A field is known for one from its second broad pulse on: its first line may have gone by.
        const std::size_t i = change - std::min(change, static_cast<std::size_t>(std::max(0, now.in_field)));
        if (i < before || i + after > lines.size()) continue;
        if (lines[i + after - 1].moment.number - lines[i - before].moment.number != before + after - 1) continue;
        Profile& profile = profiles_[now.half_line ? 1 : 0];
        // Against the lines well before, so that what is slower than the field drops out.
        double reference = 0;
        for (int k = 0; k < 5; ++k) reference += lines[i - before + static_cast<std::size_t>(k)].samples / 5;
        for (int k = 0; k < before + after; ++k)
            profile.places[static_cast<std::size_t>(k)].add(lines[i - before + static_cast<std::size_t>(k)].samples -
                                                            reference);
    }
}

/// Least squares of a + b k + step (k ≥ at) for each place of the step; the one that leaves least.
std::optional<HeadSwitchStep::Step> HeadSwitchStep::step_of(const Profile& profile, double half) {
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
        best = Step{before - at + half + 0.5, 0, step, std::sqrt(left / (n - 3) / norm)};
        // How sure its place is: a step that hardly stands out of single lines may be the neighbour's.
        const double of_one_line = std::sqrt(left / (n - 3));
        best->line_uncertainty = std::min(2.0, std::pow(2 * of_one_line / std::max(1e-12, std::abs(step)), 2));
    }
    return best;
}

HeadSwitchStep::Finding HeadSwitchStep::find() const {
    Tally line, step;
    double square = 0, low = -1e9, high = 1e9;
    Finding finding;
    for (const std::size_t kind : {std::size_t{0}, std::size_t{1}}) {
        // Lines before the start of field sync, which in every other field comes half a line before a line's sync.
        const auto found = step_of(profiles_[kind], kind == 1 ? -0.5 : 0);
        if (!found) continue;
        line.add(found->lines_before_sync);
        low = std::max(low, found->lines_before_sync - 0.5);
        high = std::min(high, found->lines_before_sync + 0.5);
        step.add(found->samples);
        square += found->samples * found->samples;
        finding.step.uncertainty = std::max(finding.step.uncertainty, found->uncertainty);
        finding.step.line_uncertainty = std::max(finding.step.line_uncertainty, found->line_uncertainty);
    }
    // Where the kinds don't agree the switch itself moves, or noise hides it.
    const bool agree = low < high;
    finding.step.lines_before_sync = agree ? (low + high) / 2 : line.mean();
    finding.step.line_uncertainty =
        std::hypot(finding.step.line_uncertainty, agree ? (high - low) / std::sqrt(12) : line.uncertainty() + 0.3);
    finding.step.samples = step.mean();
    const double size = std::sqrt(square / std::max<double>(1, static_cast<double>(step.count())));
    if (step.count() == 0)
        finding.why = "no field sync was seen with the lines before it";
    else if (size < least_significance * finding.step.uncertainty || size / rate_hz_ < least_step_s)
        finding.why = "no step stands out in the lines before field sync: no head switch";
    return finding;
}

std::optional<double> HeadSwitchStep::lines_before_sync() const {
    const Finding finding = find();
    return finding.why.empty() ? std::optional(finding.step.lines_before_sync) : std::nullopt;
}

void HeadSwitchStep::finish(quantity::Figures& figures) const {
    const Finding finding = find();
    if (!finding.why.empty()) {
        figures.add("head_switch_line", Figure::unknown(finding.why));
        figures.add("skew", Figure::unknown(finding.why));
        return;
    }
    const double us = 1e6 / rate_hz_;
    figures.add("head_switch_line",
                Figure::measured(finding.step.lines_before_sync, finding.step.line_uncertainty, "lines"));
    figures.add("skew",
                Figure::measured(finding.step.samples * us, std::max(0.002, finding.step.uncertainty * us), "µs")
                    .with_note("positive: the lines after the switch come late"));
}

}  // namespace guardband::measure
