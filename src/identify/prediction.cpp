#include "identify/prediction.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "identify/cassette_likelihood.h"

namespace guardband::identify {
namespace {

constexpr double mm_in_m = 1000;
constexpr double least = 1e-6;  // terms below this share of a prediction are left out
constexpr std::size_t most_speeds = 6;

const Mixture& of_group(const ModeState& state, Group group) { return state.groups[static_cast<std::size_t>(group)]; }

const Belief& belief_of(const ModeModel& model, Group group) { return model.groups[static_cast<std::size_t>(group)]; }

Mixture shifted(Mixture mixture, double offset) {
    for (Normal& term : mixture) term.mean += offset;
    return mixture;
}

Mixture heaviest(Mixture mixture, std::size_t most) {
    std::ranges::stable_sort(mixture, std::greater{}, &Normal::log_weight);
    if (mixture.size() > most) mixture.resize(most);
    return mixture;
}

/// a - b of independent beliefs.
Mixture difference(const Mixture& a, const Mixture& b) {
    Mixture result;
    for (const Normal& x : a)
        for (const Normal& y : heaviest(b, most_speeds))
            if (x.log_weight + y.log_weight > std::log(least))
                result.push_back({x.log_weight + y.log_weight, x.mean - y.mean, x.variance + y.variance});
    return result;
}

Mixture negative(Mixture mixture) {
    for (Normal& term : mixture) term.mean = -term.mean;
    return mixture;
}

/// What each cassette leads to expect, weighed by how likely it is.
template <typename Expect>
Mixture over_cassettes(const ModeState& state, Expect expect) {
    Mixture mixture;
    for (std::size_t i = 0; i < state.cassettes.size(); ++i) {
        if (state.cassettes[i] < std::log(least)) continue;
        Normal term = expect(state.cassette_terms[i]);
        term.log_weight = state.cassettes[i];
        mixture.push_back(term);
    }
    return mixture;
}

Normal hub_of(const Term<3>& t) { return {0, t.mean[hub_at], t.covariance[hub_at][hub_at]}; }

Normal outer_of(const Term<3>& t) {
    const double outer = log_pack_outer(t.mean[length_at], t.mean[thickness_at], t.mean[hub_at]);
    const double hub_share = std::exp(2 * (t.mean[hub_at] - outer));
    const std::array<double, 3> slope{(1 - hub_share) / 2, (1 - hub_share) / 2, hub_share};
    double variance = 0;
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) variance += slope[i] * slope[j] * t.covariance[i][j];
    return {0, outer, variance};
}

Mixture time_of(const ModeState& state) {
    const Mixture length = over_cassettes(state, [](const Term<3>& t) {
        return Normal{0, t.mean[length_at], t.covariance[length_at][length_at]};
    });
    return shifted(difference(length, state.speed), std::log(mm_in_m));
}

/// Does the table know what the likeliest cassette leads to expect?
bool knows_cassette(const ModeModel& model, const ModeState& state, Kind kind) {
    const auto likeliest = std::ranges::max_element(state.cassettes) - state.cassettes.begin();
    const Cassette& cassette = model.cassettes->all[static_cast<std::size_t>(likeliest)];
    return kind == Kind::PackHub ? cassette.knows_hub : cassette.knows_length;
}

Mixture numbers_of(const ModeModel& model, const ModeState& state, const KindInfo& info, const Setting& setting) {
    const Mixture& own = of_group(state, info.group);
    switch (info.kind) {
        case Kind::FieldRate:
            return shifted(own, model.log_field_rate);
        case Kind::LineRate:
            return shifted(own, model.log_line_rate);
        case Kind::TracksPerMm:
            return difference(own, state.speed);
        case Kind::ControlTrackRate:
            return setting.played_mm_s ? shifted(difference(own, state.speed), std::log(*setting.played_mm_s)) : own;
        case Kind::ReelPeriod:
            return shifted(negative(state.speed), std::log(std::numbers::pi * setting.diameter_mm));
        case Kind::SoundSpeedRatio:
            return shifted(negative(state.speed), std::log(setting.played_mm_s.value_or(1)));
        case Kind::PackHub:
            return over_cassettes(state, hub_of);
        case Kind::PackOuter:
            return over_cassettes(state, outer_of);
        case Kind::ProgrammeTime:
            return time_of(state);
        default:
            return own;
    }
}

bool is_known(const ModeModel& model, const ModeState& state, const KindInfo& info, const Setting& setting) {
    const bool rests_on_speed = info.group == Group::Tracks || info.group == Group::Speed ||
                                info.kind == Kind::ProgrammeTime ||
                                (info.kind == Kind::ControlTrackRate && setting.played_mm_s);
    if (rests_on_speed && !model.speed.known) return false;
    if (info.group == Group::Cassette) return knows_cassette(model, state, info.kind);
    return info.group == Group::Speed || belief_of(model, info.group).known;
}

using Words = std::map<std::string, double>;

void add_shells(Words& words, const Models& models, const ModeModel& model, const ModeState& state) {
    for (std::size_t shell = 0; shell < models.shells().size(); ++shell) {
        double& share = words[models.shells()[shell]];
        for (std::size_t i = 0; i < state.cassettes.size(); ++i)
            share += std::exp(state.cassettes[i]) *
                     shell_probability(models, *model.cassettes, model.cassettes->all[i], shell);
    }
}

/// Each label with the probability that it is read; what no label of the table is, as an empty text.
void add_labels(Words& words, const Models& models, const ModeState& state, const ModeModel& model) {
    const double blunders = models.data(Kind::Label).blunders, count = static_cast<double>(models.labels().size());
    const double with_listed = models.judgement().unlisted_with_listed_label;
    double by_chance = 0;
    for (std::size_t i = 0; i < state.cassettes.size(); ++i) {
        const double probability = std::exp(state.cassettes[i]);
        const Cassette& cassette = model.cassettes->all[i];
        if (cassette.grade != nullptr)
            words[cassette.names.front()] += (1 - blunders) * probability;
        else
            words[""] += (1 - blunders) * probability * (1 - with_listed),
                by_chance += (1 - blunders) * probability * with_listed;
        by_chance += blunders * probability;
    }
    for (const std::string& label : models.labels()) words[label] += by_chance / count;
}

std::vector<std::pair<std::string, double>> likeliest_first(const Words& words) {
    std::vector<std::pair<std::string, double>> list(words.begin(), words.end());
    std::ranges::stable_sort(list, std::greater{}, &std::pair<std::string, double>::second);
    return list;
}

Words words_of(const Models& models, const ModeModel& model, const ModeState& state, Kind kind) {
    Words words;
    if (kind == Kind::Shell) add_shells(words, models, model, state);
    if (kind == Kind::Label) add_labels(words, models, state, model);
    if (kind == Kind::Colour) {
        const double blunders = models.data(kind).blunders;
        for (std::size_t i = 0; i < colour_words.size(); ++i)
            words[std::string(colour_words[i])] =
                (1 - blunders) * model.colours[i] + blunders / static_cast<double>(colour_words.size());
    }
    return words;
}

}  // namespace

Setting setting_of(const Observation& seen) { return {seen.played_mm_s, seen.diameter_mm}; }

Prediction predicted(const Models& models, const ModeModel& model, const ModeState& state, Kind kind,
                     const Setting& setting) {
    const KindInfo& info = info_of(kind);
    Prediction prediction;
    if (info.value == KindInfo::Value::Word) {
        prediction.words = likeliest_first(words_of(models, model, state, kind));
        prediction.known = kind == Kind::Colour || (kind == Kind::Shell && !model.cassettes->shells.empty()) ||
                           (kind == Kind::Label && model.cassettes->all.size() > 1);
        return prediction;
    }
    prediction.absent =
        info.group != Group::Cassette && info.group != Group::Speed && belief_of(model, info.group).absent;
    if (prediction.absent) return prediction;
    prediction.known = is_known(model, state, info, setting);
    prediction.numbers = numbers_of(model, state, info, setting);
    return prediction;
}

std::optional<double> expected_value(const Prediction& prediction) {
    if (!prediction.known || prediction.numbers.empty()) return std::nullopt;
    return std::exp(std::ranges::max_element(prediction.numbers, {}, &Normal::log_weight)->mean);
}

}  // namespace guardband::identify
