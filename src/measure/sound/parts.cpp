#include "measure/sound/parts.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>

#include "quantity/errors.h"
#include "quantity/measured.h"
#include "table/fields.h"

namespace guardband::measure {
namespace {

using quantity::InputError;

constexpr int most_harmonics = 8;
constexpr double slip_share = 0.005;        ///< standard; rubber creeps and bearings load by some tenths of a per cent
constexpr double coverage = 2.5;            ///< standard uncertainties that a line may lie off
constexpr double cost_of_a_harmonic = 0.3;  ///< in the same measure: a higher one must fit better to be believed
constexpr std::uintmax_t largest_file_bytes = 1'000'000;

/// A number with its relative standard uncertainty.
struct Uncertain {
    double value = 0, relative = 0;
};

Uncertain read_amount(table::Fields& fields, const std::string& key, const std::string& unit) {
    const std::string text = fields.required_text(key);
    try {
        const quantity::Quantity read = quantity::parse_measured(text, quantity::unit_named(unit), key);
        const double value = read.in(unit);
        if (!(value > 0)) throw fields.error(key, "is not above 0", "give what was measured");
        const double half = read.uncertainty_in(quantity::unit_named(unit)).value_or(0);
        return {value, half / value / std::numbers::sqrt3};
    } catch (const InputError& error) {
        throw fields.error(key, error.fault(), error.remedy());
    }
}

const Part& part_named(const std::vector<Part>& parts, const std::string& name, const table::Fields& fields) {
    const auto found = std::ranges::find(parts, name, &Part::name);
    if (found == parts.end()) throw fields.error("on", "no part above has the name \"" + name + "\"", "put it first");
    return *found;
}

Part turned_by_tape(table::Fields& fields, std::optional<Uncertain> tape_speed_mm_s) {
    const Uncertain diameter = read_amount(fields, "diameter", "mm");
    if (!tape_speed_mm_s)
        throw fields.error("diameter", "needs the tape's speed to give a rate",
                           "put tape_speed at the top of the file, or give --address");
    const double rate = tape_speed_mm_s->value / (std::numbers::pi * diameter.value);
    return {"", rate, rate * std::hypot(diameter.relative, tape_speed_mm_s->relative), true};
}

Part belt(table::Fields& fields, const std::vector<Part>& parts) {
    const Uncertain length = read_amount(fields, "length", "mm");
    const Part& on = part_named(parts, fields.required_text("on"), fields);
    const Uncertain diameter = read_amount(fields, "on_diameter", "mm");
    const double rate = on.rate_hz * std::numbers::pi * diameter.value / length.value;
    const double relative = std::hypot(on.uncertainty_hz / on.rate_hz, diameter.relative, length.relative);
    return {"", rate, rate * relative, on.follows_tape};
}

Part read_part(table::Fields& fields, const std::vector<Part>& parts, std::optional<Uncertain> tape_speed_mm_s) {
    const std::string name = fields.required_text("name");
    Part part;
    if (fields.child("diameter") != nullptr) {
        part = turned_by_tape(fields, tape_speed_mm_s);
    } else if (fields.child("rate") != nullptr) {
        const Uncertain rate = read_amount(fields, "rate", "Hz");
        part = {"", rate.value, rate.value * rate.relative, false};
    } else if (fields.child("length") != nullptr) {
        part = belt(fields, parts);
    } else {
        throw fields.error("name", "\"" + name + "\" has neither diameter, rate nor length", "give one of them");
    }
    part.name = name;
    fields.expect_no_more();
    return part;
}

/// How far a line lies from a rate, in standard uncertainties, with what a harmonic costs; nothing if too far.
std::optional<double> distance(const SpeedLine& line, double rate_hz, double uncertainty_hz, int harmonic) {
    const double slip_hz = slip_share * rate_hz;
    const double sigma = std::hypot(line.hz_uncertainty, harmonic * std::hypot(uncertainty_hz, slip_hz));
    const double off = std::abs(line.hz - harmonic * rate_hz) / sigma;
    if (off > coverage) return std::nullopt;
    return off + cost_of_a_harmonic * (harmonic - 1);
}

quantity::Component component_of(const SpeedLine& line, std::span<const Part> parts, double speed_ratio) {
    quantity::Component component{line.hz, 100 * line.depth, "", 1};
    double best = HUGE_VAL;
    for (const Part& part : parts)
        for (int harmonic = 1; harmonic <= most_harmonics; ++harmonic)
            for (const double scale : {1.0, part.follows_tape ? speed_ratio : 1.0}) {
                const auto off = distance(line, part.rate_hz * scale, part.uncertainty_hz * scale, harmonic);
                if (!off || *off >= best) continue;
                best = *off;
                component.part = part.name;
                component.harmonic = harmonic;
            }
    return component;
}

}  // namespace

std::vector<Part> parse_parts(const std::string& file, std::string_view text, std::optional<double> tape_speed_mm_s) {
    const table::Document document = table::parse_document(file, text);
    table::Fields top(document, document.root, "");
    std::optional<Uncertain> speed;
    if (top.child("tape_speed") != nullptr) speed = read_amount(top, "tape_speed", "mm/s");
    if (tape_speed_mm_s) speed = Uncertain{*tape_speed_mm_s, 0};
    std::vector<Part> parts;
    const table::Node* list = top.child("part");
    if (list == nullptr || list->as_array() == nullptr)
        throw InputError(file, "lists no part", "give a [[part]] with name and diameter, rate or length for each");
    for (const table::Node& node : *list->as_array()) {
        table::Fields fields(document, node, "[[part]]");
        parts.push_back(read_part(fields, parts, speed));
    }
    top.expect_no_more();
    return parts;
}

std::vector<Part> read_parts(const std::string& path, std::optional<double> tape_speed_mm_s) {
    std::ifstream stream(path, std::ios::binary);
    std::string content(largest_file_bytes + 1, '\0');
    stream.read(content.data(), static_cast<std::streamsize>(content.size()));
    content.resize(static_cast<std::size_t>(std::max<std::streamsize>(0, stream.gcount())));
    if (content.empty()) throw InputError(path, "can't be read as a parts file", "give the path of a TOML file");
    if (content.size() > largest_file_bytes)
        throw InputError(path, "is too large for a parts file", "name a TOML file");
    return parse_parts(path, content, tape_speed_mm_s);
}

std::vector<quantity::Component> attribute(std::span<const SpeedLine> lines, std::span<const Part> parts,
                                           double speed_ratio) {
    std::vector<quantity::Component> components;
    for (const SpeedLine& line : lines) components.push_back(component_of(line, parts, speed_ratio));
    return components;
}

}  // namespace guardband::measure
