// Measuring what is said to tell most leads to an answer sooner than measuring anything, or always the same.
#include <gmock/gmock.h>

#include <cstdio>

#include "identify/alike.h"
#include "identify/made_tape.h"
#include "identify/next_measurement.h"

namespace guardband::identify {
namespace {

using support::TapeMaker;

// Fewer under sanitizers, where the order is checked and not the margin.
#if defined(__SANITIZE_ADDRESS__)
constexpr int tapes = 5;
#else
constexpr int tapes = 150;
#endif

constexpr std::size_t most = 10;  // measurements; who is not there by then counts as one more
constexpr double enough = 0.95;

/// Everyone starts with what lies in the hand.
constexpr std::array at_first{Kind::TapeWidth};

enum class Order { ByInformation, Random, Fixed };

/// The registry's order: by how easy it is.
std::vector<Kind> fixed_order() {
    std::vector<Kind> kinds;
    for (const KindInfo& info : all_kinds()) kinds.push_back(info.kind);
    return kinds;
}

class Bench {
public:
    explicit Bench(unsigned seed)
        : table_(table::load_table()), models_(table_), prior_(models_), maker_(table_, seed) {
        for (std::size_t i = 0; i < models_.all().size(); ++i) {
            twins_.push_back(alike(models_, i));
            twins_.back().push_back(i);
        }
    }

    /// Measurements, beyond the first, until one mode and its twins are 95 % likely.
    std::size_t needed(const TapeMaker::Tape& tape, Order order) {
        std::vector<Observation> seen;
        std::vector<bool> done(all_kinds().size());
        for (const Kind kind : at_first) measure(tape, kind, seen, done);
        const std::vector<Kind> random = maker_.shuffled_kinds();
        for (std::size_t count = 0; count < most; ++count) {
            const Evidence evidence(models_, seen);
            const Posterior posterior = posterior_of(prior_, evidence);
            if (probability_with_twins(posterior) >= enough) return count;
            const std::vector<Kind> wanted = order == Order::ByInformation ? by_information(evidence, posterior)
                                             : order == Order::Random      ? random
                                                                           : fixed_order();
            for (const Kind kind : wanted)
                if (!done[static_cast<std::size_t>(kind)]) {
                    measure(tape, kind, seen, done);
                    break;
                }
        }
        return most + 1;
    }

    TapeMaker& maker() { return maker_; }

private:
    void measure(const TapeMaker::Tape& tape, Kind kind, std::vector<Observation>& seen, std::vector<bool>& done) {
        done[static_cast<std::size_t>(kind)] = true;
        if (auto observation = maker_.observed(tape, kind)) seen.push_back(std::move(*observation));
    }

    double probability_with_twins(const Posterior& posterior) const {
        double sum = 0;
        for (const std::size_t i : twins_[posterior.best()]) sum += posterior.probabilities[i];
        return sum;
    }

    std::vector<Kind> by_information(const Evidence& evidence, const Posterior& posterior) const {
        std::vector<ModeState> states(models_.all().size());
        for (const std::size_t i : that_matter(posterior)) states[i] = weighed(models_.all()[i], evidence);
        std::vector<Kind> kinds;
        for (const NextMeasurement& next : next_measurements(evidence, posterior, states)) kinds.push_back(next.kind);
        return kinds;
    }

    table::Table table_;
    Models models_;
    Prior prior_;
    TapeMaker maker_;
    std::vector<std::vector<std::size_t>> twins_;
};

TEST(Ranking, LeadsSoonerThanRandomOrFixedOrders) {
    Bench bench(7);
    double by_information = 0, random = 0, fixed = 0;
    for (int i = 0; i < tapes; ++i) {
        const auto tape = bench.maker().tape();
        by_information += static_cast<double>(bench.needed(tape, Order::ByInformation));
        random += static_cast<double>(bench.needed(tape, Order::Random));
        fixed += static_cast<double>(bench.needed(tape, Order::Fixed));
    }
    std::printf(
        "measurements after the tape's width until 95 %% for a mode and its twins, mean of %d tapes:\n"
        "  by information %.2f, random %.2f, fixed %.2f\n",
        tapes, by_information / tapes, random / tapes, fixed / tapes);
    EXPECT_LT(by_information, random);
    EXPECT_LT(by_information, fixed);
}

}  // namespace
}  // namespace guardband::identify
