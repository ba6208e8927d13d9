#include "calc/propagation.h"

#include <cmath>

namespace guardband::calc {

Input input_of(const table::Fact& fact, std::string_view unit) {
    return {fact.in(unit), (fact.highest_in(unit) - fact.lowest_in(unit)) / 2};
}

Spread spread_of(const std::function<double(std::span<const double>)>& formula, const std::vector<Input>& inputs) {
    std::vector<double> values;
    for (const Input& input : inputs) values.push_back(input.value);
    Spread spread{formula(values)};
    double squares = 0;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        if (inputs[i].half_width == 0) continue;
        values[i] = inputs[i].value + inputs[i].half_width;
        const double above = formula(values);
        values[i] = inputs[i].value - inputs[i].half_width;
        const double half = std::abs(above - formula(values)) / 2;
        values[i] = inputs[i].value;
        spread.worst += half;
        squares += half * half / 3;
    }
    spread.standard_uncertainty = std::sqrt(squares);
    return spread;
}

quantity::Figure figure_of(const Spread& spread, std::string_view unit) {
    return quantity::Figure::measured(spread.value, spread.standard_uncertainty, unit);
}

}  // namespace guardband::calc
