#include "identify/prior.h"

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::identify {
namespace {

using quantity::InputError;
using table::Document;
using table::Node;

/// The weights of one section, by what its keys name.
using Weights = std::map<std::string, double>;

double number_of(const Document& document, const std::string& key, const Node& node) {
    double weight = -1;
    if (const auto* whole = std::get_if<std::int64_t>(&node.value)) weight = static_cast<double>(*whole);
    if (const auto* real = std::get_if<double>(&node.value)) weight = *real;
    if (!(weight >= 0) || !std::isfinite(weight))
        throw table::error_at(document, node.line, key, "is no weight", "give a number from 0 on, such as 2.5");
    return weight;
}

/// The id that a key of a section names. @throws InputError if it names nothing
std::string named(const Models& models, const std::string& section, const std::string& key, const std::string& input) {
    if (key == "*") return key;
    if (section == "formats") return models.table().format(key, input).id;
    if (section == "systems") return models.table().scanning(key, input).id;
    const auto [format, mode] = models.table().at(key, input);
    return address_of(*format, *mode);
}

Weights read_section(const Models& models, const Document& document, const std::string& section, const Node& node) {
    if (node.as_table() == nullptr)
        throw table::error_at(document, node.line, section, "is no section", "write [" + section + "]");
    Weights weights;
    for (const auto& [key, value] : *node.as_table()) {
        const std::string place = section + "." + key;
        const std::string input = table::error_at(document, value.line, place, "").input();
        weights[named(models, section, key, input)] = number_of(document, place, value);
    }
    return weights;
}

double weight_in(const Weights& weights, const std::string& id) {
    const auto own = weights.find(id), rest = weights.find("*");
    if (own != weights.end()) return own->second;
    return rest == weights.end() ? 1 : rest->second;
}

}  // namespace

Prior::Prior(const Models& models) {
    std::map<const table::TapeFormat*, int> counts;
    for (const ModeModel& model : models.all()) ++counts[model.format];
    for (const ModeModel& model : models.all())
        probabilities_.push_back(1.0 / counts[model.format] / static_cast<double>(counts.size()));
}

void Prior::weigh(const std::vector<double>& weights) {
    double sum = 0;
    for (std::size_t i = 0; i < probabilities_.size(); ++i) sum += probabilities_[i] * weights.at(i);
    if (!(sum > 0)) throw quantity::DomainError("the weights leave no mode");
    for (std::size_t i = 0; i < probabilities_.size(); ++i) probabilities_[i] *= weights[i] / sum;
}

std::vector<double> weights_of(const Models& models, const table::Region& region) {
    const double from_elsewhere = models.judgement().from_elsewhere;
    std::vector<double> weights;
    for (const ModeModel& model : models.all())
        weights.push_back(std::ranges::find(region.systems, model.mode->system) == region.systems.end() ? from_elsewhere
                                                                                                        : 1);
    return weights;
}

std::vector<double> read_prior(const Models& models, const Document& document) {
    std::map<std::string, Weights> sections;
    const std::vector<std::string> known{"formats", "systems", "modes"};
    for (const auto& [key, node] : *document.root.as_table()) {
        if (std::ranges::find(known, key) == known.end())
            throw table::error_at(document, node.line, key, "is not known",
                                  table::did_you_mean(key, known, "use [formats], [systems] and [modes]"));
        sections[key] = read_section(models, document, key, node);
    }
    std::vector<double> weights;
    double sum = 0;
    for (const ModeModel& model : models.all()) {
        weights.push_back(weight_in(sections["formats"], model.format->id) *
                          weight_in(sections["systems"], model.mode->system) *
                          weight_in(sections["modes"], model.address));
        sum += weights.back();
    }
    if (!(sum > 0) || !std::isfinite(sum))
        throw InputError(document.file, "leaves no mode possible", "give at least one of them a weight above 0");
    return weights;
}

const table::Region& region_named(const table::Table& table, const std::string& name, const std::string& input) {
    std::vector<std::string> ids;
    std::string list;
    for (const table::Region& region : table.regions) {
        if (table::same_name(region.id, name) || table::same_name(region.name, name)) return region;
        ids.push_back(region.id);
        list += (list.empty() ? "" : ", ") + region.id;
    }
    throw InputError(input, "no region \"" + name + "\"", table::did_you_mean(name, ids, "known are " + list));
}

}  // namespace guardband::identify
