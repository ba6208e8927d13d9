#include "report/figures_json.h"

#include <nlohmann/json.hpp>

#include "quantity/errors.h"
#include "quantity/unit.h"

namespace guardband::report {
namespace {

using quantity::Figure;
using quantity::InputError;

double number_at(const nlohmann::json& json, const char* key) {
    const auto found = json.find(key);
    return found != json.end() && found->is_number() ? found->get<double>() : 0;
}

std::string text_at(const nlohmann::json& json, const char* key) {
    const auto found = json.find(key);
    return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

Figure figure_of(const nlohmann::json& json, const std::string& id, const std::string& input) {
    if (!json.is_object() || !json.contains("value"))
        throw InputError(input, "figure \"" + id + "\" has no value", "name what `guardband measure --json` printed");
    const auto& value = json.at("value");
    const std::string unit = text_at(json, "unit");
    if (quantity::find_unit(unit) == nullptr) return Figure::unknown("its unit is not known");
    if (value.is_number()) return Figure::measured(value.get<double>(), number_at(json, "uncertainty"), unit);
    if (value.is_string()) return Figure::text(value.get<std::string>());
    return Figure::unknown("not measured");
}

}  // namespace

quantity::Figures read_figures(const std::string& text, const std::string& input) {
    const nlohmann::json json = nlohmann::json::parse(text, nullptr, false);
    if (json.is_discarded() || !json.is_object() || !json.contains("figures") || !json.at("figures").is_object())
        throw InputError(input, "holds no figures",
                         "name what `guardband measure clip FILE --json` printed, or a clip");
    quantity::Figures figures;
    for (const auto& [id, figure] : json.at("figures").items()) figures.add(id, figure_of(figure, id, input));
    return figures;
}

}  // namespace guardband::report
