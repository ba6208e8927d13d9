#include "identify/fit.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::identify {
namespace {

// Two readings of three that are both at the floor of 3 % give 0.017 to 0.03, depending on the third; one gives 0.08 at
// the least with two readings and more with more. Two blunders among three happen once in 400 tapes.
constexpr double no_format_below = 0.03, strained_below = 0.1;

double tail_of(const Mixture& numbers, double at, double variance) {
    double tail = 0;
    for (const Normal& term : numbers)
        tail +=
            std::exp(term.log_weight) * std::erfc(std::abs(at - term.mean) / std::sqrt(2 * (term.variance + variance)));
    return std::min(tail, 1.0);
}

/// Words at most as likely as the one that was seen, all together.
double tail_of_word(const std::vector<std::pair<std::string, double>>& words, double probability) {
    double tail = 0;
    for (const auto& [word, share] : words)
        if (share <= probability * (1 + 1e-9)) tail += share;
    return std::min(tail, 1.0);
}

double probability_of(const std::vector<std::pair<std::string, double>>& words, const Observation& seen) {
    double probability = 0;
    const std::vector<std::string> read = label_words(seen.text);
    for (const auto& [word, share] : words)
        if (seen.kind == Kind::Label ? label_matches(read, word) : word == seen.text)
            probability = std::max(probability, share);
    if (probability == 0 && !words.empty()) probability = words.back().second;
    return probability;
}

/// Survival of χ² with an even number of degrees: e^{-x/2} Σ (x/2)^k / k!.
double chi_squared_tail(double x, std::size_t pairs) {
    double term = std::exp(-x / 2), sum = 0;
    for (std::size_t k = 0; k < pairs; ++k) {
        sum += term;
        term *= x / 2 / static_cast<double>(k + 1);
    }
    return std::min(sum, 1.0);
}

}  // namespace

std::string_view to_string(FitVerdict verdict) {
    constexpr std::array<std::string_view, 3> words{"consistent", "strained", "no known format fits"};
    return words.at(static_cast<std::size_t>(verdict));
}

Agreement agreement(const Models& models, const ModeModel& model, const ModeState& rest, const Observation& seen) {
    Agreement result;
    result.prediction = predicted(models, model, rest, seen.kind, setting_of(seen));
    const bool is_word = info_of(seen.kind).value == KindInfo::Value::Word;
    result.counts = !is_word || result.prediction.known;
    if (is_word)
        result.tail = tail_of_word(result.prediction.words, probability_of(result.prediction.words, seen));
    else if (result.prediction.known)
        result.tail = tail_of(result.prediction.numbers, seen.log_value(), seen.log_variance());
    else
        result.tail = 0;
    return result;
}

double p_value(const Models& models, const std::vector<Agreement>& agreements,
               const std::vector<const Observation*>& seen) {
    double sum = 0;
    std::size_t count = 0;
    for (std::size_t i = 0; i < agreements.size(); ++i) {
        if (!agreements[i].counts) continue;
        const double blunders = models.data(seen[i]->kind).blunders;
        sum -= 2 * std::log((1 - blunders) * agreements[i].tail + blunders);
        ++count;
    }
    return count == 0 ? 1 : chi_squared_tail(sum, count);
}

Fit fit_of(double p_value, bool a_blunder_is_likely) {
    Fit fit{p_value, FitVerdict::Consistent};
    if (p_value < no_format_below)
        fit.verdict = FitVerdict::NoKnownFormat;
    else if (p_value < strained_below || a_blunder_is_likely)
        fit.verdict = FitVerdict::Strained;
    return fit;
}

}  // namespace guardband::identify
