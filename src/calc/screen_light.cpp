#include "calc/screen_light.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/beat.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

void require(const ScreenLight& light, double exposure_s) {
    if (!(light.rate_hz > 0) || !(exposure_s > 0) || !(light.decay_s >= 0))
        throw quantity::DomainError("rate and exposure must be above 0, decay not below");
}

/// 1 − exp(−t/τ): the share of a flash that has come by its age t. All of it where there is no afterglow.
double share_by(double age_s, double decay_s) { return decay_s == 0 ? 1 : -std::expm1(-age_s / decay_s); }

/// What is left of a flash at an age.
double left_at(double age_s, double decay_s) { return decay_s == 0 ? 0 : std::exp(-age_s / decay_s); }

/// Part of a period by which an exposure exceeds whole periods; a few roundings beside a whole one are none.
double part_beyond_whole(double periods) {
    const double part = periods - std::floor(periods);
    const double rounding = 1e-13 * periods;  // of rate times exposure, a few units in the last place
    return part < rounding || 1 - part < rounding ? 0 : part;
}

}  // namespace

double exposed_light(const ScreenLight& light, double start_s, double exposure_s) {
    require(light, exposure_s);
    const double period = 1 / light.rate_hz, decay = light.decay_s;
    const double from = start_s - std::floor(start_s / period) * period, to = from + exposure_s;
    const double first = from == 0 ? 0 : 1;  // the first flash within, counted from the one before the start
    const double within = std::max(0.0, std::ceil(to / period) - first);
    const double of_a_period = share_by(period, decay);
    double flashes = share_by(exposure_s, decay) * left_at(from - (first - 1) * period, decay) / of_a_period;
    if (within > 0) {
        const double youngest = to - (first + within - 1) * period;
        flashes += within - left_at(youngest, decay) * share_by(within * period, decay) / of_a_period;
    }
    return flashes * period / exposure_s;
}

double first_harmonic_depth(const ScreenLight& light, double exposure_s) {
    require(light, exposure_s);
    return 2 * exposure_gain(light.rate_hz, exposure_s) /
           std::hypot(1, 2 * std::numbers::pi * light.rate_hz * light.decay_s);
}

double peak_to_peak(const ScreenLight& light, double exposure_s) {
    require(light, exposure_s);
    const double period = 1 / light.rate_hz, part = part_beyond_whole(exposure_s * light.rate_hz);
    if (part == 0) return 0;
    return period / exposure_s * share_by(part * period, light.decay_s) * share_by((1 - part) * period, light.decay_s) /
           share_by(period, light.decay_s);
}

}  // namespace guardband::calc
