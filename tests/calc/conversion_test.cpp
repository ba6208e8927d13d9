#include "calc/conversion.h"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

using support::built_in;

ConversionQuery query(const std::string& value, const std::string& from, const std::string& to,
                      const std::string& system = "") {
    ConversionQuery q;
    q.value = value, q.from = from, q.to = to, q.system = system;
    return q;
}

double value_of(const ConversionQuery& q) { return conversion(built_in(), q).value; }

/// What a number becomes when it is converted there and back; `size` is what its rounding is a share of.
void expect_back(ConversionQuery q, double value, double size) {
    q.value = fmt::format("{}", value);
    ConversionQuery back = q;
    std::swap(back.from, back.to);
    back.value = fmt::format("{}", value_of(q));
    EXPECT_NEAR(value_of(back), value, 1e-12 * size) << q.value << " " << q.from << " " << q.to << " " << q.system;
}

const std::vector<std::string> level_units{"IRE", "mV", "V", "code8", "code10"};

TEST(Conversion, OfLevelsGoesBackInEverySystemWithSetupAndWithout) {
    std::mt19937 random(4);
    std::uniform_real_distribution<double> levels(-40, 120);
    for (const table::Colour& colour : built_in().colours)
        for (const CapturedSetup setup : {CapturedSetup::Removed, CapturedSetup::Kept})
            for (const std::string& a : level_units)
                for (const std::string& b : level_units) {
                    ConversionQuery q = query("", a, b, colour.id);
                    q.setup = setup;
                    expect_back(q, levels(random), 1000);
                }
}

TEST(Conversion, OfLevelsRisesAndMeetsItsDefinitions) {
    for (const table::Colour& colour : built_in().colours) {
        const double white_mv = colour.facts.known("white_level")->in("mV");
        EXPECT_DOUBLE_EQ(value_of(query("100", "IRE", "mV", colour.id)), white_mv) << colour.id;
        EXPECT_NEAR(value_of(query("100", "IRE", "code8", colour.id)), 235, 1e-9) << colour.id;
        EXPECT_NEAR(value_of(query("100", "IRE", "code10", colour.id)), 940, 1e-9) << colour.id;
        const std::string setup = colour.facts.known("setup_level")->printed;
        EXPECT_NEAR(value_of(query(setup, "IRE", "code8", colour.id)), 16, 1e-9) << colour.id;
        double last = -1e9;
        for (int ire = -50; ire <= 130; ++ire) {
            const double code = value_of(query(std::to_string(ire), "IRE", "code10", colour.id));
            EXPECT_GT(code, last);
            last = code;
        }
    }
}

/// The colour systems whose composite samples the table knows.
std::vector<std::string> sampled_colours() {
    std::vector<std::string> ids;
    for (const table::Colour& colour : built_in().colours)
        if (has_codes(built_in(), colour, CodedSignal::Composite)) ids.push_back(colour.id);
    return ids;
}

TEST(Conversion, OfCompositeSamplesGoesBack) {
    std::mt19937 random(9);
    std::uniform_real_distribution<double> levels(-40, 120);
    const std::vector<std::string> times{"µs", "samples", "lines", "deg", "frames"};
    EXPECT_THAT(sampled_colours(), testing::ElementsAre("NTSC", "NTSC-J", "PAL"));
    for (const std::string& colour : sampled_colours()) {
        const auto expect_pair_back = [&](const std::string& a, const std::string& b) {
            ConversionQuery q = query("", a, b, colour);
            q.signal = CodedSignal::Composite;
            expect_back(q, levels(random), 1000);
        };
        for (const std::string& a : level_units)
            for (const std::string& b : level_units) expect_pair_back(a, b);
        for (const std::string& a : times)
            for (const std::string& b : times) expect_pair_back(a, b);
    }
}

// By definition: sampled at four times the subcarrier, so that a sample is 90° of it.
TEST(Conversion, OfCompositeSamplesCountsQuartersOfTheSubcarrier) {
    for (const std::string& colour : sampled_colours()) {
        ConversionQuery q = query("1", "samples", "deg", colour);
        q.signal = CodedSignal::Composite;
        EXPECT_NEAR(value_of(q), 90, 1e-10) << colour;
    }
}

TEST(Conversion, OfCompositeSamplesAsksForASystemThatHasThem) {
    const auto composite = [](const char* from, const char* to, const char* system) {
        ConversionQuery q = query("1", from, to, system);
        q.signal = CodedSignal::Composite;
        return value_of(q);
    };
    EXPECT_THAT([&] { composite("IRE", "code8", "PAL-M"); },
                ThrowsMessage<InputError>(AllOf(HasSubstr("--composite"), HasSubstr("NTSC, NTSC-J, PAL"))));
    EXPECT_THAT([&] { composite("µs", "samples", "405/50"); }, ThrowsMessage<InputError>(HasSubstr("--composite")));
    EXPECT_THAT([&] { composite("µs", "samples", ""); }, ThrowsMessage<InputError>(HasSubstr("--system")));
    EXPECT_NEAR(composite("µs", "samples", "525/60"), 157.5 / 11, 1e-9) << "NTSC and NTSC-J agree";
}

TEST(Conversion, OfTimesGoesBackInEverySystem) {
    const std::vector<std::string> units{"µs", "ms", "s", "samples", "lines", "% of line", "deg", "frames", "fields"};
    std::mt19937 random(5);
    std::uniform_real_distribution<double> counts(0, 1000);
    for (const table::Colour& colour : built_in().colours) {
        const bool has_subcarrier = colour.facts.known("subcarrier") != nullptr;
        for (const std::string& a : units)
            for (const std::string& b : units) {
                if (!has_subcarrier && (a == "deg" || b == "deg")) continue;
                const double value = counts(random);
                expect_back(query("", a, b, colour.id), value, value);
            }
    }
}

TEST(Conversion, OfResolutionAndRatiosGoesBack) {
    std::mt19937 random(6);
    std::uniform_real_distribution<double> numbers(0.01, 500);
    for (const table::Scanning& scanning : built_in().scannings)
        if (scanning.facts.known("line_blanking") != nullptr)
            for (const char* unit : {"MHz", "kHz", "Hz"}) {
                const double tvl = numbers(random);
                expect_back(query("", "TVL", unit, scanning.id), tvl, tvl);
            }
    for (const bool powers : {false, true})
        for (const char* unit : {"ratio", "%", "share"}) {
            ConversionQuery q = query("", "dB", unit);
            q.ratio_of_powers = powers;
            expect_back(q, numbers(random) - 250, 500);
        }
}

TEST(Conversion, WithinADimensionGoesBackForEveryPairOfUnits) {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> numbers(0.001, 1000);
    int pairs = 0;
    for (const quantity::Unit& a : quantity::all_units())
        for (const quantity::Unit& b : quantity::all_units()) {
            if (a.name.empty() || b.name.empty() || a.dimension != b.dimension) continue;
            const double value = numbers(random);
            expect_back(query("", std::string(a.name), std::string(b.name)), value, value);
            ++pairs;
        }
    EXPECT_GT(pairs, 150);
}

TEST(Conversion, OfTimeCodeGoesBack) {
    std::mt19937 random(8);
    for (const char* fps : {"23.976", "24", "25", "29.97", "30", "50", "59.94", "60"}) {
        std::uniform_int_distribution<int> frames(0, 2000000);
        for (int i = 0; i < 200; ++i) {
            ConversionQuery there = query(std::to_string(frames(random)), "frames", "timecode");
            there.frame_rate = fps;
            there.counts_without_drop = i % 2 == 0;
            ConversionQuery back = query(conversion(built_in(), there).text, "timecode", "frames");
            back.frame_rate = fps;
            EXPECT_EQ(value_of(back), std::stod(there.value)) << fps;
            back.to = "s";
            const double seconds = value_of(back);
            ConversionQuery again = query(fmt::format("{}", seconds), "s", "timecode");
            again.frame_rate = fps, again.counts_without_drop = there.counts_without_drop;
            EXPECT_EQ(conversion(built_in(), again).text, back.value) << "a time that begins a frame is of that frame";
        }
    }
}

TEST(Conversion, OfSpeedIsUndoneByItsInverse) {
    for (const auto& [a, b] : {std::pair{"24fps", "25fps"}, {"33.35mm/s", "23.39mm/s"}, {"3.75ips", "7.5ips"}}) {
        const Conversion there = conversion(built_in(), query("5400", a, b));
        const Conversion back = conversion(built_in(), query(fmt::format("{}", there.value), b, a));
        EXPECT_NEAR(back.value, 5400, 1e-12 * 5400);
    }
}

TEST(Conversion, CarriesTheUncertaintyThatWasGiven) {
    const Conversion level = conversion(built_in(), query("50±1", "IRE", "mV", "PAL"));
    ASSERT_TRUE(level.half_width.has_value());
    EXPECT_NEAR(*level.half_width, 7, 1e-9) << "7 mV an IRE";
    EXPECT_FALSE(conversion(built_in(), query("50", "IRE", "mV", "PAL")).half_width);
    // Behind a bare number there is the tolerance of line blanking alone, 11.7 to 12.3 µs, of a picture of 51.95 µs;
    // the slope is straight to within its square.
    const Conversion tvl = conversion(built_in(), query("400", "TVL", "MHz", "PAL"));
    ASSERT_TRUE(tvl.half_width.has_value());
    EXPECT_NEAR(*tvl.half_width / tvl.value, 0.3 / 51.95, 0.3 * 0.3 / 51.95 / 51.95);
}

TEST(Conversion, ReadsTimesAsPeopleWriteThem) {
    EXPECT_EQ(value_of(query("1:30:00", "h:mm:ss", "min")), 90);
    EXPECT_EQ(value_of(query("2:05", "s", "s")), 125);
    EXPECT_EQ(conversion(built_in(), query("86.4", "min", "h:mm:ss")).text, "1:26:24");
    EXPECT_EQ(conversion(built_in(), query("0.5", "s", "h:mm:ss")).text, "0:00:00.500");
    EXPECT_THROW(value_of(query("1:60:00", "h:mm:ss", "s")), InputError);
    EXPECT_THROW(value_of(query("1:2:3:4", "s", "min")), InputError);
}

TEST(Conversion, NamesTheUnitsThatItKnows) {
    EXPECT_THAT([] { value_of(query("1", "furlong", "m")); },
                ThrowsMessage<InputError>(AllOf(HasSubstr("FROM"), HasSubstr("furlong"), HasSubstr("mm/s"))));
    EXPECT_THAT([] { value_of(query("1", "mV", "TVL", "PAL")); },
                ThrowsMessage<InputError>(
                    AllOf(HasSubstr("mV converts to"), HasSubstr("IRE"), HasSubstr("code10"), Not(HasSubstr("MHz")))));
    EXPECT_THAT([] { value_of(query("1", "frames", "m", "PAL")); },
                ThrowsMessage<InputError>(AllOf(HasSubstr("samples"), HasSubstr("timecode"))));
    EXPECT_THAT([] { value_of(query("1", "Mhz", "Hz")); }, ThrowsMessage<InputError>(HasSubstr("did you mean")));
}

TEST(Conversion, AsksForWhatItNeeds) {
    EXPECT_THAT([] { value_of(query("1", "IRE", "mV")); }, ThrowsMessage<InputError>(HasSubstr("--system")));
    EXPECT_THAT([] { value_of(query("1", "IRE", "mV", "525/60")); }, ThrowsMessage<InputError>(HasSubstr("NTSC-J")));
    EXPECT_EQ(value_of(query("100", "IRE", "mV", "625/50")), 700) << "all colour systems of it agree";
    EXPECT_THAT([] { value_of(query("1", "frames", "s")); }, ThrowsMessage<InputError>(HasSubstr("--fps")));
    EXPECT_THAT([] { value_of(query("1", "µs", "deg", "SECAM")); }, ThrowsMessage<InputError>(HasSubstr("subcarrier")));
    EXPECT_EQ(value_of(query("1", "µs", "samples")), 13.5) << "all rasters of the table share their sampling rate";
}

TEST(Conversion, SaysWhereALevelIsNone) {
    const auto remarks = [](const char* value, const char* from, const char* to, const char* system) {
        return conversion(built_in(), query(value, from, to, system)).remarks;
    };
    EXPECT_THAT(remarks("-50", "IRE", "mV", "PAL"), testing::Contains(HasSubstr("sync tip")));
    EXPECT_THAT(remarks("1023", "code10", "mV", "PAL"), testing::Contains(HasSubstr("kept for timing")));
    EXPECT_THAT(remarks("0", "IRE", "mV", "NTSC"), testing::Contains(HasSubstr("Below black")));
    EXPECT_THAT(remarks("0", "IRE", "code8", "NTSC"), testing::Contains(HasSubstr("No code carries it")));
    EXPECT_THAT(remarks("0", "IRE", "mV", "NTSC-J"), testing::IsEmpty());
    EXPECT_THAT(remarks("105", "IRE", "mV", "PAL"), testing::Contains(HasSubstr("Above white")));
    ConversionQuery sync = query("-300", "mV", "code10", "PAL");
    sync.signal = CodedSignal::Composite;
    EXPECT_THAT(conversion(built_in(), sync).remarks, testing::Contains(HasSubstr("Below black")))
        << "composite samples carry the sync pulse";
}

TEST(Conversion, ExplainsWithTheNumbersThatItUsed) {
    const Conversion answer = conversion(built_in(), query("16", "code8", "IRE", "NTSC"));
    ASSERT_EQ(answer.working.size(), 2U);
    EXPECT_TRUE(std::ranges::any_of(answer.working.front().givens, [](const Given& given) {
        return given.fact != nullptr && given.fact->key == "setup_level";
    }));
    EXPECT_EQ(answer.working.back().result, "7.5 IRE");
}

}  // namespace
}  // namespace guardband::calc
