#include "measure/pulses/recorded_mode.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace guardband::measure {
namespace {

constexpr double reach = 0.04;

struct Fit {
    std::string address;
    double recorded_rate_hz, off;
};

const table::Fact* number_in(const table::TapeFormat& format, const table::Mode& mode, const char* key) {
    const table::Fact* fact = format.fact_in(mode, key);
    return fact != nullptr && fact->is_number() ? fact : nullptr;
}

/// All modes with speed and control-track rate, the nearest to the rate seen first.
std::vector<Fit> fits_of(const table::TapeFormat& format, const table::Mode& playing, double played_mm_s,
                         double rate_hz) {
    std::vector<Fit> fits;
    for (const table::Mode& mode : format.modes) {
        const table::Fact* speed = number_in(format, mode, "tape_speed");
        const table::Fact* rate = number_in(format, mode, "control_track_rate");
        if (speed == nullptr || rate == nullptr) continue;
        const double recorded_hz = rate->in("Hz");
        const double expected_hz = recorded_hz * played_mm_s / speed->in("mm/s");
        fits.push_back({table::address_of(format, mode), recorded_hz, std::abs(std::log(rate_hz / expected_hz))});
    }
    // Of modes alike in speed and rate the machine's own goes first.
    const std::string own = table::address_of(format, playing);
    std::ranges::stable_sort(fits, {}, [&](const Fit& fit) { return std::pair(fit.off, fit.address != own); });
    return fits;
}

std::string missing_reason(const table::TapeFormat& format, const table::Mode& playing) {
    for (const table::FormatSystem& system : format.systems)
        if (system.id == playing.system)
            if (const table::Fact* rate = system.facts.find("control_track_rate"); rate != nullptr && !rate->is_known())
                return rate->unknown;
    return "no source gives it";
}

}  // namespace

RecordedMode recorded_mode(const table::TapeFormat& format, const table::Mode& playing, double rate_hz,
                           double rate_uncertainty_hz) {
    RecordedMode found;
    const std::string address = table::address_of(format, playing);
    const table::Fact* speed = number_in(format, playing, "tape_speed");
    const table::Fact* rate = number_in(format, playing, "control_track_rate");
    if (speed == nullptr || rate == nullptr) {
        found.reason =
            fmt::format("the table has no {} of {}: {}", speed == nullptr ? "tape speed" : "control-track rate",
                        address, missing_reason(format, playing));
        return found;
    }
    const double played_mm_s = speed->in("mm/s");
    const std::vector<Fit> fits = fits_of(format, playing, played_mm_s, rate_hz);
    double recorded_hz = rate->in("Hz");
    if (!fits.empty() && fits.front().off < reach) {
        found.address = fits.front().address;
        recorded_hz = fits.front().recorded_rate_hz;
        for (std::size_t i = 1; i < fits.size(); ++i)
            if (fits[i].off < reach) found.others.push_back(fits[i].address);
    } else {
        found.reason = fmt::format("no mode of {} gives pulses within {:g} % of this rate; the nearest is {}",
                                   format.id, 100 * reach, fits.empty() ? "none" : fits.front().address);
    }
    found.speed_ratio = rate_hz / recorded_hz;
    found.tape_speed_mm_s = played_mm_s / found.speed_ratio;
    const double half_width = (speed->highest_in("mm/s") - speed->lowest_in("mm/s")) / 2;
    found.relative_uncertainty =
        std::hypot(rate_uncertainty_hz / rate_hz, half_width / played_mm_s / std::numbers::sqrt3);
    return found;
}

}  // namespace guardband::measure
