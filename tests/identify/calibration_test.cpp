// Is what is said to be 80 % likely true in 80 of 100 cases? Over simulated tapes of every format of the table.
#include <gmock/gmock.h>

#include <array>
#include <cmath>
#include <cstdio>

#include "identify/made_tape.h"
#include "identify/posterior.h"

namespace guardband::identify {
namespace {

// Under sanitizers the same tapes, fewer of them: the claim is about 20,000 and is tested by the release build.
#if defined(__SANITIZE_ADDRESS__)
constexpr int tapes = 400;
#else
constexpr int tapes = 20'000;
#endif

constexpr std::size_t bin_count = 10;

struct Bin {
    double stated = 0, count = 0, right = 0;

    double mean() const { return stated / count; }
    double frequency() const { return right / count; }
    double sampling_error() const { return std::sqrt(std::max(mean() * (1 - mean()), 0.25 / count) / count); }
};
using Bins = std::array<Bin, bin_count>;

void add(Bins& bins, double probability, bool right) {
    Bin& bin = bins[std::min(static_cast<std::size_t>(probability * bin_count), bin_count - 1)];
    bin.stated += probability, bin.count += 1, bin.right += right ? 1 : 0;
}

/// One to five kinds of evidence.
std::vector<Observation> some_evidence(support::TapeMaker& maker, const support::TapeMaker::Tape& tape) {
    std::vector<Observation> observations;
    const std::size_t wanted = 1 + maker.below(5);
    for (const Kind kind : maker.shuffled_kinds()) {
        if (observations.size() == wanted) break;
        if (auto seen = maker.observed(tape, kind)) observations.push_back(std::move(*seen));
    }
    return observations;
}

void print(const char* title, const Bins& bins) {
    std::printf("%s\n  stated    found   n\n", title);
    for (const Bin& bin : bins)
        if (bin.count > 0)
            std::printf("  %5.1f %%  %5.1f %%  %.0f\n", 100 * bin.mean(), 100 * bin.frequency(), bin.count);
}

/// Within two points, or within what so few cases can say: three sampling errors, which one bin of the twenty leaves by
/// chance once in twenty runs.
void expect_calibrated(const Bins& bins) {
    for (const Bin& bin : bins) {
        if (bin.count == 0) continue;
        EXPECT_NEAR(bin.mean(), bin.frequency(), std::max(0.02, 3 * bin.sampling_error()));
    }
}

TEST(Calibration, StatedProbabilitiesComeTrue) {
    const table::Table table = table::load_table();
    const Models models(table);
    const Prior prior(models);
    support::TapeMaker maker(table, 20261125);
    Bins leading{}, all{};
    int seen = 0;
    for (int i = 0; i < tapes; ++i) {
        const auto tape = maker.tape();
        const std::vector<Observation> observations = some_evidence(maker, tape);
        if (observations.empty()) continue;
        ++seen;
        const Posterior posterior = posterior_of(prior, Evidence(models, observations));
        for (std::size_t m = 0; m < models.all().size(); ++m) {
            const bool right = models.all()[m].address == tape.address;
            if (m == posterior.best()) add(leading, posterior.probabilities[m], right);
            if (posterior.probabilities[m] > 0.01) add(all, posterior.probabilities[m], right);
        }
    }
    print("the leading candidate", leading);
    print("every candidate above 1 %", all);
    EXPECT_GT(seen, tapes * 0.95);
    expect_calibrated(leading);
    expect_calibrated(all);
}

}  // namespace
}  // namespace guardband::identify
