#include "calc/conversion_words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "calc/frame_rate_change.h"
#include "calc/line_time.h"
#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::calc {
namespace {

using quantity::Dimension;
using quantity::InputError;
using quantity::Quantity;
using quantity::Unit;

constexpr std::string_view time_code_word = "timecode", clock_word = "h:mm:ss";

// Dimensions between which a system, a clock or a logarithm makes a bridge.
using Family = std::vector<Dimension>;
const std::array<Family, 4>& families() {
    static const std::array<Family, 4> all{
        Family{Dimension::VideoLevel, Dimension::Voltage, Dimension::Code},
        Family{Dimension::Time, Dimension::Samples, Dimension::Lines, Dimension::Angle, Dimension::Frames},
        Family{Dimension::Resolution, Dimension::Frequency}, Family{Dimension::Level, Dimension::Ratio}};
    return all;
}

std::optional<ConversionEnd> find_end(const std::string& name) {
    if (table::same_name(name, time_code_word) || name == "tc" || name == "time code")
        return ConversionEnd{&quantity::unit_named("frames"), true, false};
    if (name == clock_word || name == "hms") return ConversionEnd{&quantity::unit_named("s"), false, true};
    const Unit* unit = quantity::find_unit(name);
    if (unit == nullptr || unit == &quantity::no_unit()) return std::nullopt;
    return ConversionEnd{unit};
}

std::vector<std::string> names_that(const std::function<bool(const Unit&)>& wanted) {
    std::vector<std::string> names;
    for (const Unit& unit : quantity::all_units())
        if (!unit.name.empty() && wanted(unit)) names.emplace_back(unit.name);
    return names;
}

}  // namespace

std::string ConversionEnd::name() const {
    return std::string(is_time_code ? time_code_word : is_clock ? clock_word : unit->name);
}

bool are_bridged(Dimension a, Dimension b) {
    const auto has = [](const Family& family, Dimension d) { return std::ranges::find(family, d) != family.end(); };
    return a != b && std::ranges::any_of(families(), [&](const Family& f) { return has(f, a) && has(f, b); });
}

std::string targets_of(const ConversionEnd& from) {
    std::vector<std::string> names = names_that([&](const Unit& unit) {
        return unit.dimension == from.unit->dimension || are_bridged(unit.dimension, from.unit->dimension);
    });
    if (counts_time(from.unit->dimension))
        names.insert(names.end(), {std::string(time_code_word), std::string(clock_word)});
    std::erase(names, from.name());
    return fmt::format("{}", fmt::join(names, ", "));
}

ConversionEnd end_named(const std::string& name, const std::string& input) {
    if (const auto end = find_end(name)) return *end;
    std::vector<std::string> known = names_that([](const Unit&) { return true; });
    known.insert(known.end(), {std::string(time_code_word), std::string(clock_word)});
    throw InputError(input, "no unit \"" + name + "\"",
                     table::did_you_mean(name, known, fmt::format("the units are {}", fmt::join(known, ", "))));
}

std::optional<Quantity> speed_in(const std::string& text, const std::string& input) {
    if (text.empty() || std::string_view("0123456789.").find(text.front()) == std::string_view::npos)
        return std::nullopt;
    if (text.ends_with("fps") || text.ends_with("Hz"))
        return Quantity{frame_rate_named(text, input).value(), std::nullopt, &quantity::unit_named("Hz")};
    const std::string_view digits = "0123456789.±+-% ";
    const std::size_t unit_at = text.find_first_not_of(digits);
    if (unit_at == std::string::npos) {
        if (find_end(text)) return std::nullopt;
        return Quantity{frame_rate_named(text, input).value(), std::nullopt, &quantity::unit_named("Hz")};
    }
    if (find_end(text)) return std::nullopt;  // 8bit, 10-bit
    return quantity::parse_quantity(text, quantity::unit_named("mm/s"), input);
}

std::optional<double> clock_seconds(const std::string& text) {
    double seconds = 0;
    std::size_t at = 0, parts = 0;
    while (true) {
        const std::size_t colon = text.find(':', at);
        const std::string part = text.substr(at, colon == std::string::npos ? colon : colon - at);
        const bool is_last = colon == std::string::npos;
        const bool is_number = !part.empty() &&
                               part.find_first_not_of(is_last ? "0123456789." : "0123456789") == std::string::npos &&
                               std::ranges::count(part, '.') <= 1 && part != "." && part.size() <= 12;
        if (!is_number) return std::nullopt;
        const double value = std::stod(part);
        if (parts > 0 && value >= 60) return std::nullopt;
        seconds = seconds * 60 + value;
        ++parts;
        if (is_last) break;
        at = colon + 1;
    }
    return parts == 2 || parts == 3 ? std::optional(seconds) : std::nullopt;
}

std::string clock_text(double seconds) {
    const auto milliseconds = static_cast<long long>(std::llround(std::abs(seconds) * 1000));
    const std::string sign = seconds < 0 && milliseconds != 0 ? "-" : "";
    const std::string whole = fmt::format("{}{}:{:02}:{:02}", sign, milliseconds / 3600000, milliseconds / 60000 % 60,
                                          milliseconds / 1000 % 60);
    return milliseconds % 1000 == 0 ? whole : fmt::format("{}.{:03}", whole, milliseconds % 1000);
}

}  // namespace guardband::calc
