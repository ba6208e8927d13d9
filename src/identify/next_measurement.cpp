#include "identify/next_measurement.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <optional>

namespace guardband::identify {
namespace {

constexpr double left_out = 1e-3;

/// A prediction that one or more modes make, and how likely they are together.
struct Cluster {
    double weight = 0;
    Prediction prediction;
};

/// Alike to a thousandth of a per cent.
bool same(const Mixture& a, const Mixture& b) {
    constexpr double near = 1e-5;
    return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](const Normal& x, const Normal& y) {
               return std::abs(x.mean - y.mean) < near && std::abs(x.variance - y.variance) < near * near &&
                      std::abs(x.log_weight - y.log_weight) < near;
           });
}

void add(std::vector<Cluster>& clusters, double weight, Prediction prediction) {
    const auto twin = std::ranges::find_if(clusters, [&](const Cluster& cluster) {
        return cluster.prediction.absent == prediction.absent && cluster.prediction.words == prediction.words &&
               same(cluster.prediction.numbers, prediction.numbers);
    });
    if (twin == clusters.end())
        clusters.push_back({weight, std::move(prediction)});
    else
        twin->weight += weight;
}

/// Densities over the logarithm of what can be read, on an even grid; each is a floor of blunders with hills on it.
class Landscape {
public:
    Landscape(const KindData& kind, const std::vector<Cluster>& clusters) : kind_(kind) {
        double narrowest = kind.scatter;
        for (const Cluster& cluster : clusters)
            for (const Normal& term : cluster.prediction.numbers)
                narrowest = std::min(narrowest, std::sqrt(kind.scatter * kind.scatter + term.variance));
        start_ = std::log(kind.lowest);
        const double span = std::log(kind.highest) - start_;
        count_ = static_cast<std::size_t>(std::ceil(span / narrowest)) + 1;
        step_ = span / static_cast<double>(count_ - 1);
        floor_ = kind.blunders * std::exp(kind.log_blunder_density);
    }

    double bits(const std::vector<Cluster>& clusters) {
        std::vector<std::vector<Point>> hills;
        std::vector<double> all(count_, 0);
        double total_weight = 0, floors = 0;
        for (const Cluster& cluster : clusters) {
            hills.push_back(hills_of(cluster.prediction));
            total_weight += cluster.weight;
            floors += cluster.weight * floor_of(cluster);
            for (const auto& [at, height] : hills.back()) all[at] += cluster.weight * height;
        }
        for (double& density : all) density = (density + floors) / total_weight;
        double information = 0;
        for (std::size_t i = 0; i < clusters.size(); ++i)
            information += clusters[i].weight / total_weight * divergence(clusters[i], hills[i], all);
        return std::max(information, 0.0) / std::numbers::ln2;
    }

private:
    struct Point {
        std::size_t at;
        double height;
    };

    /// The part of a density above the floor, where there is any.
    std::vector<Point> hills_of(const Prediction& prediction) {
        constexpr double reach = 6;  // deviations; beyond lies less than a millionth
        scratch_.assign(count_, 0);
        for (const Normal& term : prediction.numbers) {
            const double sd = std::sqrt(term.variance + kind_.scatter * kind_.scatter);
            const double height =
                (1 - kind_.blunders) * std::exp(term.log_weight) / (sd * std::sqrt(2 * std::numbers::pi));
            add_bell(height, term.mean, sd, reach);
        }
        std::vector<Point> points;
        for (std::size_t i = 0; i < count_; ++i)
            if (scratch_[i] > 1e-6 * floor_) points.push_back({i, scratch_[i]});
        return points;
    }

    /// Adds a normal density's bell to the scratch line. On an even grid each value follows from the one before by a
    /// factor which itself changes by a constant factor, so that no more than three exponentials are needed.
    void add_bell(double height, double mean, double sd, double reach) {
        const double middle = (mean - start_) / step_, steps = reach * sd / step_;
        const double first = std::max(std::ceil(middle - steps), 0.0);
        const double last = std::min(std::floor(middle + steps), static_cast<double>(count_ - 1));
        if (first > last) return;
        const double peak = std::clamp(std::round(middle), first, last);
        add_flank(height, (peak - middle) * step_ / sd, step_ / sd, peak, last, 1);
        add_flank(height, (peak - 1 - middle) * step_ / sd, -step_ / sd, peak - 1, first, -1);
    }

    void add_flank(double height, double z, double dz, double from, double to, int direction) {
        double value = height * std::exp(-z * z / 2), factor = std::exp(-z * dz - dz * dz / 2);
        const double change = std::exp(-dz * dz);
        for (auto i = static_cast<std::ptrdiff_t>(from); direction * (static_cast<double>(i) - to) <= 0;
             i += direction) {
            scratch_[static_cast<std::size_t>(i)] += value;
            value *= factor;
            factor *= change;
        }
    }

    /// A mode that has no such thing can only be misread: all of its density is floor.
    double floor_of(const Cluster& cluster) const {
        return cluster.prediction.absent ? std::exp(kind_.log_blunder_density) : floor_;
    }

    /// ∫ p ln(p / all): over the hills, and over the floor everywhere else, where only `all` differs from place to
    /// place.
    double divergence(const Cluster& cluster, const std::vector<Point>& hills, const std::vector<double>& all) {
        const double floor = floor_of(cluster);
        double sum = floor * (std::log(floor) * static_cast<double>(count_) - log_sum(all));
        for (const auto& [at, height] : hills) {
            const double density = floor_ + height;
            sum += density * std::log(density / all[at]) - floor_ * std::log(floor_ / all[at]);
        }
        return sum * step_;
    }

    double log_sum(const std::vector<double>& all) {
        if (!log_sum_) {
            double sum = 0;
            for (const double density : all) sum += std::log(density);
            log_sum_ = sum;
        }
        return *log_sum_;
    }

    const KindData& kind_;
    double start_ = 0, step_ = 0, floor_ = 0;
    std::size_t count_ = 0;
    std::vector<double> scratch_;
    std::optional<double> log_sum_;
};

double word_bits(const std::vector<Cluster>& clusters) {
    std::map<std::string, double> all;
    double total_weight = 0, information = 0;
    for (const Cluster& cluster : clusters) {
        total_weight += cluster.weight;
        for (const auto& [word, share] : cluster.prediction.words) all[word] += cluster.weight * share;
    }
    for (const Cluster& cluster : clusters)
        for (const auto& [word, share] : cluster.prediction.words)
            if (share > 0)
                information += cluster.weight / total_weight * share * std::log(share * total_weight / all[word]);
    return std::max(information, 0.0) / std::numbers::ln2;
}

/// A measurement is reckoned as if in a machine that runs the likeliest mode whose speed is known.
Setting usual_setting(const Models& models, const Posterior& posterior) {
    for (const std::size_t i : posterior.ranked())
        if (models.all()[i].speed.known) return {std::exp(models.all()[i].speed.centre()), 50};
    return {1.0, 50};
}

}  // namespace

std::vector<std::size_t> that_matter(const Posterior& posterior) {
    std::vector<std::size_t> kept;
    double sum = 0;
    for (const std::size_t i : posterior.ranked()) {
        if (sum > 1 - left_out) break;
        sum += posterior.probabilities[i];
        kept.push_back(i);
    }
    return kept;
}

std::vector<NextMeasurement> next_measurements(const Evidence& evidence, const Posterior& posterior,
                                               const std::vector<ModeState>& states) {
    const Models& models = evidence.models();
    const std::vector<std::size_t> modes = that_matter(posterior);
    const Setting setting = usual_setting(models, posterior);
    std::vector<NextMeasurement> ranking;
    for (const KindInfo& info : all_kinds()) {
        std::vector<Cluster> clusters;
        for (const std::size_t i : modes)
            add(clusters, posterior.probabilities[i],
                predicted(models, models.all()[i], states[i], info.kind, setting));
        const bool is_word = info.value == KindInfo::Value::Word;
        const double bits = is_word ? word_bits(clusters) : Landscape(models.data(info.kind), clusters).bits(clusters);
        ranking.push_back({info.kind, bits, setting});
    }
    std::ranges::stable_sort(ranking, std::greater{}, &NextMeasurement::bits);
    return ranking;
}

}  // namespace guardband::identify
