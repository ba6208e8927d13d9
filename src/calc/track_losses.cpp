#include "calc/track_losses.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "calc/head_losses.h"
#include "calc/spread_text.h"

namespace guardband::calc {
namespace {

using quantity::Figure;

Input wave_of(const Carrier& carrier) {
    return {carrier.wavelength.spread->value, carrier.wavelength.spread->standard_uncertainty * std::sqrt(3.0)};
}

/// The four lengths and angles with the wave, in the order in which they are varied; what is absent is 0 and loses
/// nothing.
std::vector<Input> inputs_of(const Carrier& carrier, const LossQuery& query) {
    return {wave_of(carrier),
            query.spacing_um.value_or(Input{}),
            query.gap_um.value_or(Input{}),
            query.thickness_um.value_or(Input{}),
            query.error_angle_deg.value_or(Input{}),
            query.width_um.value_or(Input{})};
}

double spacing_db(std::span<const double> x) { return spacing_loss_db(x[1], x[0]); }
double gap_db(std::span<const double> x) { return gap_loss_db(x[2], x[0]); }
double thickness_db(std::span<const double> x) { return thickness_loss_db(x[3], x[0]); }
double azimuth_db(std::span<const double> x) { return azimuth_loss_db(x[5], std::abs(x[4]), x[0]); }
double all_db(std::span<const double> x) { return spacing_db(x) + gap_db(x) + thickness_db(x) + azimuth_db(x); }

using Loss = double (*)(std::span<const double>);

Figure figure_of_loss(Loss loss, const std::vector<Input>& inputs) {
    const Spread spread = level_spread_of(loss, inputs);
    return std::isfinite(spread.value) ? figure_of(spread, "dB") : Figure::unknown("a null: nothing is left");
}

std::optional<Figure> asked(const std::optional<Input>& input, Loss loss, const std::vector<Input>& inputs) {
    return input ? std::optional(figure_of_loss(loss, inputs)) : std::nullopt;
}

CarrierLosses losses_of(const Carrier& carrier, const LossQuery& query) {
    if (!carrier.wavelength.spread)
        return {carrier, {}, {}, {}, {}, Figure::unknown("the table does not give: " + carrier.wavelength.missing)};
    const std::vector<Input> inputs = inputs_of(carrier, query);
    return {carrier,
            asked(query.spacing_um, spacing_db, inputs),
            asked(query.gap_um, gap_db, inputs),
            asked(query.thickness_um, thickness_db, inputs),
            asked(query.error_angle_deg, azimuth_db, inputs),
            figure_of_loss(all_db, inputs)};
}

/// A formula of a loss as it is written down, with what goes into it.
struct Written {
    std::string meaning, formula, numbers, source;
    std::vector<Given> givens;
    std::optional<Figure> CarrierLosses::*loss = nullptr;
};

Given given(const char* symbol, const char* meaning, const Input& input, const char* unit) {
    return {symbol, meaning, quantity_text(input, unit), nullptr, "given"};
}

constexpr const char* wallace = "Wallace, 1951, as later papers cite it";
constexpr const char* practice = "common practice, no source";

std::vector<Written> written(const LossQuery& query) {
    std::vector<Written> all;
    if (query.spacing_um)
        all.push_back({"spacing loss",
                       "L = 20 log₁₀(e) × 2π d/λ",
                       fmt::format("54.575 × {} / λ", plain_text(query.spacing_um->value)),
                       wallace,
                       {given("d", "head to tape", *query.spacing_um, "µm")},
                       &CarrierLosses::spacing_db});
    if (query.gap_um) {
        const std::string x = "π × " + plain_text(query.gap_um->value) + " / λ";
        all.push_back({"gap loss",
                       "L = −20 log₁₀ |sin(π g/λ) / (π g/λ)|",
                       fmt::format("−20 log₁₀ |sin({}) / ({})|", x, x),
                       practice,
                       {given("g", "effective gap", *query.gap_um, "µm")},
                       &CarrierLosses::gap_db});
    }
    if (query.thickness_um) {
        const std::string x = "2π × " + plain_text(query.thickness_um->value) + " / λ";
        all.push_back({"thickness loss",
                       "L = 20 log₁₀[(2π δ/λ) / (1 − exp(−2π δ/λ))]",
                       fmt::format("20 log₁₀[({}) / (1 − exp(−{}))]", x, x),
                       wallace,
                       {given("δ", "thickness of what is recorded", *query.thickness_um, "µm")},
                       &CarrierLosses::thickness_db});
    }
    if (query.error_angle_deg && query.width_um)
        all.push_back({"azimuth loss",
                       "L = −20 log₁₀ |sin x / x|, x = π b tan α / λ",
                       fmt::format("−20 log₁₀ |sin x / x|, x = π × {} × tan {}° / λ",
                                   number_text(query.width_um->value), number_text(query.error_angle_deg->value)),
                       practice,
                       {given("α", "error angle", *query.error_angle_deg, "deg"),
                        {"b", "width that is read", quantity_text(*query.width_um, "µm"), nullptr, {}}},
                       &CarrierLosses::azimuth_db});
    return all;
}

/// @param first  lists the wavelengths, which the others share
Step step_of(const Written& loss, const std::vector<CarrierLosses>& losses, bool first) {
    Step step{loss.meaning, loss.formula, loss.numbers, {}, loss.givens, loss.source};
    for (const CarrierLosses& at : losses) {
        if (!(at.*loss.loss)) continue;
        const Figure& figure = *(at.*loss.loss);
        step.result += (step.result.empty() ? "" : ", ") +
                       (figure.is_known() ? level_text(*figure.number()) : std::string("no end"));
        if (first)
            step.givens.push_back(
                {"λ", at.carrier.name, quantity_text(at.carrier.wavelength.figure("µm")), nullptr, "worked out"});
    }
    step.result += " dB";
    return step;
}

}  // namespace

std::vector<CarrierLosses> losses_at_carriers(const table::Table& table, const table::TapeFormat& format,
                                              const table::Mode& mode, const LossQuery& query) {
    std::vector<CarrierLosses> losses;
    for (const Carrier& carrier : carriers_of(table, format, mode)) losses.push_back(losses_of(carrier, query));
    return losses;
}

Working losses_working(const std::vector<CarrierLosses>& losses, const LossQuery& query) {
    Working working;
    if (losses.empty()) return working;
    for (const Written& loss : written(query)) working.push_back(step_of(loss, losses, working.empty()));
    return working;
}

}  // namespace guardband::calc
