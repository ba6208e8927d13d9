#include "calc/track_carriers.h"

#include <array>
#include <cmath>

#include "calc/head_losses.h"

namespace guardband::calc {
namespace {

struct Kind {
    const char *key, *name;
    bool is_sound, is_colour_under;
};

constexpr std::array kinds{Kind{"luma_carrier_sync", "luminance, sync tip", false, false},
                           Kind{"luma_carrier_blanking", "luminance, blanking", false, false},
                           Kind{"luma_carrier_white", "luminance, white", false, false},
                           Kind{"colour_under_carrier", "colour-under", false, true},
                           Kind{"hifi_carrier_left", "FM sound, left", true, false},
                           Kind{"hifi_carrier_right", "FM sound, right", true, false}};

Worked wavelength(const Worked& writing, const table::Fact& carrier) {
    Worked worked = writing;
    if (!writing.spread) return worked;
    const Input speed{writing.spread->value, writing.spread->standard_uncertainty * std::sqrt(3.0)};
    worked.spread = spread_of([](std::span<const double> x) { return wavelength_um(x[0], 1e6 * x[1]); },
                              {speed, input_of(carrier, "MHz")});
    worked.facts.push_back(&carrier);
    return worked;
}

}  // namespace

Worked writing_speed_or_printed(const TrackFacts& facts, const table::TapeFormat& format, const table::Mode& mode) {
    Worked worked = writing_speed(facts);
    const table::Fact* printed = format.fact_in(mode, "writing_speed");
    if (worked.spread || printed == nullptr) return worked;
    return {spread_of([](std::span<const double> x) { return x[0]; }, {input_of(*printed, "m/s")}),
            {printed},
            {},
            "the writing speed as it is printed"};
}

std::vector<Carrier> carriers_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const Worked writing = writing_speed_or_printed(track_facts(table, format, mode), format, mode);
    std::vector<Carrier> carriers;
    for (const Kind& kind : kinds)
        if (const table::Fact* fact = format.fact_in(mode, kind.key); fact != nullptr && fact->is_number())
            carriers.push_back({kind.name, fact, kind.is_sound, kind.is_colour_under, wavelength(writing, *fact)});
    return carriers;
}

}  // namespace guardband::calc
