#include "calc/conversion.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "calc/converting.h"
#include "calc/resolution.h"
#include "quantity/errors.h"

namespace guardband::calc {

using quantity::Dimension;
using quantity::InputError;
using quantity::Quantity;
using quantity::Unit;

Conversion Converting::whole() {
    const auto recorded = speed_in(query_.from, "FROM"), played = speed_in(query_.to, "TO");
    if (recorded && played)
        change_speed(*recorded, *played);
    else
        convert(end_named(query_.from, "FROM"), end_named(query_.to, "TO"));
    const auto is_finite = [](const auto& also) { return std::isfinite(also.second); };
    if (!std::isfinite(answer_.value) || !std::ranges::all_of(answer_.also, is_finite))
        throw InputError("VALUE", "\"" + query_.value + "\" gives a number beyond all bounds", "give a smaller one");
    answer_.basis = basis_.words();
    answer_.uses_table = basis_.uses_table();
    return std::move(answer_);
}

InputError Converting::no_way(const ConversionEnd& from, const ConversionEnd& to) const {
    return {"TO", "no conversion from " + from.name() + " to " + to.name(),
            from.name() + " converts to " + targets_of(from)};
}

void Converting::convert(const ConversionEnd& from, const ConversionEnd& to) {
    const Dimension a = from.unit->dimension, b = to.unit->dimension;
    if (a != b && !are_bridged(a, b)) throw no_way(from, to);
    answer_.unit = to.name();
    if (from.is_time_code || to.is_time_code) return convert_time_code(from, to);
    const Quantity given = read(from);
    if (a == b)
        scale(given, *to.unit);
    else if (a == Dimension::Resolution || b == Dimension::Resolution)
        convert_resolution(given, *to.unit);
    else if (a == Dimension::Level || b == Dimension::Level)
        convert_decibels(given, *to.unit);
    else if (counts_time(a))
        convert_time(given, *to.unit);
    else
        convert_level(given, *to.unit);
    if (to.is_clock) answer_.text = clock_text(answer_.value);
}

Quantity Converting::read(const ConversionEnd& from) {
    Quantity given{0, std::nullopt, from.unit};
    if (from.unit->dimension == Dimension::Time && query_.value.find(':') != std::string::npos) {
        const auto seconds = clock_seconds(query_.value);
        if (!seconds)
            throw InputError("VALUE", "\"" + query_.value + "\" is no time", "write h:mm:ss, such as 1:30:00");
        given.value = quantity::converted(*seconds, quantity::unit_named("s"), *from.unit);
        answer_.given = query_.value;
        return given;
    }
    const Quantity read = quantity::parse_quantity(query_.value, *from.unit, "VALUE");
    given.value = read.in(*from.unit);
    given.uncertainty = read.uncertainty_in(*from.unit);
    answer_.given = with_spread(given.value, given.uncertainty) + " " + std::string(from.unit->name);
    return given;
}

std::string Converting::with_spread(double value, std::optional<double> half_width) {
    return plain_number(value) + (half_width ? fmt::format(" ± {:.2g}", *half_width) : "");
}

void Converting::settle(const Quantity& given, std::vector<Input> others,
                        const std::function<double(std::span<const double>)>& formula) {
    std::vector<Input> inputs{{given.value, given.uncertainty.value_or(0)}};
    inputs.insert(inputs.end(), others.begin(), others.end());
    std::vector<double> middle;
    for (const Input& input : inputs) middle.push_back(input.value);
    answer_.value = formula(middle);
    const bool spreads = std::ranges::any_of(inputs, [](const Input& input) { return input.half_width > 0; });
    if (spreads) answer_.half_width = spread_of(formula, inputs).worst;
}

std::vector<Given> Converting::all_givens() const {
    std::vector<Given> givens{{"x", "the value", answer_.given, nullptr, "given"}};
    givens.insert(givens.end(), basis_.givens().begin(), basis_.givens().end());
    return givens;
}

void Converting::add_step(const std::string& meaning, const std::string& formula, const std::string& numbers,
                          const std::string& result, const std::string& source) {
    answer_.working.push_back({meaning, formula, numbers, result, {}, source});
}

void Converting::explain(const std::string& meaning, const std::string& formula, const std::string& numbers,
                         const std::string& source) {
    add_step(meaning, formula, numbers, result_text(), source);
    answer_.working.back().givens = all_givens();
}

std::string Converting::result_text() const {
    return with_spread(answer_.value, answer_.half_width) + " " + answer_.unit;
}

void Converting::scale(const Quantity& given, const Unit& to) {
    settle(given, {}, [&](std::span<const double> x) { return quantity::converted(x[0], *given.unit, to); });
    basis_.use("u", fmt::format("1 {} in the base unit of its kind", given.unit->name),
               fmt::format("{:.12g}", given.unit->to_base), nullptr, "definition");
    basis_.use("w", fmt::format("1 {} in the same", to.name), fmt::format("{:.12g}", to.to_base), nullptr,
               "definition");
    explain("the same in another unit", "y = x u / w",
            fmt::format("{} × {:.12g} / {:.12g}", plain_number(given.value), given.unit->to_base, to.to_base),
            "definition of the units");
}

void Converting::convert_level(const Quantity& given, const Unit& to) {
    const LevelScale levels = basis_.levels();
    const Unit &from = *given.unit, &mv = quantity::unit_named("mV");
    const auto to_mv = [&](double x) {
        if (from.dimension == Dimension::Voltage) return quantity::converted(x, from, mv);
        if (from.dimension == Dimension::VideoLevel) return mv_of_ire(levels, x);
        return mv_of_code10(levels, x * from.to_base);
    };
    settle(given, {}, [&](std::span<const double> x) {
        const double level = to_mv(x[0]);
        if (to.dimension == Dimension::Voltage) return quantity::converted(level, mv, to);
        if (to.dimension == Dimension::VideoLevel) return ire_of_mv(levels, level);
        return code10_of_mv(levels, level) / to.to_base;
    });
    const double level = to_mv(given.value);
    use_levels(levels, from, to);
    if (to.dimension == Dimension::Code) remark_code();
    if (const std::string remark =
            level_remark(levels, level, from.dimension == Dimension::Code || to.dimension == Dimension::Code);
        !remark.empty())
        answer_.remarks.push_back(remark + ".");
    explain_level(levels, given, to, level);
}

void Converting::use_levels(const LevelScale& levels, const Unit& from, const Unit& to) {
    const table::Facts& facts = levels.colour->facts;
    basis_.use("w", "white, from blanking", plain_number(levels.white_mv) + " mV", facts.known("white_level"));
    if (from.dimension != Dimension::Code && to.dimension != Dimension::Code) return;
    const bool of_composite = levels.signal == CodedSignal::Composite;
    if (!of_composite) basis_.use("s", "set-up", plain_number(levels.setup_ire) + " IRE", facts.known("setup_level"));
    basis_.use("B", of_composite ? "code of blanking, 8 bits" : "code of black, 8 bits", plain_number(levels.zero_code),
               levels.zero);
    basis_.use("W", "code of white, 8 bits", plain_number(levels.white_code), levels.white);
}

void Converting::explain_level(const LevelScale& levels, const Quantity& given, const Unit& to, double level_mv) {
    const std::string white = plain_number(levels.white_mv), level = plain_number(level_mv);
    const Dimension from = given.unit->dimension;
    if (from == Dimension::VideoLevel)
        add_step("white is 100 IRE and blanking 0", "v = x w / 100",
                 fmt::format("{} × {} / 100", plain_number(given.value), white), level + " mV", "definition");
    if (from == Dimension::Code)
        add_step(straight(levels), "v = v0 + (w - v0) (code8 - B) / (W - B)",
                 fmt::format("{0} + ({1} - {0}) ({2} - {3}) / ({4} - {3})", plain_number(levels.zero_mv()), white,
                             code8(given.value * given.unit->to_base), levels.zero_code, levels.white_code),
                 level + " mV", codes_source(levels));
    if (to.dimension == Dimension::VideoLevel)
        add_step("white is 100 IRE and blanking 0", "y = 100 v / w", fmt::format("100 × {} / {}", level, white),
                 result_text(), "definition");
    if (to.dimension == Dimension::Code)
        add_step(straight(levels), "code8 = B + (W - B) (v - v0) / (w - v0)",
                 fmt::format("{3} + ({4} - {3}) ({2} - {0}) / ({1} - {0})", plain_number(levels.zero_mv()), white,
                             level, levels.zero_code, levels.white_code),
                 code8(answer_.value * to.to_base) + (to.name == "code10" ? ", four times that in 10 bits" : ""),
                 codes_source(levels));
    if (!answer_.working.empty()) answer_.working.front().givens = all_givens();
}

std::string Converting::code8(double code10) { return plain_number(code10 / 4); }

std::string Converting::straight(const LevelScale& levels) {
    return fmt::format("codes are straight from v0 = {} mV ({}) at B to w at W", plain_number(levels.zero_mv()),
                       levels.setup == CapturedSetup::Removed ? "black, s w / 100" : "blanking");
}

std::string Converting::codes_source(const LevelScale& levels) {
    return levels.signal == CodedSignal::Composite ? "definition of the codes" : "ITU-R BT.601, levels of luma";
}

void Converting::remark_code() {
    if (answer_.value != std::round(answer_.value))
        answer_.remarks.push_back(fmt::format("The nearest code is {:.0f}.", answer_.value));
    answer_.also.emplace_back("nearest_code", std::round(answer_.value));
}

void Converting::convert_resolution(const Quantity& given, const Unit& to) {
    const table::Fact& rate = basis_.scanning_fact("line_rate", "line rate");
    const table::Fact& blanking = basis_.scanning_fact("line_blanking", "line blanking");
    const table::Fact& aspect = basis_.scanning_fact("picture_aspect", "picture's aspect");
    const Unit &from = *given.unit, &mhz = quantity::unit_named("MHz");
    settle(given, {input_of(blanking, "µs")}, [&](std::span<const double> x) {
        const double per_mhz = tvl_per_mhz(active_line_us(rate.in("Hz"), x[1]), aspect.in(""));
        return from.dimension == Dimension::Resolution ? quantity::converted(x[0] / per_mhz, mhz, to)
                                                       : quantity::converted(x[0], from, mhz) * per_mhz;
    });
    const double active = active_line_us(rate.in("Hz"), blanking.in("µs"));
    basis_.use("f_H", "line rate", plain_number(rate.in("Hz")) + " Hz", &rate);
    basis_.use("b", "line blanking", plain_number(blanking.in("µs")) + " µs", &blanking);
    basis_.use("a", "aspect of the picture", aspect.printed, &aspect);
    const double per_mhz = tvl_per_mhz(active, aspect.in(""));
    answer_.also.emplace_back("tvl_per_mhz", per_mhz);
    answer_.remarks.push_back(
        fmt::format("{:.2f} TVL a MHz: twice the picture's {:.4g} µs of a line over its aspect of {}.", per_mhz, active,
                    aspect.printed));
    const bool to_tvl = to.dimension == Dimension::Resolution;
    explain(
        "a cycle is a dark and a light line; TVL count over a width equal to the height",
        to_tvl ? "y = x 2 (1/f_H - b) / a" : "y = x a / (2 (1/f_H - b))",
        fmt::format("{} {} (2 × {:.6g} / ({}))", plain_number(given.value), to_tvl ? "×" : "/", active, aspect.printed),
        "definition");
}

void Converting::convert_decibels(const Quantity& given, const Unit& to) {
    const double factor = query_.ratio_of_powers ? 10 : 20;
    const Unit &from = *given.unit, &share = quantity::unit_named("share");
    const bool to_db = to.dimension == Dimension::Level;
    if (to_db && !(given.value > 0))
        throw InputError("VALUE", "\"" + query_.value + "\" has no logarithm", "give a ratio above 0");
    settle(given, {}, [&](std::span<const double> x) {
        return to_db ? factor * std::log10(std::max(quantity::converted(x[0], from, share), 1e-300))
                     : quantity::converted(std::pow(10.0, x[0] / factor), share, to);
    });
    const std::string kind = query_.ratio_of_powers ? "powers" : "amplitudes";
    const double other = to_db ? answer_.value * (query_.ratio_of_powers ? 2 : 0.5)
                               : quantity::converted(std::pow(10.0, given.value / (30 - factor)), share, to);
    answer_.also.emplace_back(query_.ratio_of_powers ? "of_amplitudes" : "of_powers", other);
    answer_.remarks.push_back(fmt::format("Taken as a ratio of {} ({:.0f} log); of {} it is {} {}.", kind, factor,
                                          query_.ratio_of_powers ? "amplitudes" : "powers", plain_number(other),
                                          to.name));
    explain("ratio of " + kind,
            to_db ? fmt::format("y = {:.0f} log10 x", factor) : fmt::format("y = 10^(x / {:.0f})", factor),
            to_db ? fmt::format("{:.0f} log10 {}", factor, plain_number(quantity::converted(given.value, from, share)))
                  : fmt::format("10^({} / {:.0f})", plain_number(given.value), factor),
            "definition of the decibel");
}

Conversion conversion(const table::Table& table, const ConversionQuery& query) {
    return Converting(table, query).whole();
}

}  // namespace guardband::calc
