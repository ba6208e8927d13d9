#include "identify/likelihood.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <unordered_map>

#include "identify/cassette_likelihood.h"
#include "identify/weighing.h"

namespace guardband::identify {
namespace {

constexpr std::size_t index_of(Group group) { return static_cast<std::size_t>(group); }

constexpr std::array independent_groups{Group::Width, Group::Pitch, Group::Angle,
                                        Group::Drum,  Group::Luma,  Group::Sound};
constexpr std::array speed_groups{Group::Control, Group::Tracks, Group::Speed};

Mixture normalised(Mixture mixture) {
    double sum = minus_infinity;
    for (const Normal& term : mixture) sum = log_add(sum, term.log_weight);
    for (Normal& term : mixture) term.log_weight -= sum;
    return mixture;
}

/// A reading of the drum's group as a line of ln(drum's rate / the system's).
Line<1> drum_line(const ModeModel& model, const Observation& seen) {
    const double offset = seen.kind == Kind::FieldRate  ? model.log_field_rate
                          : seen.kind == Kind::LineRate ? model.log_line_rate
                                                        : 0;
    return {seen.log_value(), seen.log_variance(), offset, {1}};
}

/// Readings that bear on a quantity of their own.
double weigh_quantity(const ModeModel& model, const Evidence& evidence, Group group, Mixture& after) {
    const Belief& belief = model.groups[index_of(group)];
    Terms<1> terms;
    for (const Normal& term : belief.prior) terms.push_back({term.log_weight, {term.mean}, {{{term.variance}}}});
    for (const Observation* seen : evidence.in(group))
        absorb(terms, evidence.models().data(seen->kind), !belief.absent,
               [&](const Term<1>&) { return drum_line(model, *seen); });
    for (const Term<1>& term : terms) after.push_back({term.log_weight, term.mean[0], term.covariance[0][0]});
    return log_total(terms);
}

/// A reading as a line of the logarithms of the tape's speed and of the group's own quantity.
Line<2> speed_line(const Observation& seen) {
    Line<2> line{seen.log_value(), seen.log_variance(), 0, {-1, 1}};
    switch (seen.kind) {
        case Kind::ControlTrackRate:  // without a machine's speed: played at the one it was recorded at
            line.offset = seen.played_mm_s ? std::log(*seen.played_mm_s) : 0;
            if (!seen.played_mm_s) line.slope[0] = 0;
            break;
        case Kind::ReelPeriod:  // T = π D / v
            line.offset = std::log(std::numbers::pi * seen.diameter_mm);
            line.slope[1] = 0;
            break;
        case Kind::SoundSpeedRatio:
            line.offset = std::log(seen.played_mm_s.value_or(1));
            line.slope[1] = 0;
            break;
        default:  // tracks per mm: f / v
            break;
    }
    return line;
}

/// Terms that say nearly the same of the speed, as one.
Mixture speeds_of(const Terms<2>& terms) {
    constexpr double near_deviations =
        0.3;  // merging such moves no density by more than a few per cent of a small term
    Mixture speeds;
    for (const Term<2>& term : terms) {
        const double mean = term.mean[0], variance = term.covariance[0][0];
        const auto same = std::ranges::find_if(speeds, [&](const Normal& other) {
            return std::abs(other.mean - mean) < near_deviations * std::sqrt(other.variance) &&
                   other.variance < 1.5 * variance && variance < 1.5 * other.variance;
        });
        if (same == speeds.end())
            speeds.push_back({term.log_weight, mean, variance});
        else
            same->log_weight = log_add(same->log_weight, term.log_weight);
    }
    return speeds;
}

Mixture quantities_of(const Terms<2>& terms) {
    Mixture mixture;
    for (const Term<2>& term : terms) mixture.push_back({term.log_weight, term.mean[1], term.covariance[1][1]});
    return mixture;
}

/// Readings that rest on the tape's speed, which they teach about.
void weigh_speed(const ModeModel& model, const Evidence& evidence, Group group, Mixture& speed, Mixture& after) {
    const Belief& belief = model.groups[index_of(group)];
    const Mixture none{{0, 0, 1}};  // a quantity that no reading of the group rests on
    Terms<2> terms;
    for (const Normal& v : speed)
        for (const Normal& q : belief.prior.empty() ? none : belief.prior)
            terms.push_back({v.log_weight + q.log_weight, {v.mean, q.mean}, {{{v.variance, 0}, {0, q.variance}}}});
    for (const Observation* seen : evidence.in(group))
        absorb(terms, evidence.models().data(seen->kind), !belief.absent,
               [&](const Term<2>&) { return speed_line(*seen); });
    speed = speeds_of(terms);
    after = quantities_of(terms);
}

double log_colour(const ModeModel& model, const Evidence& evidence) {
    double sum = 0;
    for (const Observation* seen : evidence.in(Group::Colour)) {
        const auto word = std::ranges::find(colour_words, seen->text) - colour_words.begin();
        const double blunders = evidence.models().data(Kind::Colour).blunders;
        sum += std::log((1 - blunders) * model.colours.at(static_cast<std::size_t>(word)) +
                        blunders / static_cast<double>(colour_words.size()));
    }
    return sum;
}

double log_total_of(const Mixture& mixture) {
    double sum = minus_infinity;
    for (const Normal& term : mixture) sum = log_add(sum, term.log_weight);
    return sum;
}

/// What modes have in common is weighed once: quantities that are believed the same, cassettes of one format in one
/// standard.
class Weighing {
public:
    explicit Weighing(const Evidence& evidence) : evidence_(evidence) {}

    double weigh(const ModeModel& model, ModeState* state) {
        double sum = log_colour(model, evidence_);
        for (const Group group : independent_groups)
            if (!evidence_.is_empty(group)) sum += quantity(model, group, state);
        Mixture speed = model.speed.prior;
        for (const Group group : speed_groups) {
            if (evidence_.is_empty(group)) continue;
            Mixture after;
            weigh_speed(model, evidence_, group, speed, after);
            if (state != nullptr) state->groups[index_of(group)] = normalised(std::move(after));
        }
        sum += cassettes(model, speed, state);
        if (state != nullptr) state->speed = normalised(std::move(speed));
        return sum;
    }

private:
    double quantity(const ModeModel& model, Group group, ModeState* state) {
        std::vector<double>& known = quantities_[index_of(group)];
        const std::size_t number = model.groups[index_of(group)].number;
        if (state == nullptr && number < known.size() && !std::isnan(known[number])) return known[number];
        Mixture after;
        const double weight = weigh_quantity(model, evidence_, group, after);
        if (state != nullptr) state->groups[index_of(group)] = normalised(std::move(after));
        if (number >= known.size()) known.resize(number + 1, std::nan(""));
        return known[number] = weight;
    }

    double cassettes(const ModeModel& model, Mixture& speed, ModeState* state) {
        if (evidence_.is_empty(Group::Cassette)) return log_total_of(speed);
        const bool rests_on_speed = std::ranges::any_of(
            evidence_.in(Group::Cassette), [](const auto* seen) { return seen->kind == Kind::ProgrammeTime; });
        if (rests_on_speed || state != nullptr) return weigh_cassettes(model, evidence_, speed, state);
        const auto known = cassettes_.find(model.cassettes.get());
        if (known != cassettes_.end()) return known->second + log_total_of(speed);
        Mixture any_speed{{0, 0, 1}};
        const double weight = weigh_cassettes(model, evidence_, any_speed, nullptr);
        cassettes_.emplace(model.cassettes.get(), weight);
        return weight + log_total_of(speed);
    }

    const Evidence& evidence_;
    std::array<std::vector<double>, group_count> quantities_;
    std::unordered_map<const Cassettes*, double> cassettes_;
};

}  // namespace

Evidence::Evidence(const Models& models, std::span<const Observation> observations) : models_(&models) {
    for (const Observation& seen : observations) {
        all_.push_back(&seen);
        if (seen.kind == Kind::Shell) shells_.emplace_back(&seen, models.shell_place(seen.text));
        if (seen.kind != Kind::Label) continue;
        const std::vector<std::string> words = label_words(seen.text);
        Label label{&seen, {}, 0};
        for (const std::string& known : models.labels())
            if (label_matches(words, known)) label.share += 1;
        label.share /= static_cast<double>(std::max<std::size_t>(models.labels().size(), 1));
        for (const table::TapeFormat& format : models.table().formats)
            for (const table::Grade& grade : format.grades) {
                const auto fits = [&](const std::string& name) { return label_matches(words, plain_label(name)); };
                if (fits(grade.id) || std::ranges::any_of(grade.aliases, fits)) label.grades.push_back(&grade);
            }
        std::ranges::sort(label.grades);
        labels_.push_back(std::move(label));
    }
    sort_into_groups();
}

void Evidence::sort_into_groups() {
    for (auto& group : groups_) group.clear();
    for (const Observation* seen : all_) groups_[index_of(info_of(seen->kind).group)].push_back(seen);
    // A pack is taken as straight where the belief stands: the hub first, so that it stands well.
    const auto rank = [](const Observation* seen) {
        return seen->kind == Kind::PackHub ? 0 : seen->kind == Kind::PackOuter ? 1 : 2;
    };
    std::ranges::stable_sort(groups_[index_of(Group::Cassette)], {}, rank);
}

Evidence Evidence::without(std::size_t left_out) const {
    Evidence rest = *this;
    rest.all_.erase(rest.all_.begin() + static_cast<std::ptrdiff_t>(left_out));
    rest.sort_into_groups();
    return rest;
}

const Evidence::Label& Evidence::read(const Observation& label) const {
    return *std::ranges::find(labels_, &label, &Label::seen);
}

bool Evidence::fits(const Observation& label, const table::Grade* grade) const {
    const auto& grades = read(label).grades;
    return grade != nullptr && std::ranges::binary_search(grades, grade);
}

std::size_t Evidence::shell_at(const Observation& shell) const {
    return std::ranges::find(shells_, &shell, &std::pair<const Observation*, std::size_t>::first)->second;
}

double Evidence::label_share(const Observation& label) const { return read(label).share; }

std::vector<double> log_likelihoods(const Evidence& evidence) {
    Weighing weighing(evidence);
    std::vector<double> all;
    for (const ModeModel& model : evidence.models().all()) all.push_back(weighing.weigh(model, nullptr));
    return all;
}

ModeState unweighed(const ModeModel& model) {
    ModeState state;
    for (std::size_t i = 0; i < group_count; ++i) state.groups[i] = model.groups[i].prior;
    state.speed = model.speed.prior;
    start_cassettes(model, state);
    return state;
}

ModeState weighed(const ModeModel& model, const Evidence& evidence) {
    ModeState state = unweighed(model);
    state.log_likelihood = Weighing(evidence).weigh(model, &state);
    return state;
}

}  // namespace guardband::identify
