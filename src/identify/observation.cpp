#include "identify/observation.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/propagation.h"
#include "identify/words.h"
#include "quantity/errors.h"
#include "quantity/measured.h"
#include "table/entries.h"
#include "table/fields.h"

namespace guardband::identify {
namespace {

using quantity::InputError;
using quantity::Quantity;

constexpr double finest = 1e-5;  // relative; nothing that people read off a tape is known better

/// Half a unit of the last digit, taken as the half-width of an even spread.
double rounding(const Quantity& read) { return read.uncertainty.value_or(0) / std::sqrt(3.0); }

Quantity read_number(const KindInfo& info, const std::string& text, const std::string& input) {
    if (info.value == KindInfo::Value::Time) return quantity::parse_measured_time(text, input);
    return quantity::parse_measured(text, quantity::unit_named(info.unit), input);
}

bool says_uncertainty(const std::string& text) {
    return text.find("±") != std::string::npos || text.find("+-") != std::string::npos ||
           text.find("+/-") != std::string::npos;
}

void read_value(Observation& seen, const KindInfo& info, const KindData& data, const std::string& input) {
    const Quantity read = read_number(info, seen.text, input);
    const quantity::Unit& unit = quantity::unit_named(info.unit);
    seen.value = read.in(unit);
    if (!(seen.value >= data.lowest && seen.value <= data.highest))
        throw InputError(input, "\"" + seen.text + "\" is outside what can be read of it",
                         "give " + quantity::shortest(data.lowest) + " to " + quantity::shortest(data.highest) +
                             (info.unit.empty() ? "" : " " + std::string(info.unit)));
    const double given = read.uncertainty_in(unit).value_or(0);
    seen.uncertainty = says_uncertainty(seen.text) ? given : std::max(data.scatter * seen.value, rounding(read));
    seen.uncertainty = std::max(seen.uncertainty, finest * seen.value);
    if (seen.uncertainty >= seen.value)
        throw InputError(input, "\"" + seen.text + "\" is as uncertain as it is large",
                         "give an uncertainty below the value");
}

void read_played_at(const table::Table& table, Observation& seen, const std::string& input) {
    const std::string at = input + "@" + seen.context;
    calc::Input speed;
    if (seen.context.find(':') != std::string::npos) {
        const auto [format, mode] = table.at(seen.context, at);
        const table::Fact* fact = mode->facts.known("tape_speed");
        if (fact == nullptr)
            throw InputError(at, "the table gives no tape speed of that mode",
                             "give the speed itself, such as @23.39mm/s");
        speed = calc::input_of(*fact, "mm/s");
    } else {
        const Quantity read = quantity::parse_measured(seen.context, quantity::unit_named("mm/s"), at);
        speed = {read.in("mm/s"), read.uncertainty_in(quantity::unit_named("mm/s")).value_or(0)};
    }
    if (!(speed.value > 0))
        throw InputError(at, "a speed must be above 0", "give the machine's mode or its tape speed");
    seen.played_mm_s = speed.value;
    seen.played_relative = speed.half_width / std::sqrt(3.0) / speed.value;
}

void read_diameter(Observation& seen, const std::string& input) {
    const std::string at = input + "@" + seen.context;
    const Quantity read = quantity::parse_measured(seen.context, quantity::unit_named("mm"), at);
    seen.diameter_mm = read.in("mm");
    if (!(seen.diameter_mm > 0)) throw InputError(at, "a diameter must be above 0", "give the pack's diameter in mm");
    if (!says_uncertainty(seen.context)) return;  // else the kind's usual scatter has it in it
    const double relative = read.uncertainty_in(quantity::unit_named("mm")).value_or(0) / seen.diameter_mm;
    seen.uncertainty = std::hypot(seen.uncertainty, seen.value * relative);
}

void read_context(const table::Table& table, Observation& seen, const KindInfo& info, const std::string& input) {
    using enum KindInfo::Context;
    if (seen.context.empty()) {
        if (info.context == SpeedNeeded)
            throw InputError(input, "needs the mode in which it was played",
                             "add it: " + std::string(info.id) + "=" + seen.text + "@FORMAT:SYSTEM:MODE");
        if (info.context == DiameterNeeded)
            throw InputError(input, "needs the diameter of the pack that turned",
                             "add it in mm: " + std::string(info.id) + "=" + seen.text + "@83.5");
        return;
    }
    if (info.context == None) throw InputError(input + "@" + seen.context, "takes nothing after @", "leave it out");
    if (info.context == DiameterNeeded)
        read_diameter(seen, input);
    else
        read_played_at(table, seen, input);
}

struct Parts {
    std::string kind, value, context;
};

/// A label may hold any sign, so it ends nowhere.
Parts split(const std::string& text) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0 || equals + 1 == text.size())
        throw InputError("--observe " + text, "is not KIND=VALUE",
                         "write it like control_track_rate=25.0@vhs:625/50:SP");
    Parts parts{text.substr(0, equals), text.substr(equals + 1), ""};
    const std::size_t at = parts.kind == "label" ? std::string::npos : parts.value.find('@');
    if (at == std::string::npos) return parts;
    parts.context = parts.value.substr(at + 1);
    parts.value.erase(at);
    if (parts.context.empty())
        throw InputError("--observe " + text, "has nothing after @", "say what it was played at, or leave @ out");
    return parts;
}

}  // namespace

double Observation::log_value() const { return std::log(value); }

double Observation::log_variance() const {
    const double relative = uncertainty / value;
    return relative * relative + played_relative * played_relative;
}

Observation read_observation(const table::Table& table, const std::string& kind, const std::string& value,
                             const std::string& context, const std::string& input) {
    Observation seen;
    seen.kind = kind_named(kind, input);
    seen.text = value;
    seen.context = context;
    const KindInfo& info = info_of(seen.kind);
    if (info.value == KindInfo::Value::Word)
        seen.text = checked_word(table, seen.kind, value, input);
    else
        read_value(seen, info, data_of(table, seen.kind), input);
    read_context(table, seen, info, input);
    return seen;
}

Observation parse_observation(const table::Table& table, const std::string& text) {
    const Parts parts = split(text);
    return read_observation(table, parts.kind, parts.value, parts.context,
                            "--observe " + parts.kind + "=" + parts.value);
}

std::vector<Observation> read_evidence(const table::Table& table, const table::Document& document) {
    table::Fields root(document, document.root, "");
    std::vector<Observation> all;
    (void)root.optional_text("what");  // a line about the tape, for the reader of the file
    table::for_each_section(root, "observation", [&](table::Fields& fields) {
        const std::string kind = fields.required_text("kind"), value = fields.required_text("value");
        const std::string at = fields.optional_text("at");
        (void)fields.optional_text("note");
        fields.expect_no_more();
        (void)kind_named(kind, fields.error("kind", "").input());
        all.push_back(read_observation(table, kind, value, at, fields.error("value", "").input()));
    });
    root.expect_no_more();
    if (all.empty())
        throw InputError(document.file, "holds no [[observation]]",
                         "write [[observation]], then kind = \"tape_width\" and value = \"12.65\" below it");
    return all;
}

}  // namespace guardband::identify
