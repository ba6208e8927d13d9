#include "measure/clip/stamp_period.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// A step counts as a multiple if it is off by less than this share of the step sought.
constexpr double multiple_tolerance = 0.2;
/// More frames than this in a row are not missing in what is used to find the step.
constexpr double most_multiple = 16;
/// A larger step is preferred to a smaller one if it explains nearly as many; jitter makes the shares differ by some
/// per cent.
constexpr double nearly_as_many = 0.97;

double multiple(double step, double unit) { return std::max(1.0, std::round(step / unit)); }

bool explains(double unit, double step) {
    const double times = multiple(step, unit);
    return times <= most_multiple && std::abs(step / unit - times) < multiple_tolerance;
}

auto explained(double unit, std::span<const double> steps) {
    return std::ranges::count_if(steps, [&](double step) { return explains(unit, step); });
}

/// The mean of what the explained steps say of the unit: over an undisturbed row it is the row's length over its steps,
/// and rounding cancels.
double refined(double unit, std::span<const double> steps) {
    double sum = 0, units = 0;
    for (const double step : steps)
        if (explains(unit, step)) sum += step, units += multiple(step, unit);
    return sum / units;
}

}  // namespace

double common_step(std::span<const double> steps) {
    std::vector<double> rising;
    std::ranges::copy_if(steps, std::back_inserter(rising), [](double step) { return step > 0; });
    if (rising.empty()) return 0;
    std::ranges::sort(rising);
    long most = 0;
    for (const double unit : rising) most = std::max<long>(most, explained(unit, rising));
    for (auto unit = rising.rbegin(); unit != rising.rend(); ++unit)
        if (static_cast<double>(explained(*unit, rising)) >= nearly_as_many * static_cast<double>(most))
            return refined(*unit, rising);
    return refined(rising.front(), rising);
}

double refined_period(std::span<const double> ticks, double step) {
    double period = step;
    std::vector<double> periods;
    for (const std::size_t lag :
         {4U, 16U, 48U}) {  // each long enough to be worth it, and short enough to be counted by the last
        periods.clear();
        for (std::size_t i = lag; i < ticks.size(); ++i) {
            const double length = ticks[i] - ticks[i - lag];
            if (const double count = std::round(length / period); count >= 1) periods.push_back(length / count);
        }
        if (!periods.empty()) period = dsp::median(periods);
    }
    return period;
}

}  // namespace guardband::measure
