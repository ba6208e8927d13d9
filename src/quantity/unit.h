#pragma once

#include <span>
#include <string>
#include <string_view>

namespace guardband::quantity {

/// What a unit measures. Quantities convert within a dimension and never across.
enum class Dimension {
    None,        ///< a bare number: counts, years, codes
    Length,      ///< base: m
    Speed,       ///< base: m/s
    Time,        ///< base: s
    Frequency,   ///< base: Hz (events or turns per second)
    Angle,       ///< base: deg
    Ratio,       ///< base: 1
    Level,       ///< base: dB
    Voltage,     ///< base: V
    VideoLevel,  ///< base: IRE
    Lines,       ///< base: lines of the raster
    Resolution,  ///< base: TVL (television lines per picture height)
    Data,        ///< base: bytes
    DataRate,    ///< base: bit/s
    Coercivity,  ///< base: A/m
    Force,       ///< base: N
    Frames,      ///< base: frames of a picture
    Samples,     ///< base: samples of a signal
    Code,        ///< base: steps of 10-bit video code
};

/// One unit: `quantity_in_base = value * to_base`.
struct Unit {
    std::string_view name;  ///< as printed: `mm/s`, `µm`
    Dimension dimension;
    double to_base;
};

/// Every unit there is.
std::span<const Unit> all_units();

/// The dimensionless unit.
const Unit& no_unit();

/// The unit of this name or of another spelling of it (`um` for `µm`, `ips` for inches per second); nullptr if there is
/// none.
const Unit* find_unit(std::string_view name);

/// The unit of this name. @throws InputError naming the units that are known for `dimension`-like use if there is none
const Unit& unit_named(std::string_view name);

/// The printed names of all units of a dimension, separated by commas: for error texts.
std::string unit_names(Dimension dimension);

/// @returns `value` of `from` expressed in `to`. @throws DomainError if their dimensions differ
double converted(double value, const Unit& from, const Unit& to);

}  // namespace guardband::quantity
