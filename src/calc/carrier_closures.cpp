#include <algorithm>
#include <cmath>

#include "calc/closure_makers.h"
#include "calc/propagation.h"

namespace guardband::calc {
namespace {

using table::Fact;

constexpr double wavelength_share = 0.02;  // as for the writing speed it comes from

/// The digits that a source prints, if the file has any: the fact's own, or those that stand beside an exact
/// expression.
const Fact* printed_digits(const Fact& fact) {
    if (!fact.exact) return &fact;
    const auto printed =
        std::ranges::find_if(fact.also, [](const Fact& other) { return other.is_number() && !other.exact; });
    return printed == fact.also.end() ? nullptr : &*printed;
}

/// Recorders lock the carrier to the line rate; with an offset of an eighth where one is needed, so that crosstalk
/// falls between the lines.
Closure colour_under_closure(const Fact& carrier, const table::Scanning& scanning, const ClosurePlace& place) {
    Comparison c{ClosureKind::ColourUnder, "colour_under_carrier", "kHz", ""};
    c.bearer = &carrier;
    c.derived_side.given = {scanning.facts.known("line_rate")};
    const double step_khz = scanning.line_rate().value() / 8e3;
    const double multiple = std::round(carrier.in("kHz") / step_khz);
    c.derived = multiple * step_khz;
    c.remark = quantity::shortest(multiple / 8) + " times the line rate";
    const Fact* printed = printed_digits(carrier);
    if (printed == nullptr) {
        c.printed = carrier.in("kHz"), c.printed_side.facts = {&carrier};
        c.agrees = std::abs(*c.derived - *c.printed) < 1e-9 * *c.printed;
        c.circular = "written as a multiple of the line rate; the file has no printed digits of it";
        return judged(c, place);
    }
    const Input input = input_of(*printed, "kHz");
    c.printed = input.value, c.printed_side.facts = {printed};
    if (carrier.exact) c.derived_side.facts = {&carrier};
    c.tolerance = quantity::shortest(std::round(input.half_width * 1e6) / 1e6) + " kHz";
    if (!carrier.exact && input.half_width > step_khz / 2)
        c.missing = "digits: an eighth of the line rate is finer than its rounding";
    c.agrees = std::abs(*c.derived - *c.printed) <= input.half_width * (1 + 1e-9);
    return judged(c, place);
}

/// The colour system whose levels a scanning standard's recordings follow: the first that the table lists for it.
const table::Colour* colour_on(const table::Table& table, const std::string& scanning) {
    const auto found = std::ranges::find(table.colours, scanning, &table::Colour::scanning);
    return found == table.colours.end() ? nullptr : &*found;
}

/// The modulator is linear: blanking lies as far up from the sync tip to white as in the signal.
Closure blanking_carrier_closure(const Fact& blanking, const ClosurePlace& place) {
    Comparison c{ClosureKind::BlankingCarrier, "luma_carrier_blanking", "MHz", ""};
    c.bearer = &blanking;
    const Input printed = input_of(blanking, "MHz");
    c.printed = printed.value, c.printed_side.facts = {&blanking};
    const Fact *sync = place.fact("luma_carrier_sync"), *white = place.fact("luma_carrier_white");
    const table::Colour* colour = colour_on(place.table, place.mode->system);
    const Fact* sync_level = colour == nullptr ? nullptr : colour->facts.known("sync_level");
    const Fact* white_level = colour == nullptr ? nullptr : colour->facts.known("white_level");
    if (sync == nullptr) add_missing(c.missing, "carrier at sync tip");
    if (white == nullptr) add_missing(c.missing, "carrier at white");
    if (sync_level == nullptr || white_level == nullptr) add_missing(c.missing, "levels of the signal");
    if (!c.missing.empty()) return judged(c, place);
    const double sync_share = sync_level->in("mV") / (sync_level->in("mV") - white_level->in("mV"));
    const Spread derived = spread_of([&](std::span<const double> x) { return x[0] + sync_share * (x[1] - x[0]); },
                                     {input_of(*sync, "MHz"), input_of(*white, "MHz")});
    c.derived = derived.value, c.derived_side = {{sync, white}, {sync_level, white_level}};
    const double allowed = printed.half_width + derived.worst;
    c.tolerance = quantity::shortest(std::round(allowed * 1e4) / 1e4) + " MHz";
    c.agrees = std::abs(*c.derived - *c.printed) <= allowed * (1 + 1e-9);
    return judged(c, place);
}

/// What the picture puts below the carrier must leave room for colour there; without colour-under it must at least stay
/// above nothing.
Closure sideband_closure(const Fact& white, const ClosurePlace& place) {
    Comparison c{ClosureKind::Sideband, "luma_carrier_white", "MHz", "at least"};
    c.bearer = &white;
    const Fact *bandwidth = place.fact("luma_bandwidth"), *colour = place.fact("colour_under_carrier");
    c.printed = colour == nullptr ? 0 : colour->in("MHz");
    if (colour == nullptr)
        c.remark = "no colour-under carrier known: above 0";
    else
        c.printed_side.facts = {colour};
    c.derived_side.facts = {&white};
    if (bandwidth == nullptr) {
        c.missing = "luma bandwidth";
        return judged(c, place);
    }
    c.derived_side.facts.push_back(bandwidth);
    c.derived = white.in("MHz") - bandwidth->in("MHz");
    c.agrees = *c.derived > *c.printed;
    return judged(c, place);
}

/// Sources print either the wavelength of the white carrier or one of its upper sideband: it must lie between the two.
Closure wavelength_closure(const Fact& shortest, const ClosurePlace& place) {
    Comparison c{ClosureKind::Wavelength, "shortest_wavelength", "µm", "or less"};
    c.bearer = &shortest;
    c.printed = shortest.in("µm"), c.printed_side.facts = {&shortest};
    const Fact *writing = place.fact("writing_speed"), *white = place.fact("luma_carrier_white"),
               *bandwidth = place.fact("luma_bandwidth");
    if (writing == nullptr) add_missing(c.missing, "writing speed");
    if (white == nullptr) add_missing(c.missing, "carrier at white");
    if (bandwidth == nullptr) add_missing(c.missing, "luma bandwidth");
    if (!c.missing.empty()) return judged(c, place);
    c.derived_side.facts = {writing, white, bandwidth};
    c.derived = writing->in("m/s") / white->in("MHz");  // 1 m/s over 1 MHz is 1 µm
    const double with_sideband = writing->in("m/s") / (white->in("MHz") + bandwidth->in("MHz"));
    c.tolerance = "or less, down to " + quantity::shortest(std::round(with_sideband * 1e3) / 1e3);
    c.agrees =
        *c.printed <= *c.derived * (1 + wavelength_share) && *c.printed >= with_sideband * (1 - wavelength_share);
    return judged(c, place);
}

}  // namespace

std::vector<Closure> carrier_closures(const ClosurePlace& place) {
    std::vector<Closure> all;
    const table::Scanning* scanning = place.table.find_scanning(place.mode->system);
    if (const Fact* carrier = place.fact("colour_under_carrier"); carrier != nullptr && scanning != nullptr)
        all.push_back(colour_under_closure(*carrier, *scanning, place));
    if (const Fact* blanking = place.fact("luma_carrier_blanking"))
        all.push_back(blanking_carrier_closure(*blanking, place));
    if (const Fact* white = place.fact("luma_carrier_white")) all.push_back(sideband_closure(*white, place));
    if (const Fact* shortest = place.fact("shortest_wavelength")) all.push_back(wavelength_closure(*shortest, place));
    return all;
}

}  // namespace guardband::calc
