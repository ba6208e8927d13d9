#include "identify/answer.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "identify/alike.h"

namespace guardband::identify {
namespace {

constexpr double shown_share = 0.005;     // candidates above it are shown with all of their evidence
constexpr std::size_t most_shown = 12;    // and no more than these
constexpr double suspicious_above = 0.5;  // probability of a blunder
constexpr double decibels = 10 / std::numbers::ln10;

/// A label as the table prints it, where the word is one; else the word.
std::string printed_label(const table::Table& table, const std::string& word) {
    for (const table::TapeFormat& format : table.formats)
        for (const table::Grade& grade : format.grades)
            if (plain_label(grade.id) == word) return grade.id;
    return word;
}

/// Leaves out one observation after another.
class LeaveOneOut {
public:
    LeaveOneOut(const Prior& prior, const Evidence& evidence) {
        for (std::size_t i = 0; i < evidence.size(); ++i) {
            rest_.push_back(evidence.without(i));
            posteriors_.push_back(posterior_of(prior, rest_.back()));
        }
    }

    const Evidence& rest(std::size_t observation) const { return rest_[observation]; }
    const Posterior& posterior(std::size_t observation) const { return posteriors_[observation]; }

private:
    std::vector<Evidence> rest_;
    std::vector<Posterior> posteriors_;
};

/// The steps from observations to an answer; each needs those before it.
class Answering {
public:
    Answering(const Models& models, const Prior& prior, std::vector<Observation> observations)
        : models_(models),
          prior_(prior),
          answer_(with(std::move(observations))),
          evidence_(models, answer_.observations),
          posterior_(posterior_of(prior, evidence_)),
          others_(prior, evidence_) {}

    Answer whole(bool with_next) {
        rank();
        add_evidence();
        suspect();
        judge();
        if (with_next) answer_.next = next_measurements(evidence_, posterior_, states());
        if (!answer_.observations.empty())
            for (const std::size_t twin : alike(models_, order_.front())) answer_.alike.push_back(&models_.all()[twin]);
        return std::move(answer_);
    }

private:
    static Answer with(std::vector<Observation> observations) {
        Answer answer;
        answer.observations = std::move(observations);
        return answer;
    }

    void rank() {
        order_ = posterior_.ranked();
        for (const std::size_t i : order_)
            answer_.candidates.push_back({&models_.all()[i], posterior_.probabilities[i], {}});
    }

    std::size_t shown() const {
        std::size_t count = 0;
        while (count < std::min(order_.size(), most_shown) && posterior_.probabilities[order_[count]] >= shown_share)
            ++count;
        return std::max<std::size_t>(count, 1);
    }

    /// How much likelier an observation is with a mode than in the mean with all others, the rest of the evidence
    /// given.
    double weight_db(std::size_t observation, std::size_t mode) const {
        const auto ratio = [&](std::size_t i) {
            return posterior_.log_likelihoods[i] - others_.posterior(observation).log_likelihoods[i];
        };
        double others = minus_infinity, share = 0;
        for (std::size_t i = 0; i < models_.all().size(); ++i) {
            if (i == mode) continue;
            others = log_add(others, std::log(prior_.probabilities()[i]) + ratio(i));
            share += prior_.probabilities()[i];
        }
        return decibels * (ratio(mode) - others + std::log(share));
    }

    Weight weight_of(std::size_t observation, std::size_t mode, const Agreement& agreement) const {
        Weight weight;
        weight.observation = observation;
        weight.expected = expected_value(agreement.prediction);
        weight.absent = agreement.prediction.absent;
        weight.weight_db = weight_db(observation, mode);
        if (agreement.prediction.known)
            weight.expected_words = expected_words(answer_.observations[observation], agreement.prediction);
        return weight;
    }

    /// The likeliest words, those that were read first.
    std::vector<std::string> expected_words(const Observation& seen, const Prediction& prediction) const {
        constexpr std::size_t most = 3;
        constexpr double least = 0.02;
        const std::vector<std::string> read = label_words(seen.text);
        std::vector<std::string> first, rest;
        for (const auto& [word, probability] : prediction.words) {
            if (word.empty() || probability < least) continue;
            const bool was_read = seen.kind == Kind::Label ? label_matches(read, word) : word == seen.text;
            (was_read ? first : rest).push_back(printed_label(models_.table(), word));
        }
        if (first.empty()) first = std::move(rest);
        if (first.size() > most) first.resize(most);
        return first;
    }

    void add_evidence() {
        for (std::size_t rank = 0; rank < shown(); ++rank) {
            const std::size_t mode = order_[rank];
            const ModeModel& model = models_.all()[mode];
            const ModeState before = unweighed(model);
            std::vector<Agreement> agreements;
            std::vector<const Observation*> seen;
            bool tested = true;
            for (std::size_t i = 0; i < answer_.observations.size(); ++i) {
                const bool is_of_cassette = info_of(answer_.observations[i].kind).group == Group::Cassette;
                agreements.push_back(agreement(models_, model,
                                               is_of_cassette ? weighed(model, others_.rest(i)) : before,
                                               answer_.observations[i]));
                seen.push_back(&answer_.observations[i]);
                tested = tested && agreements.back().prediction.known;
                answer_.candidates[rank].evidence.push_back(weight_of(i, mode, agreements.back()));
            }
            p_values_.push_back(p_value(models_, agreements, seen));
            if (rank == 0) first_is_contradicted_ = std::ranges::any_of(agreements, contradicts);
            if (!tested) answer_.not_tested.push_back(&model);
        }
    }

    /// The probability of a blunder follows from what the evidence would weigh without the observation: P(y without i)
    /// times the density of blunders, over P(y).
    void suspect() {
        std::map<Kind, std::vector<std::size_t>> doubtful;
        for (std::size_t i = 0; i < answer_.observations.size(); ++i) {
            const double probability = blunder_probability(i);
            const Observation& seen = answer_.observations[i];
            if (probability > 0.2) doubtful[seen.kind].push_back(i);
            if (probability < suspicious_above) continue;
            const Posterior& rest = others_.posterior(i);
            answer_.suspicions.push_back(
                {i, probability, &models_.all()[rest.best()], rest.probabilities[rest.best()]});
        }
        for (const auto& [kind, seen] : doubtful)
            if (seen.size() > 1) answer_.conflicting.insert(answer_.conflicting.end(), seen.begin(), seen.end());
        std::ranges::stable_sort(answer_.suspicions, std::greater{}, &Suspicion::probability);
    }

    double blunder_probability(std::size_t i) const {
        const Observation& seen = answer_.observations[i];
        const KindData& kind = models_.data(seen.kind);
        double log_density = kind.log_blunder_density;
        if (seen.kind == Kind::Colour) log_density = -std::log(static_cast<double>(colour_words.size()));
        if (seen.kind == Kind::Shell) log_density = -std::log(static_cast<double>(models_.shells().size()));
        if (seen.kind == Kind::Label)
            log_density =
                std::log(std::max(evidence_.label_share(seen), 1.0 / static_cast<double>(models_.labels().size())));
        return std::min(std::exp(std::log(kind.blunders) + log_density + others_.posterior(i).log_evidence -
                                 posterior_.log_evidence),
                        1.0);
    }

    /// The best of the likely candidates: what is seldom may fit by chance.
    void judge() {
        constexpr double likely = 0.05;
        double best = p_values_.front();
        for (std::size_t rank = 0; rank < p_values_.size(); ++rank)
            if (answer_.candidates[rank].probability >= likely) best = std::max(best, p_values_[rank]);
        answer_.fit =
            fit_of(best, first_is_contradicted_ || !answer_.suspicions.empty() || !answer_.conflicting.empty());
    }

    std::vector<ModeState> states() const {
        std::vector<ModeState> states(models_.all().size());
        for (const std::size_t i : that_matter(posterior_)) states[i] = weighed(models_.all()[i], evidence_);
        return states;
    }

    const Models& models_;
    const Prior& prior_;
    Answer answer_;
    Evidence evidence_;
    Posterior posterior_;
    LeaveOneOut others_;
    std::vector<std::size_t> order_;
    std::vector<double> p_values_;
    bool first_is_contradicted_ = false;
};

template <typename NameOf>
std::vector<Share> summed(const Answer& answer, NameOf name_of) {
    std::vector<Share> shares;
    for (const Candidate& candidate : answer.candidates) {
        const std::string name = name_of(*candidate.model);
        const auto same = std::ranges::find(shares, name, &Share::name);
        if (same == shares.end())
            shares.push_back({name, candidate.model->format->name, candidate.probability});
        else
            same->probability += candidate.probability;
    }
    std::ranges::stable_sort(shares, std::greater{}, &Share::probability);
    return shares;
}

}  // namespace

Answer answer_of(const Models& models, const Prior& prior, std::vector<Observation> observations, bool with_next) {
    return Answering(models, prior, std::move(observations)).whole(with_next);
}

std::vector<Share> by_format(const Answer& answer) {
    return summed(answer, [](const ModeModel& model) { return model.format->id; });
}

std::vector<Share> by_system(const Answer& answer) {
    return summed(answer, [](const ModeModel& model) { return model.format->id + ":" + model.mode->system; });
}

}  // namespace guardband::identify
