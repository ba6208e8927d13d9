#include "measure/clip/usual_step.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t fewest_fields = 4;
constexpr double least_share = 0.25;
/// Steps this near to the densest ones may be the same step: 220 ns, as large as jitter gets. Of these, what lies
/// beyond three of their deviations, or a fiftieth of a sample where they hardly scatter, is another one.
constexpr double near_px = 3, deviations = 3, least_spread_px = 0.02;

UsualStep usual(const std::vector<double>& steps, std::size_t fields) {
    const double densest = dsp::half_sample_mode(steps);
    std::vector<double> off;
    for (const double step : steps)
        if (std::abs(step - densest) < near_px) off.push_back(std::abs(step - densest));
    constexpr double sigma_per_mad = 1.4826;
    const double spread = std::max(sigma_per_mad * dsp::median(std::span<const double>(off)), least_spread_px);
    double sum = 0, count = 0;
    for (const double step : steps)
        if (std::abs(step - densest) <= deviations * spread) sum += step, ++count;
    return {sum / count, count / static_cast<double>(fields)};
}

}  // namespace

UsualStep usual_step(const DisplacementStore& store, std::size_t parity, std::size_t line, float SeenStep::*part) {
    std::vector<double> steps;
    for (std::size_t i = 0; i < store.frames(); ++i)
        if (const auto& field = store.steps(i)[parity]; line < field.size() && !std::isnan(field[line].*part))
            steps.push_back(static_cast<double>(field[line].*part));
    const double fewest = std::max(least_share * static_cast<double>(store.frames()), double{fewest_fields});
    return static_cast<double>(steps.size()) < fewest ? UsualStep{} : usual(steps, store.frames());
}

}  // namespace guardband::measure
