#include "testsignal/composite/system.h"

#include <algorithm>

#include "quantity/errors.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;
using table::Fact;
using table::Facts;

const Fact& needed(const Facts& facts, const std::string& owner, const char* key) {
    const Fact* fact = facts.known(key);
    if (fact == nullptr) throw InputError(owner, std::string("has no ") + key + " in the table", "draw another system");
    return *fact;
}

double number(const Facts& facts, const std::string& owner, const char* key, const char* unit) {
    return needed(facts, owner, key).in(unit);
}

int count(const Facts& facts, const std::string& owner, const char* key) {
    return static_cast<int>(*needed(facts, owner, key).value);
}

quantity::Rational exact_hz(const Facts& facts, const std::string& owner, const char* key) {
    const Fact& fact = needed(facts, owner, key);
    if (!fact.exact) throw InputError(owner, std::string("has no exact ") + key, "draw another system");
    return *fact.exact;
}

void take_scanning(const table::Scanning& scanning, CompositeSystem& s) {
    const Facts& f = scanning.facts;
    const std::string& id = scanning.id;
    s.scanning = id;
    s.lines = static_cast<int>(scanning.lines().numerator());
    s.line_rate_hz = scanning.line_rate();
    s.line_us = 1e6 / s.line_rate_hz.value();
    s.front_porch_us = number(f, id, "front_porch", "µs");
    s.sync_us = number(f, id, "sync_width", "µs");
    s.picture_start_us = number(f, id, "sync_to_picture", "µs");
    s.blanking_rise_us = number(f, id, "line_blanking_rise", "µs");
    s.sync_rise_us = number(f, id, "sync_rise", "µs");
    s.equalising = count(f, id, "equalising_pulses");
    s.equalising_us = s.equalising > 0 ? number(f, id, "equalising_width", "µs") : 0;
    s.broad = count(f, id, "broad_pulses");
    s.broad_us = number(f, id, "broad_width", "µs");
    s.blanked_lines = count(f, id, "field_blanking");
    const Fact* one = f.known("line_one");
    s.first_broad = one != nullptr && one->printed.find("equalising") != std::string::npos ? s.equalising : 0;
}

void take_levels(const Facts& f, const std::string& id, CompositeSystem& s) {
    s.sync_mv = number(f, id, "sync_level", "mV");
    s.white_mv = number(f, id, "white_level", "mV");
    const Fact* setup = f.known("setup_level");
    s.black_mv = setup == nullptr ? 0 : *setup->value / 100 * s.white_mv;
}

void take_frequency_colour(const table::Colour& colour, CompositeSystem& s) {
    const auto khz = [&](const char* key) { return 1e3 * number(colour.facts, colour.id, key, "kHz"); };
    s.kind = ColourKind::Frequency;
    auto& c = s.frequency;
    c.red_hz = exact_hz(colour.facts, colour.id, "subcarrier_red");
    c.blue_hz = exact_hz(colour.facts, colour.id, "subcarrier_blue");
    c.red_deviation_hz = khz("deviation_red"), c.blue_deviation_hz = khz("deviation_blue");
    c.red_up_hz = khz("deviation_up_red"), c.red_down_hz = khz("deviation_down_red");
    c.blue_up_hz = khz("deviation_up_blue"), c.blue_down_hz = khz("deviation_down_blue");
    c.bell_hz = khz("bell_centre"), c.corner_hz = khz("pre_emphasis_corner");
    c.rest_mv = number(colour.facts, colour.id, "burst_amplitude", "mV");
    c.start_us = number(colour.facts, colour.id, "subcarrier_start", "µs");
}

/// What players put out has no burst of its own in the table: it is drawn with that of the system it is named after.
const table::Colour& with_burst(const table::Table& table, const table::Colour& colour) {
    if (colour.facts.known("burst_start") != nullptr) return colour;
    const table::Colour* like = table.find_colour(colour.id.substr(0, colour.id.find(' ')));
    return like == nullptr ? colour : *like;
}

void take_burst(const table::Table& table, const table::Colour& colour, CompositeSystem& s) {
    const table::Colour& burst = with_burst(table, colour);
    const Facts& f = burst.facts;
    s.burst_of = burst.id == colour.id ? "" : burst.id;
    s.subcarrier_hz = exact_hz(colour.facts, colour.id, "subcarrier");
    s.burst_start_us = number(f, burst.id, "burst_start", "µs");
    s.burst_cycles = *needed(f, burst.id, "burst_cycles").value;
    s.burst_rise_us = number(f, burst.id, "burst_rise", "µs");
    s.burst_mv = number(colour.facts, colour.id, "burst_amplitude", "mV");
    constexpr double on_the_u_axis = 180;
    const bool alternates = *needed(colour.facts, colour.id, "burst_phase").value != on_the_u_axis;
    s.kind = alternates ? ColourKind::Alternating : ColourKind::Quadrature;
    if (alternates) s.burst_blanking = count(f, burst.id, "burst_blanking");
}

}  // namespace

CompositeSystem composite_system(const table::Table& table, const std::string& name) {
    CompositeSystem system;
    const table::Colour* colour = table.find_colour(name);
    if (colour == nullptr) {
        const table::Scanning& scanning = table.scanning(name, "system");
        take_scanning(scanning, system);
        // In monochrome the levels are those of the colour system that came after, where there was one.
        const auto later = std::ranges::find(table.colours, scanning.id, &table::Colour::scanning);
        const bool own = scanning.facts.known("sync_level") != nullptr || later == table.colours.end();
        take_levels(own ? scanning.facts : later->facts, scanning.id, system);
        return system;
    }
    take_scanning(table.scanning(colour->scanning, "system"), system);
    system.colour = colour->id;
    take_levels(colour->facts, colour->id, system);
    system.chroma_bandwidth_mhz = number(colour->facts, colour->id, "chroma_bandwidth", "MHz");
    if (colour->facts.known("subcarrier_red") != nullptr)
        take_frequency_colour(*colour, system);
    else
        take_burst(table, *colour, system);
    return system;
}

}  // namespace guardband::testsignal
