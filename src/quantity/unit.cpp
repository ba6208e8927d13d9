#include "quantity/unit.h"

#include <array>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

using enum Dimension;

constexpr Unit units[] = {
    {"", None, 1},
    {"frames", Frames, 1},
    {"fields", Frames, 0.5},
    {"samples", Samples, 1},
    {"code8", Code, 4},
    {"code10", Code, 1},
    {"m", Length, 1},
    {"mm", Length, 1e-3},
    {"cm", Length, 1e-2},
    {"µm", Length, 1e-6},
    {"nm", Length, 1e-9},
    {"ft", Length, 0.3048},
    {"in", Length, 0.0254},
    {"mil", Length, 25.4e-6},
    {"m/s", Speed, 1},
    {"mm/s", Speed, 1e-3},
    {"cm/s", Speed, 1e-2},
    {"in/s", Speed, 0.0254},
    {"s", Time, 1},
    {"ms", Time, 1e-3},
    {"µs", Time, 1e-6},
    {"ns", Time, 1e-9},
    {"min", Time, 60},
    {"h", Time, 3600},
    {"Hz", Frequency, 1},
    {"kHz", Frequency, 1e3},
    {"MHz", Frequency, 1e6},
    {"rev/s", Frequency, 1},
    {"rev/min", Frequency, 1.0 / 60},
    {"deg", Angle, 1},
    {"arcmin", Angle, 1.0 / 60},
    {"rad", Angle, 57.29577951308232},
    {"%", Ratio, 1e-2},
    {"ppm", Ratio, 1e-6},
    {"share", Ratio, 1},
    {"ratio", Ratio, 1},
    {"dB", Level, 1},
    {"dBFS", Level, 1},  // against a sine that just reaches full scale
    {"dBTP", Level, 1},  // of the peak between samples, against full scale
    {"V", Voltage, 1},
    {"mV", Voltage, 1e-3},
    {"IRE", VideoLevel, 1},
    {"lines", Lines, 1},
    {"% of line", Lines, 1e-2},
    {"TVL", Resolution, 1},
    {"bytes", Data, 1},
    {"kB", Data, 1e3},
    {"MB", Data, 1e6},
    {"GB", Data, 1e9},
    {"TB", Data, 1e12},
    {"GiB", Data, 1073741824},
    {"TiB", Data, 1099511627776},
    {"bit/s", DataRate, 1},
    {"kbit/s", DataRate, 1e3},
    {"MB/s", DataRate, 8e6},
    {"Mbit/s", DataRate, 1e6},
    {"Oe", Coercivity, 79.57747154594767},
    {"kA/m", Coercivity, 1e3},
    {"N", Force, 1},
};

struct Spelling {
    std::string_view other, name;
};

constexpr Spelling spellings[] = {
    {"um", "µm"},           {"μm", "µm"},        {"micron", "µm"},      {"us", "µs"},        {"μs", "µs"},
    {"ips", "in/s"},        {"inch", "in"},      {"feet", "ft"},        {"foot", "ft"},      {"metres", "m"},
    {"meters", "m"},        {"sec", "s"},        {"hour", "h"},         {"hours", "h"},      {"minutes", "min"},
    {"hz", "Hz"},           {"fps", "Hz"},       {"rpm", "rev/min"},    {"°", "deg"},        {"degrees", "deg"},
    {"db", "dB"},           {"H", "lines"},      {"line", "lines"},     {"codes", ""},       {"code", ""},
    {"khz", "kHz"},         {"mhz", "MHz"},      {"\"", "in"},          {"'", "ft"},         {"oersted", "Oe"},
    {"frame", "frames"},    {"field", "fields"}, {"sample", "samples"}, {"px", "samples"},   {"pixel", "samples"},
    {"pixels", "samples"},  {"8bit", "code8"},   {"8-bit", "code8"},    {"10bit", "code10"}, {"10-bit", "code10"},
    {"%line", "% of line"}, {"%H", "% of line"}, {"tvl", "TVL"},        {"ire", "IRE"},      {"mv", "mV"},
    {"B", "bytes"},         {"byte", "bytes"},   {"second", "s"},       {"seconds", "s"},    {"millimetres", "mm"},
    {"inches", "in"},       {"percent", "%"},
};

}  // namespace

std::span<const Unit> all_units() { return units; }

const Unit& no_unit() { return units[0]; }

const Unit* find_unit(std::string_view name) {
    for (const Unit& unit : units)
        if (unit.name == name) return &unit;
    for (const Spelling& spelling : spellings)
        if (spelling.other == name) return find_unit(spelling.name);
    return nullptr;
}

const Unit& unit_named(std::string_view name) {
    if (const Unit* unit = find_unit(name)) return *unit;
    std::string known;
    for (const Unit& unit : units)
        if (!unit.name.empty()) known += (known.empty() ? "" : ", ") + std::string(unit.name);
    throw InputError("unit \"" + std::string(name) + "\"", "not known", "the units are " + known);
}

std::string unit_names(Dimension dimension) {
    std::string names;
    for (const Unit& unit : units)
        if (unit.dimension == dimension && !unit.name.empty())
            names += (names.empty() ? "" : ", ") + std::string(unit.name);
    return names;
}

double converted(double value, const Unit& from, const Unit& to) {
    if (from.dimension != to.dimension)
        throw DomainError("no conversion from " + std::string(from.name) + " to " + std::string(to.name));
    // One multiplication and one division: exact for equal units, and ft to m and back within one rounding.
    return &from == &to ? value : value * from.to_base / to.to_base;
}

}  // namespace guardband::quantity
