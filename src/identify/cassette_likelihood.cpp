#include "identify/cassette_likelihood.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "identify/weighing.h"

namespace guardband::identify {
namespace {

constexpr std::size_t speed_at = 3;  // behind length, thickness and hub
constexpr double mm_in_m = 1000;

double log_label(const Evidence& evidence, const Cassette& cassette, const Observation& seen) {
    const double blunders = evidence.models().data(Kind::Label).blunders;
    const double labels = static_cast<double>(std::max<std::size_t>(evidence.models().labels().size(), 1));
    const double share = evidence.label_share(seen);
    // A text that the table does not know: as likely as any one label.
    const double by_chance = share > 0 ? share : 1 / labels;
    const double right = cassette.grade == nullptr
                             ? evidence.models().judgement().unlisted_with_listed_label * by_chance
                             : double(evidence.fits(seen, cassette.grade));
    return std::log((1 - blunders) * right + blunders * by_chance);
}

double log_words(const Evidence& evidence, const Cassettes& of_format, const Cassette& cassette) {
    double sum = 0;
    for (const Observation* seen : evidence.in(Group::Cassette)) {
        if (seen->kind == Kind::Label) sum += log_label(evidence, cassette, *seen);
        if (seen->kind == Kind::Shell)
            sum += std::log(shell_probability(evidence.models(), of_format, cassette, evidence.shell_at(*seen)));
    }
    return sum;
}

/// D² = d² + 4 L t / π; what a change of each logarithm does to that of D.
Line<4> outer_line(const Observation& seen, const Term<4>& near) {
    const double hub2 = std::exp(2 * near.mean[hub_at]);
    const double tape2 = 4 / std::numbers::pi * std::exp(near.mean[length_at] + near.mean[thickness_at]);
    const double tape_share = tape2 / (hub2 + tape2);
    Line<4> line{seen.log_value(), seen.log_variance(), 0, {tape_share / 2, tape_share / 2, 1 - tape_share, 0}};
    line.offset = std::log(hub2 + tape2) / 2;
    for (std::size_t i = 0; i < speed_at; ++i) line.offset -= line.slope[i] * near.mean[i];
    return line;
}

Line<4> cassette_line(const Observation& seen, const Term<4>& near) {
    switch (seen.kind) {
        case Kind::PackHub:
            return {seen.log_value(), seen.log_variance(), 0, {0, 0, 1, 0}};
        case Kind::PackOuter:
            return outer_line(seen, near);
        default:  // programme time: T = L / v
            return {seen.log_value(), seen.log_variance(), std::log(mm_in_m), {1, 0, 0, -1}};
    }
}

Term<4> start_of(const Cassette& cassette, const Normal& speed, double log_weight) {
    Term<4> term{log_weight + speed.log_weight,
                 {cassette.length_m.mean, cassette.thickness_um.mean, cassette.hub_mm.mean, speed.mean},
                 {}};
    term.covariance[length_at][length_at] = cassette.length_m.variance;
    term.covariance[thickness_at][thickness_at] = cassette.thickness_um.variance;
    term.covariance[hub_at][hub_at] = cassette.hub_mm.variance;
    term.covariance[speed_at][speed_at] = speed.variance;
    return term;
}

bool is_word(const Observation* seen) { return info_of(seen->kind).value == KindInfo::Value::Word; }

Terms<4> weigh_one(const Evidence& evidence, const Cassette& cassette, const Mixture& speed, double log_weight) {
    Terms<4> terms;
    for (const Normal& v : speed) terms.push_back(start_of(cassette, v, log_weight));
    for (const Observation* seen : evidence.in(Group::Cassette))
        if (!is_word(seen))
            absorb(terms, evidence.models().data(seen->kind), true,
                   [&](const Term<4>& near) { return cassette_line(*seen, near); });
    return terms;
}

/// The terms of one cassette as one normal distribution of the same mean and covariance.
Term<3> together(const Terms<4>& terms) {
    const double total = log_total(terms);
    Term<3> sum;
    for (const Term<4>& term : terms)
        for (std::size_t i = 0; i < 3; ++i) sum.mean[i] += std::exp(term.log_weight - total) * term.mean[i];
    for (const Term<4>& term : terms)
        for (std::size_t i = 0; i < 3; ++i)
            for (std::size_t j = 0; j < 3; ++j)
                sum.covariance[i][j] +=
                    std::exp(term.log_weight - total) *
                    (term.covariance[i][j] + (term.mean[i] - sum.mean[i]) * (term.mean[j] - sum.mean[j]));
    return sum;
}

}  // namespace

double log_pack_outer(double log_length, double log_thickness, double log_hub) {
    return std::log(std::exp(2 * log_hub) + 4 / std::numbers::pi * std::exp(log_length + log_thickness)) / 2;
}

double shell_probability(const Models& models, const Cassettes& of_format, const Cassette& cassette, std::size_t seen) {
    if (!cassette.shell.empty()) return models.shell_seen(cassette.shell_at, seen);
    if (of_format.shells.empty()) return 1 / static_cast<double>(models.shells().size());  // any may be it
    double sum = 0;
    for (const std::size_t shell : of_format.shells_at) sum += models.shell_seen(shell, seen);
    return sum / static_cast<double>(of_format.shells.size());
}

void start_cassettes(const ModeModel& model, ModeState& state) {
    state.cassettes = model.cassettes->log_shares;
    state.cassette_terms.clear();
    for (const Cassette& cassette : model.cassettes->all)
        state.cassette_terms.push_back(together({start_of(cassette, {0, 0, 1}, 0)}));
}

double weigh_cassettes(const ModeModel& model, const Evidence& evidence, Mixture& speed, ModeState* state) {
    const Cassettes& cassettes = *model.cassettes;
    const bool words_only = std::ranges::all_of(evidence.in(Group::Cassette), is_word);
    double speed_total = minus_infinity, total = minus_infinity;
    for (const Normal& v : speed) speed_total = log_add(speed_total, v.log_weight);
    Mixture learned_speed;
    for (std::size_t i = 0; i < cassettes.all.size(); ++i) {
        const Cassette& cassette = cassettes.all[i];
        double log_weight = cassettes.log_shares[i] + log_words(evidence, cassettes, cassette);
        if (words_only) {
            log_weight += speed_total;
        } else {
            const Terms<4> terms = weigh_one(evidence, cassette, speed, log_weight);
            log_weight = log_total(terms);
            if (state != nullptr) {
                state->cassette_terms[i] = together(terms);
                for (const Term<4>& term : terms)
                    learned_speed.push_back(
                        {term.log_weight, term.mean[speed_at], term.covariance[speed_at][speed_at]});
            }
        }
        if (state != nullptr) state->cassettes[i] = log_weight;
        total = log_add(total, log_weight);
    }
    if (state != nullptr)
        for (double& log_probability : state->cassettes) log_probability -= total;
    if (!learned_speed.empty()) speed = std::move(learned_speed);
    return total;
}

}  // namespace guardband::identify
