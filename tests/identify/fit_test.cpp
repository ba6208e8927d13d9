// Does `no known format fits` come when it should, and only then?
#include "identify/fit.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstdio>

#include "identify/answer.h"
#include "identify/made_tape.h"

namespace guardband::identify {
namespace {

using support::TapeMaker;
using testing::Contains;
using testing::Field;

// Fewer under sanitizers, where the code is exercised and not the claim.
#if defined(__SANITIZE_ADDRESS__)
constexpr int ordinary_tapes = 60, strange_tapes_each = 2;
#else
constexpr int ordinary_tapes = 1500, strange_tapes_each = 25;
#endif

constexpr std::size_t three = 3;

/// Kinds that read the tape or its playing, whatever cassette it is in.
constexpr std::array kinds_of_the_recording{Kind::TapeWidth,      Kind::TracksPerMm, Kind::TrackPitch,
                                            Kind::TrackAngle,     Kind::ReelPeriod,  Kind::ControlTrackRate,
                                            Kind::SoundSpeedRatio};

struct Verdicts {
    double consistent = 0, strained = 0, none = 0;

    void add(FitVerdict verdict) {
        (verdict == FitVerdict::Consistent ? consistent : verdict == FitVerdict::Strained ? strained : none) += 1;
    }
    double count() const { return consistent + strained + none; }
    void print(const char* what) const {
        std::printf("%s: %.0f tapes, consistent %.1f %%, strained %.1f %%, no known format fits %.1f %%\n", what,
                    count(), 100 * consistent / count(), 100 * strained / count(), 100 * none / count());
    }
};

FitVerdict verdict_on(const Models& models, const Prior& prior, std::vector<Observation> observations) {
    return answer_of(models, prior, std::move(observations), false).fit.verdict;
}

std::vector<Observation> noted(TapeMaker& maker, const TapeMaker::Tape& tape, const std::vector<Kind>& kinds) {
    std::vector<Observation> observations;
    for (const Kind kind : kinds)
        if (auto seen = maker.observed(tape, kind)) observations.push_back(std::move(*seen));
    return observations;
}

std::vector<Kind> documented_kinds(TapeMaker& maker, const TapeMaker::Tape& tape, std::size_t most) {
    std::vector<Kind> kinds;
    for (const Kind kind : maker.shuffled_kinds())
        if (kinds.size() < most && maker.is_documented(*tape.format, *tape.mode, kind)) kinds.push_back(kind);
    return kinds;
}

/// Tapes of the table with three readings each, blunders among them, of kinds that the table has a figure of the mode
/// for: below 2 %, the standing error of the count allowed for.
TEST(Fit, OrdinaryTapesAreSeldomSaidToFitNothing) {
    const table::Table table = table::load_table();
    const Models models(table);
    const Prior prior(models);
    TapeMaker maker(table, 5);
    Verdicts documented, any;
    for (int i = 0; i < ordinary_tapes; ++i) {
        const auto tape = maker.tape();
        documented.add(verdict_on(models, prior, noted(maker, tape, documented_kinds(maker, tape, three))));
        std::vector<Kind> kinds = maker.shuffled_kinds();
        kinds.resize(three);
        any.add(verdict_on(models, prior, noted(maker, tape, kinds)));
    }
    documented.print("three readings that the table can test");
    any.print("any three readings, of formats that the table knows little of too");
    EXPECT_LT(documented.none / documented.count(), 0.02);
}

/// A value lies as near to what a mode leads to expect as readings of the kind scatter.
bool agrees(const TapeMaker& maker, double value, const table::TapeFormat& format, const table::Mode& mode, Kind kind,
            double scatter) {
    const auto expected = maker.nominal(format, mode, kind);
    return expected && std::abs(std::log(value / *expected)) < 5 * scatter;
}

/// Three kinds that tell a mode from every mode of the rest: none of these agrees with more than one of the three.
std::vector<Kind> informative_kinds(TapeMaker& maker, const table::TapeFormat& format, const table::Mode& mode,
                                    const Models& rest) {
    const auto tells_apart = [&](const std::vector<Kind>& kinds) {
        return std::ranges::all_of(rest.all(), [&](const ModeModel& other) {
            return std::ranges::count_if(kinds, [&](Kind kind) {
                       return agrees(maker, *maker.nominal(format, mode, kind), *other.format, *other.mode, kind,
                                     rest.data(kind).scatter);
                   }) <= 1;
        });
    };
    std::vector<Kind> known;
    for (const Kind kind : kinds_of_the_recording)
        if (maker.nominal(format, mode, kind)) known.push_back(kind);
    for (std::size_t a = 0; a < known.size(); ++a)
        for (std::size_t b = a + 1; b < known.size(); ++b)
            for (std::size_t c = b + 1; c < known.size(); ++c)
                if (const std::vector<Kind> kinds{known[a], known[b], known[c]}; tells_apart(kinds)) return kinds;
    return {};
}

table::Table without(const table::Table& table, const std::string& id) {
    table::Table rest = table;
    std::erase_if(rest.formats, [&](const table::TapeFormat& format) { return format.id == id; });
    return rest;
}

/// Each format in turn is taken from the table, and tapes of it are identified with what is left. Formats whose twins
/// stay behind (VHS leaves S-VHS), or of which the table knows too little to tell them from others, can't be told to be
/// missing; they are counted.
TEST(Fit, AFormatThatIsMissingIsSeenToBeMissing) {
    const table::Table table = table::load_table();
    TapeMaker maker(table, 6);
    Verdicts verdicts;
    int tried = 0, formats = 0;
    for (const table::TapeFormat& format : table.formats) {
        ++formats;
        const table::Table rest = without(table, format.id);
        const Models models(rest);
        const Prior prior(models);
        bool counts = false;
        for (const table::Mode& mode : format.modes) {
            const std::vector<Kind> kinds = informative_kinds(maker, format, mode, models);
            for (int i = 0; i < strange_tapes_each && !kinds.empty(); ++i)
                verdicts.add(verdict_on(models, prior, noted(maker, maker.tape_of(format, mode), kinds)));
            counts = counts || !kinds.empty();
        }
        tried += counts ? 1 : 0;
    }
    std::printf("%d of %d formats stand apart from the rest\n", tried, formats);
    verdicts.print("format missing");
    EXPECT_GE(tried, 15);
    EXPECT_GE(verdicts.none / verdicts.count(), 0.95);
}

}  // namespace
}  // namespace guardband::identify
