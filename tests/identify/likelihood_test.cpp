// What the closed forms give against brute integration, and how observations of one kind combine.
#include "identify/likelihood.h"

#include <gmock/gmock.h>

#include <cmath>
#include <map>
#include <numbers>
#include <random>

#include "identify/answer.h"
#include "identify/built_in_models.h"

namespace guardband::identify {
namespace {

using support::built_in;

const ModeModel& model_at(const std::string& address) {
    return *std::ranges::find(models().all(), address, &ModeModel::address);
}

double likelihood_at(const std::string& address, const std::vector<Observation>& observations) {
    const auto index = static_cast<std::size_t>(&model_at(address) - models().all().data());
    return std::exp(log_likelihoods(Evidence(models(), observations))[index]);
}

Observation seen(const std::string& text) { return parse_observation(built_in(), text); }

double density(double deviation, double variance) {
    return std::exp(-deviation * deviation / variance / 2) / std::sqrt(2 * std::numbers::pi * variance);
}

double density(const Mixture& mixture, double at) {
    double sum = 0;
    for (const Normal& term : mixture) sum += std::exp(term.log_weight) * density(at - term.mean, term.variance);
    return sum;
}

/// One reading, of a value that a tape has: right, or a blunder anywhere.
double reading(const Observation& observation, double log_value) {
    const KindData& kind = models().data(observation.kind);
    return (1 - kind.blunders) * density(observation.log_value() - log_value, observation.log_variance()) +
           kind.blunders / std::log(kind.highest / kind.lowest);
}

/// Two readings of one quantity, integrated over what it may be in fine steps.
double brute_of_width(const std::string& address, const std::vector<Observation>& observations) {
    const Mixture& prior = model_at(address).groups[static_cast<std::size_t>(Group::Width)].prior;
    constexpr double step = 2e-5;
    double sum = 0;
    for (double x = std::log(1.0); x < std::log(200.0); x += step) {
        double product = density(prior, x);
        for (const Observation& observation : observations) product *= reading(observation, x);
        sum += product * step;
    }
    return sum;
}

TEST(Likelihood, OfRepeatedReadingsIsWhatBruteIntegrationGives) {
    const std::vector<Observation> agreeing{seen("tape_width=12.6±0.1"), seen("tape_width=12.7±0.1")};
    const std::vector<Observation> apart{seen("tape_width=12.6±0.1"), seen("tape_width=19.0±0.2")};
    for (const std::string address : {"vhs:625/50:SP", "u-format:625/50:LB", "eiaj-1:525/60:standard"}) {
        EXPECT_NEAR(likelihood_at(address, agreeing) / brute_of_width(address, agreeing), 1, 1e-3) << address;
        EXPECT_NEAR(likelihood_at(address, apart) / brute_of_width(address, apart), 1, 1e-3) << address;
    }
}

/// Readings that rest on the speed, integrated over the speed and the control track's rate, in equal steps of both.
double brute_of_speed(const std::string& address, double step, const Observation& reel, const Observation& control) {
    const ModeModel& model = model_at(address);
    const double slowest = std::log(0.5), lowest = std::log(2.0);
    const auto speeds = static_cast<int>(std::log(3000.0 / 0.5) / step),
               rates = static_cast<int>(std::log(1000.0) / step);
    std::vector<double> rate_density, control_reading;  // the latter by what lies between rate and speed
    for (int i = 0; i < rates; ++i)
        rate_density.push_back(
            density(model.groups[static_cast<std::size_t>(Group::Control)].prior, lowest + i * step));
    for (int i = -speeds; i < rates; ++i)
        control_reading.push_back(reading(control, lowest - slowest + i * step + std::log(*control.played_mm_s)));
    double sum = 0;
    for (int v = 0; v < speeds; ++v) {
        const double log_speed = slowest + v * step;
        double inner = 0;
        for (int c = 0; c < rates; ++c)
            inner +=
                rate_density[static_cast<std::size_t>(c)] * control_reading[static_cast<std::size_t>(c - v + speeds)];
        sum += inner * density(model.speed.prior, log_speed) *
               reading(reel, std::log(std::numbers::pi * reel.diameter_mm) - log_speed);
    }
    return sum * step * step;
}

TEST(Likelihood, OfReadingsThatShareTheSpeedIsWhatBruteIntegrationGives) {
    const Observation reel = seen("reel_period=6.0±0.3@50.0"), control = seen("control_track_rate=33±2@20mm/s");
    // The table knows the speed, from memory or in print, or not at all; the control track's rate of none of them.
    // Steps are a fifth of the narrowest width that is met.
    const std::map<std::string, double> steps{
        {"v-cord:525/60:full", 2e-3}, {"d-3:625/50:standard", 5e-4}, {"d-5:1125/59.94:HD", 1e-2}};
    for (const auto& [address, step] : steps)
        EXPECT_NEAR(likelihood_at(address, {reel, control}) / brute_of_speed(address, step, reel, control), 1, 0.01)
            << address;
}

double probability_of(const Answer& answer, const std::string& address) {
    return std::ranges::find(answer.candidates, address, [](const Candidate& c) { return c.model->address; })
        ->probability;
}

Answer answer_to(const std::vector<std::string>& texts) {
    std::vector<Observation> observations;
    for (const std::string& text : texts) observations.push_back(seen(text));
    return answer_of(models(), Prior(models()), std::move(observations));
}

/// Two readings with an error of √2 each weigh as one with an error of 1 that lies between them; but each may be a
/// blunder, so that two weigh a little more where they agree.
TEST(Combining, TwoReadingsOfOneKindWeighAsTheirMean) {
    const double one = probability_of(answer_to({"tape_width=12.55±0.1"}), "u-format:625/50:LB");
    const double two =
        probability_of(answer_to({"tape_width=12.5±0.1414", "tape_width=12.6±0.1414"}), "u-format:625/50:LB");
    EXPECT_LT(two, one);
    const auto ratio = [](const Answer& answer) {
        return probability_of(answer, "vhs:625/50:SP") / probability_of(answer, "type-l:625/50:standard");
    };
    EXPECT_NEAR(ratio(answer_to({"tape_width=12.55±0.1"})) /
                    ratio(answer_to({"tape_width=12.5±0.1414", "tape_width=12.6±0.1414"})),
                1, 0.02);
}

TEST(Combining, AReadingSaidTwiceIsNoNewFigureOfAFormatThatLacksOne) {
    // The table has no control-track rate of D-3: a second reading that agrees with the first must not speak for or
    // against it as the first did.
    const Observation once = seen("control_track_rate=33.3±0.1");
    const double first = likelihood_at("d-3:625/50:standard", {once});
    const double second = likelihood_at("d-3:625/50:standard", {once, once}) / first;
    EXPECT_GT(second, 20 * first);
}

TEST(Combining, ReadingsThatContradictGiveNoConfidence) {
    const Answer answer = answer_to({"shell=vhs", "tracks_per_mm=2.14±0.02", "tracks_per_mm=1.797±0.02"});
    EXPECT_LT(answer.candidates[0].probability, 0.6);
    EXPECT_EQ(answer.conflicting, (std::vector<std::size_t>{1, 2}));
    EXPECT_NE(answer.fit.verdict, FitVerdict::Consistent);
}

TEST(Posterior, IsTheSameEachTimeAndSumsToOneAtExtremes) {
    std::vector<std::string> texts;
    for (int i = 0; i < 40; ++i) texts.push_back(i % 2 == 0 ? "tape_width=59.9±0.001" : "track_pitch=999±0.01");
    const Answer a = answer_to(texts), b = answer_to(texts);
    double sum = 0;
    for (std::size_t i = 0; i < a.candidates.size(); ++i) {
        EXPECT_TRUE(std::isfinite(a.candidates[i].probability));
        EXPECT_EQ(a.candidates[i].probability, b.candidates[i].probability);
        sum += a.candidates[i].probability;
    }
    EXPECT_NEAR(sum, 1, 1e-12);
    EXPECT_EQ(a.fit.verdict, FitVerdict::NoKnownFormat);
}

/// `d-3:625/50:standard` against the rest by hand: the weight is the ratio of the likelihoods, in the mean over the
/// others by prior.
TEST(Weight, IsTheLikelihoodAgainstTheMeanOfTheOthers) {
    const Answer answer = answer_to({"track_angle=4.92"});
    const Prior prior(models());
    const std::vector<Observation> observations{seen("track_angle=4.92")};
    const std::vector<double> all = log_likelihoods(Evidence(models(), observations));
    const Candidate& first = answer.candidates[0];
    double others = 0, share = 0, own = 0;
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (&models().all()[i] == first.model) {
            own = std::exp(all[i]);
            continue;
        }
        others += prior.probabilities()[i] * std::exp(all[i]);
        share += prior.probabilities()[i];
    }
    EXPECT_NEAR(first.evidence[0].weight_db, 10 * std::log10(own / (others / share)), 1e-6);
}

/// The information of a colour by hand, and that no kind promises more than there is doubt.
TEST(Next, InformationIsNeverMoreThanTheDoubt) {
    const Answer answer = answer_to({"shell=vhs", "control_track_rate=25.0@vhs:625/50:SP"});
    double doubt = 0;
    for (const Candidate& candidate : answer.candidates)
        if (candidate.probability > 0) doubt -= candidate.probability * std::log2(candidate.probability);
    for (const NextMeasurement& next : answer.next) {
        EXPECT_GE(next.bits, 0);
        EXPECT_LE(next.bits, doubt) << id_of(next.kind);
    }
}

/// Against drawing: readings drawn from what is believed, and by how much the doubt then shrinks.
TEST(Next, InformationIsWhatDrawnReadingsTell) {
    const Prior prior(models());
    const std::vector<Observation> start{seen("shell=beta"), seen("tape_width=12.65")};
    const Posterior before = posterior_of(prior, Evidence(models(), start));
    const auto doubt = [](const Posterior& p) {
        double sum = 0;
        for (const double share : p.probabilities)
            if (share > 0) sum -= share * std::log2(share);
        return sum;
    };
    std::mt19937 random(3);
    std::discrete_distribution<std::size_t> pick(before.probabilities.begin(), before.probabilities.end());
    std::normal_distribution<double> normal;
    const KindData& kind = models().data(Kind::TracksPerMm);
    constexpr int draws = 1500;
    double sum = 0;
    for (int i = 0; i < draws; ++i) {
        const ModeModel& model = models().all()[pick(random)];
        const auto draw = [&](const Mixture& mixture) {
            double at = std::uniform_real_distribution<double>()(random);
            for (const Normal& term : mixture)
                if ((at -= std::exp(term.log_weight)) < 0) return term.mean + normal(random) * std::sqrt(term.variance);
            return mixture.back().mean;
        };
        Observation next;
        next.kind = Kind::TracksPerMm;
        next.value = std::exp(draw(model.groups[static_cast<std::size_t>(Group::Tracks)].prior) -
                              draw(model.speed.prior) + kind.scatter * normal(random));
        if (std::uniform_real_distribution<double>()(random) < kind.blunders)
            next.value =
                kind.lowest * std::pow(kind.highest / kind.lowest, std::uniform_real_distribution<double>()(random));
        next.uncertainty = kind.scatter * next.value;
        std::vector<Observation> more = start;
        more.push_back(next);
        sum += doubt(before) - doubt(posterior_of(prior, Evidence(models(), more)));
    }
    const Answer answer = answer_to({"shell=beta", "tape_width=12.65"});
    const auto tracks = std::ranges::find(answer.next, Kind::TracksPerMm, &NextMeasurement::kind);
    EXPECT_NEAR(tracks->bits, sum / draws, 0.08);  // the draws' own scatter: about 0.9 bit each
}

}  // namespace
}  // namespace guardband::identify
