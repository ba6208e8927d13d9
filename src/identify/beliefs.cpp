#include "identify/beliefs.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace guardband::identify {
namespace {

using table::Fact;
using table::Standing;

constexpr double exact_relative = 2e-4;  // an exact relation: what crystals and capstans are off by at the least
constexpr double near_relative = 0.05;   // how close a new format's figure lies to another's if it takes after it
constexpr double near_share = 0.5;       // and how often it does; the shares make half of the table's formats likely
constexpr double widening = 1.3;         // the table does not hold the most extreme format that there was

/// `no control track: pilot tones` against `no source gives it`.
bool says_there_is_none(const Fact& fact) {
    const std::string_view why = fact.unknown;
    return (why.starts_with("no ") && !why.starts_with("no source")) || why.starts_with("fixed heads") ||
           why.starts_with("one track along");
}

Normal normal(double weight, double mean, double sd) { return {std::log(weight), mean, sd * sd}; }

}  // namespace

double Belief::centre() const {
    const auto heaviest = std::ranges::max_element(prior, {}, &Normal::log_weight);
    return heaviest == prior.end() ? 0 : heaviest->mean;
}

TableFigure figure_of(const Fact* fact, std::string_view unit) {
    TableFigure figure;
    if (fact == nullptr) return figure;
    figure.absent = !fact->is_known() && says_there_is_none(*fact);
    if (!fact->is_number() || !(fact->in(unit) > 0)) return figure;
    figure.value = fact->in(unit);
    figure.relative = (fact->highest_in(unit) - fact->lowest_in(unit)) / 2 / std::sqrt(3.0) / *figure.value;
    figure.standing = fact->standing;
    figure.is_exact = fact->exact.has_value() && !fact->low && fact->unit->dimension == quantity::Dimension::Frequency;
    return figure;
}

TableFigure figure_of(const quantity::Figure& worked, Standing standing) {
    TableFigure figure;
    if (!worked.number() || !(*worked.number() > 0)) return figure;
    figure.value = *worked.number();
    figure.relative = worked.uncertainty().value_or(0) / *figure.value;
    figure.standing = standing;
    return figure;
}

Normal wide_normal(const std::vector<double>& values) {
    double sum = 0, squares = 0;
    for (const double value : values) sum += std::log(value);
    const double mean = values.empty() ? 0 : sum / static_cast<double>(values.size());
    for (const double value : values) squares += std::pow(std::log(value) - mean, 2);
    const double variance = values.size() < 2 ? 1 : squares / static_cast<double>(values.size() - 1);
    return {0, mean, variance * widening * widening};
}

Mixture spread_of(const std::vector<double>& values) {
    Normal wide = wide_normal(values);
    if (values.empty()) return {wide};
    Mixture spread;
    std::vector<double> sorted = values;
    std::ranges::sort(sorted);
    for (std::size_t i = 0; i < sorted.size();) {  // equal figures make one heavier term
        std::size_t next = i;
        while (next < sorted.size() && sorted[next] < sorted[i] * 1.002) ++next;
        const double share = near_share * static_cast<double>(next - i) / static_cast<double>(sorted.size());
        spread.push_back(normal(share, std::log(sorted[i]), near_relative));
        i = next;
    }
    wide.log_weight = std::log(1 - near_share);
    spread.push_back(wide);
    return spread;
}

Belief belief_in(const TableFigure& figure, const Judgement& judgement, const Mixture& spread, const Normal& wide) {
    Belief belief;
    belief.absent = figure.absent;
    if (!figure.value) {
        belief.prior = spread;
        return belief;
    }
    const Trust& trust = judgement.trust_in(figure.standing);
    belief.known = true;
    const double sd = figure.is_exact ? exact_relative : std::hypot(*figure.relative, trust.off_by);
    belief.prior = {normal(1 - trust.wrong, std::log(*figure.value), sd), wide};
    belief.prior.back().log_weight = std::log(trust.wrong);
    return belief;
}

Belief less_losses(const Belief& belief) {
    // An exponential spread of losses with a mean of a quarter, as four normal ones: first copies mostly, some far
    // down. Common practice, no source: each copy on home machines costs a fifth or so.
    constexpr std::array<std::array<double, 3>, 4> losses{
        {{0.33, 0.05, 0.04}, {0.34, 0.17, 0.07}, {0.23, 0.38, 0.13}, {0.10, 0.75, 0.27}}};
    Belief result = belief;
    result.prior.clear();
    for (const Normal& term : belief.prior)
        for (const auto& [share, loss, sd] : losses)
            result.prior.push_back({term.log_weight + std::log(share), term.mean - loss, term.variance + sd * sd});
    return result;
}

}  // namespace guardband::identify
