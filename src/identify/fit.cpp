#include "identify/fit.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::identify {
namespace {

// With three readings of which two are not explained p is at most 0.008, and at least 0.008 with one. With ten it takes
// three. Found by tests/identify/fit_test.cpp: below 2 % of ordinary tapes, above 95 % of those whose format is
// missing.
constexpr double no_format_below = 0.01, strained_below = 0.1;

// A reading further out than this is not explained: 2.8 standard deviations.
constexpr double unexplained_below = 0.005;

/// The table's figures as they stand: that one of them may be wrong, which the wide terms are for, is no fit.
double tail_of(const Mixture& numbers, double at, double variance) {
    constexpr double widest = 0.5 * 0.5;  // between what tolerances and grades spread a figure by and the wide terms
    double tail = 0, share = 0;
    for (const Normal& term : numbers) {
        if (term.variance > widest) continue;
        const double weight = std::exp(term.log_weight);
        tail += weight * std::erfc(std::abs(at - term.mean) / std::sqrt(2 * (term.variance + variance)));
        share += weight;
    }
    return share > 0 ? std::min(tail / share, 1.0) : 0;
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

/// Probabilities that none, one, two … of independent things happen.
std::vector<double> count_distribution(const std::vector<double>& chances) {
    std::vector<double> counts{1};
    for (const double chance : chances) {
        counts.push_back(0);
        for (std::size_t k = counts.size() - 1; k > 0; --k)
            counts[k] = counts[k] * (1 - chance) + counts[k - 1] * chance;
        counts[0] *= 1 - chance;
    }
    return counts;
}

/// Fisher's rule: how often so many even numbers between 0 and 1 have a product as small as this.
double product_tail(const std::vector<double>& tails) {
    double sum = 0;
    for (const double tail : tails) sum -= 2 * std::log(std::max(tail, 1e-12));
    return tails.empty() ? 1 : chi_squared_tail(sum, tails.size());
}

}  // namespace

std::string_view to_string(FitVerdict verdict) {
    constexpr std::array<std::string_view, 3> words{"consistent", "strained", "no known format fits"};
    return words.at(static_cast<std::size_t>(verdict));
}

Agreement agreement(const Models& models, const ModeModel& model, const ModeState& state, const Observation& seen) {
    Agreement result;
    result.prediction = predicted(models, model, state, seen.kind, setting_of(seen));
    const bool is_word = info_of(seen.kind).value == KindInfo::Value::Word;
    // Cassettes of grades that the table does not list are met all the time; that says nothing of the format.
    result.counts = result.prediction.known || (!is_word && info_of(seen.kind).group != Group::Cassette);
    if (is_word)
        result.tail = tail_of_word(result.prediction.words, probability_of(result.prediction.words, seen));
    else if (result.prediction.known)
        result.tail = tail_of(result.prediction.numbers, seen.log_value(), seen.log_variance());
    else
        result.tail = 0;
    return result;
}

bool contradicts(const Agreement& agreement) {
    return agreement.counts && agreement.prediction.known && agreement.tail < unexplained_below;
}

double p_value(const Models& models, const std::vector<Agreement>& agreements,
               const std::vector<const Observation*>& seen) {
    std::vector<double> chances, tails;
    std::size_t unexplained = 0;
    for (std::size_t i = 0; i < agreements.size(); ++i) {
        if (!agreements[i].counts) continue;
        const double blunders = models.data(seen[i]->kind).blunders;
        chances.push_back(blunders + (1 - blunders) * unexplained_below);
        if (agreements[i].tail < unexplained_below)
            ++unexplained;
        else
            tails.push_back((agreements[i].tail - unexplained_below) / (1 - unexplained_below));
    }
    const std::vector<double> counts = count_distribution(chances);
    double more = 0;
    for (std::size_t count = unexplained + 1; count < counts.size(); ++count) more += counts[count];
    return std::min(more + counts[unexplained] * product_tail(tails), 1.0);
}

Fit fit_of(double p_value, bool has_contradiction) {
    Fit fit{p_value, FitVerdict::Consistent};
    if (p_value < no_format_below)
        fit.verdict = FitVerdict::NoKnownFormat;
    else if (p_value < strained_below || has_contradiction)
        fit.verdict = FitVerdict::Strained;
    return fit;
}

}  // namespace guardband::identify
