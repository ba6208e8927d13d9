#include "measure/clip/frame_rate.h"

#include <gmock/gmock.h>

#include <cmath>
#include <limits>
#include <random>

#include "support/made_context.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Rational;
using Stamps = std::vector<std::optional<std::int64_t>>;

struct Result {
    quantity::Figures figures;
    std::vector<Event> events;

    double rate() const { return value("frame_rate"); }
    double uncertainty() const { return figures.find("frame_rate")->uncertainty().value_or(-1); }
    double missing() const { return value("missing_frames"); }
    std::string reason() const { return figures.find("frame_rate")->reason(); }
    double ppm(const Rational& truth) const { return (rate() / truth.value() - 1) * 1e6; }

    std::vector<Event> of_kind(const std::string& kind) const {
        std::vector<Event> found;
        for (const Event& event : events)
            if (event.kind == kind) found.push_back(event);
        return found;
    }

private:
    double value(const std::string& id) const { return figures.find(id)->number().value_or(std::nan("")); }
};

Result measure(const Stamps& stamps, const Rational& time_base, const std::vector<PictureGap>& seen_in_pictures = {}) {
    support::MadeContext made;
    made.info.time_base = time_base;
    made.evidence.picture_gap_list = seen_in_pictures;
    FrameRate measurement(made.context);
    media::Frame frame;
    const FrameFeatures features;
    for (const auto& pts : stamps) {
        frame.pts = pts;
        measurement.see(frame, features);
        ++frame.index;
    }
    Result result;
    measurement.finish(result.figures, result.events);
    return result;
}

/// Stamps of frames 0 … count − 1 at `rate`, rounded to ticks as a container does.
Stamps regular(const Rational& rate, const Rational& time_base, int count, double offset_ticks = 0) {
    Stamps stamps;
    const double period_ticks = 1 / (rate.value() * time_base.value());
    for (int i = 0; i < count; ++i) stamps.emplace_back(std::llround(offset_ticks + i * period_ticks));
    return stamps;
}

/// The stamps without frames `from` … `from + count − 1`.
Stamps without(Stamps stamps, int from, int count) {
    stamps.erase(stamps.begin() + from, stamps.begin() + from + count);
    return stamps;
}

const Rational millisecond(1, 1000);
const Rational mpeg_clock(1, 90000);

// ITU-R BT.601 and SMPTE rates in use; the claim is issue 2's: 1 ppm on clean stamps over 60 s, and the same with
// stamps of 1 ms.
class FrameRateOfCleanStamps : public testing::TestWithParam<Rational> {};

INSTANTIATE_TEST_SUITE_P(Rates, FrameRateOfCleanStamps,
                         testing::Values(Rational(24000, 1001), Rational(24), Rational(25), Rational(30000, 1001),
                                         Rational(30), Rational(50), Rational(60000, 1001), Rational(60)),
                         [](const auto& rate) {
                             std::string name = to_string(rate.param);
                             std::ranges::replace(name, '/', '_');
                             return name;
                         });

TEST_P(FrameRateOfCleanStamps, IsWithinOnePartInAMillionOver60Seconds) {
    const Rational rate = GetParam();
    const int count = static_cast<int>(60 * rate.value());
    for (const Rational& time_base : {millisecond, mpeg_clock, Rational(1) / rate, Rational(1, 30000)}) {
        const Result result = measure(regular(rate, time_base, count), time_base);
        EXPECT_LT(std::abs(result.ppm(rate)), 1) << to_string(time_base);
        EXPECT_EQ(result.missing(), 0);
        EXPECT_TRUE(result.events.empty());
    }
}

TEST_P(FrameRateOfCleanStamps, DoesNotDependOnTheOrigin) {
    const Rational rate = GetParam();
    const Stamps stamps = regular(rate, mpeg_clock, 500);
    for (const std::int64_t origin :
         {std::int64_t{-7'000'000}, std::int64_t{1} << 33, std::int64_t{1} << 60, -(std::int64_t{1} << 62)}) {
        Stamps moved = stamps;
        for (auto& pts : moved) *pts += origin;
        EXPECT_DOUBLE_EQ(measure(moved, mpeg_clock).rate(), measure(stamps, mpeg_clock).rate());
    }
}

struct Statistics {
    double mean = 0, scatter = 0,
           normalised = 0;  ///< error's mean and spread, ppm; RMS of error over stated uncertainty
    int covered_twice = 0;  ///< within two standard uncertainties
};

/// Measures `trials` clips made by `make(random engine, rate)`, each of another rate between 20 and 62 frames/s.
template <typename Make>
Statistics statistics(int trials, const Rational& time_base, Make make) {
    std::mt19937_64 random(20240717);
    std::uniform_int_distribution<int> numerator(20'000'000, 62'000'000);
    std::vector<double> errors;
    Statistics result;
    for (int trial = 0; trial < trials; ++trial) {
        const Rational rate(numerator(random), 1'000'000);
        const Result measured = measure(make(random, rate), time_base);
        const double error = measured.ppm(rate), stated = measured.uncertainty() / measured.rate() * 1e6;
        errors.push_back(error);
        result.normalised += error * error / (stated * stated) / trials;
        result.covered_twice += std::abs(error) <= 2 * stated ? 1 : 0;
        result.mean += error / trials;
    }
    for (const double error : errors) result.scatter += (error - result.mean) * (error - result.mean) / (trials - 1);
    result.scatter = std::sqrt(result.scatter);
    result.normalised = std::sqrt(result.normalised);
    return result;
}

TEST(FrameRate, IsUnbiasedAndKnowsItsScatterUnderRounding) {
    constexpr int trials = 300;
    const auto s = statistics(trials, millisecond, [](auto& random, const Rational& rate) {
        const double phase = std::uniform_real_distribution<>(0, 1)(random);
        return regular(rate, millisecond, 1500, phase);
    });
    EXPECT_LT(std::abs(s.mean), 4 * s.scatter / std::sqrt(trials));  // four standard deviations of the mean
    EXPECT_LT(s.scatter, 2);
    EXPECT_LT(s.normalised, 1.3);
    EXPECT_GT(s.covered_twice,
              0.93 * trials);  // 95 % of a normal distribution, less two standard deviations of the count
}

TEST(FrameRate, IsUnbiasedAndKnowsItsScatterUnderJitter) {
    constexpr int trials = 300;
    constexpr double jitter_s = 0.002;
    const auto s = statistics(trials, mpeg_clock, [](auto& random, const Rational& rate) {
        std::normal_distribution<> jitter(0, jitter_s * 90000);
        Stamps stamps = regular(rate, mpeg_clock, 1500);
        for (auto& pts : stamps) *pts += std::llround(jitter(random));
        return stamps;
    });
    EXPECT_LT(std::abs(s.mean), 4 * s.scatter / std::sqrt(trials));
    EXPECT_LT(s.normalised, 1.2);
    EXPECT_GT(s.normalised, 0.85);
    EXPECT_GT(s.covered_twice, 0.92 * trials);
}

TEST(FrameRate, FindsEveryGapToTheFrame) {
    const Rational rate(30000, 1001);
    for (const Rational& time_base : {millisecond, mpeg_clock}) {
        Stamps stamps = regular(rate, time_base, 1800);
        stamps = without(without(without(stamps, 1700, 3), 900, 1), 1, 1);  // later ones first: each at its own place
        const Result result = measure(stamps, time_base);
        EXPECT_LT(std::abs(result.ppm(rate)), 1);
        EXPECT_EQ(result.missing(), 5);
        const auto gaps = result.of_kind("stamp gap");
        ASSERT_EQ(gaps.size(), 3U);
        EXPECT_THAT((std::vector{*gaps[0].frame, *gaps[1].frame, *gaps[2].frame}), testing::ElementsAre(1, 899, 1698));
        EXPECT_THAT((std::vector{*gaps[0].count, *gaps[1].count, *gaps[2].count}), testing::ElementsAre(1, 1, 3));
        EXPECT_NEAR(gaps[1].time_s, 900 * 1001 / 30000.0, 0.002);  // when the missing frame was due
        EXPECT_EQ(result.events.size(), 3U);
    }
}

TEST(FrameRate, FindsEveryGapUnderJitter) {
    constexpr int trials = 50, gaps = 8;
    std::mt19937_64 random(11);
    std::normal_distribution<> jitter(0, 0.1 * 3600);  // a tenth of a period of 3600 ticks
    for (int trial = 0; trial < trials; ++trial) {
        Stamps stamps = regular(Rational(25), mpeg_clock, 1500);
        for (auto& pts : stamps) *pts += std::llround(jitter(random));
        std::vector<std::int64_t> places;
        for (int i = gaps; i > 0; --i) {  // later ones first: earlier places stay as they are
            const int from = 160 * i + static_cast<int>(random() % 50);
            stamps = without(stamps, from, 1 + i % 3);
            places.push_back(from);
        }
        for (std::size_t i = 0; i < places.size(); ++i)  // as counted in what is left
            for (std::size_t earlier = i + 1; earlier < places.size(); ++earlier)
                places[i] -= 1 + (gaps - static_cast<int>(earlier)) % 3;
        std::ranges::reverse(places);
        const Result result = measure(stamps, mpeg_clock);
        std::vector<std::int64_t> found;
        for (const Event& event : result.of_kind("stamp gap")) found.push_back(*event.frame);
        EXPECT_EQ(found, places) << trial;
        EXPECT_EQ(result.missing(), 17) << trial;  // 3 + 2 + 1 + 3 + 2 + 1 + 3 + 2
        EXPECT_LT(std::abs(result.rate() - 25), 4 * result.uncertainty()) << trial;
    }
}

TEST(FrameRate, FindsRegularDrops) {
    for (const int one_in : {2, 3, 4, 7, 10}) {
        Stamps kept;
        const Stamps stamps = regular(Rational(25), millisecond, 700);
        for (int i = 0; i < 700; ++i)
            if (i % one_in != one_in - 1) kept.push_back(stamps[static_cast<std::size_t>(i)]);
        const Result result = measure(kept, millisecond);
        if (one_in == 2) {
            EXPECT_NEAR(result.rate(), 12.5, 1e-3);  // every second frame of 25 is 12.5: no stamp can tell
            continue;
        }
        EXPECT_NEAR(result.rate(), 25, 1e-3) << one_in;
        EXPECT_EQ(result.missing(), 700 / one_in - (700 % one_in == 0 ? 1 : 0))
            << one_in;  // one at the very end shows no gap
    }
}

TEST(FrameRate, CountsAGapInStampsAndPicturesOnce) {
    const Stamps stamps = without(regular(Rational(25), millisecond, 500), 100, 2);
    EXPECT_EQ(measure(stamps, millisecond, {{100, 2}}).missing(), 2);
    EXPECT_EQ(measure(stamps, millisecond, {{101, 2}}).missing(), 2);
    EXPECT_EQ(measure(stamps, millisecond, {{100, 3}}).missing(), 3);
    EXPECT_EQ(measure(stamps, millisecond, {{103, 1}}).missing(), 3);
    EXPECT_EQ(measure(regular(Rational(25), millisecond, 500), millisecond, {{40, 1}, {300, 2}}).missing(), 3);
}

TEST(FrameRate, TellsWrongStampsFromMissingFrames) {
    const Rational rate(25);
    const Stamps clean = regular(rate, mpeg_clock, 1500);
    std::mt19937_64 random(5);
    std::uniform_int_distribution<std::int64_t> wild(-400'000, 400'000);
    for (const std::size_t length : {1U, 2U, 5U, 12U, 20U}) {
        Stamps stamps = clean;
        for (const std::size_t from : {3U, 400U, 800U, 1200U})
            for (std::size_t i = 0; i < length; ++i) *stamps[from + i] += wild(random);
        const Result result = measure(stamps, mpeg_clock);
        EXPECT_LT(std::abs(result.ppm(rate)), 1) << length;
        EXPECT_EQ(result.missing(), 0) << length;
        EXPECT_FALSE(result.of_kind("stamp jitter").empty());
    }
}

TEST(FrameRate, BearsABurstThatIsLateAsOne) {
    Stamps stamps = regular(Rational(25), millisecond, 1500);
    for (std::size_t i = 700; i < 715; ++i) *stamps[i] += 100;
    const Result result = measure(stamps, millisecond);
    EXPECT_LT(std::abs(result.ppm(Rational(25))), 1);
    EXPECT_EQ(result.missing(), 0);
    ASSERT_EQ(result.of_kind("stamp jitter").size(), 1U);
    EXPECT_EQ(result.of_kind("stamp jitter")[0].frame, 700);
    EXPECT_EQ(result.of_kind("stamp jitter")[0].count, 15);
}

TEST(FrameRate, BearsDuplicateBackwardAndLackingStamps) {
    Stamps stamps = regular(Rational(30000, 1001), millisecond, 1800);
    stamps[300] = stamps[299];
    stamps[600] = *stamps[598] - 5;
    for (std::size_t i = 900; i < 1000; i += 3) stamps[i].reset();
    const Result result = measure(stamps, millisecond);
    EXPECT_LT(std::abs(result.ppm(Rational(30000, 1001))), 1);
    EXPECT_EQ(result.missing(), 0);
    const auto order = result.of_kind("stamp order");
    ASSERT_EQ(order.size(), 2U);
    EXPECT_EQ(order[0].frame, 300);
    EXPECT_EQ(order[1].frame, 600);
}

TEST(FrameRate, BearsAPauseOfAnyLength) {
    Stamps stamps = regular(Rational(25), millisecond, 1500);
    for (std::size_t i = 500; i < stamps.size(); ++i) *stamps[i] += 3'417;  // 85.4 frames
    for (std::size_t i = 1000; i < stamps.size(); ++i) *stamps[i] += 20;    // half a frame
    const Result result = measure(stamps, millisecond);
    EXPECT_LT(std::abs(result.ppm(Rational(25))), 1);
    EXPECT_NEAR(result.missing(), 86, 1.1);  // half a frame may be counted or not
}

TEST(FrameRate, BearsAClockThatStartsAnew) {
    const Stamps first = regular(Rational(50), mpeg_clock, 1000, 8e9),
                 second = regular(Rational(50), mpeg_clock, 1000, 12345);
    Stamps stamps = first;
    stamps.insert(stamps.end(), second.begin(), second.end());
    const Result result = measure(stamps, mpeg_clock);
    EXPECT_LT(std::abs(result.ppm(Rational(50))), 1);
    EXPECT_EQ(result.missing(), 0);
    ASSERT_FALSE(result.of_kind("stamp order").empty());
    EXPECT_EQ(result.of_kind("stamp order")[0].frame, 1000);
}

TEST(FrameRate, JoinsJitterIntoOneEvent) {
    std::mt19937_64 random(9);
    std::normal_distribution<> jitter(0, 6);  // ms, of 40
    Stamps stamps = regular(Rational(25), millisecond, 1500);
    for (auto& pts : stamps) *pts += std::llround(jitter(random));
    const Result result = measure(stamps, millisecond);
    EXPECT_NEAR(result.rate(), 25, 4 * result.uncertainty());
    EXPECT_EQ(result.missing(), 0);
    EXPECT_EQ(result.of_kind("stamp jitter").size(), 1U);
}

TEST(FrameRate, KeepsItsMemoryAndPrecisionOverTenHours) {
    const Rational rate(30000, 1001);
    const Result result = measure(regular(rate, millisecond, 1'080'000), millisecond);
    EXPECT_LT(std::abs(result.ppm(rate)), 0.01);
    EXPECT_TRUE(result.events.empty());
}

TEST(FrameRate, SaysWhyThereIsNone) {
    using testing::HasSubstr;
    EXPECT_THAT(measure({}, millisecond).reason(), HasSubstr("no time stamps"));
    EXPECT_THAT(measure(Stamps(100), millisecond).reason(), HasSubstr("no time stamps"));
    EXPECT_THAT(measure({5}, millisecond).reason(), HasSubstr("only one frame"));
    EXPECT_THAT(measure(Stamps(100, 7), millisecond).reason(), HasSubstr("don't rise"));
    EXPECT_THAT(measure({9, 8, 7, 6, 5}, millisecond).reason(), HasSubstr("don't rise"));
}

TEST(FrameRate, IsExactWhereStampsOnlyCountFrames) {
    const Result result = measure(regular(Rational(25), Rational(1, 25), 100), Rational(1, 25));
    EXPECT_DOUBLE_EQ(result.rate(), 25);
    EXPECT_LT(result.uncertainty(), 1e-9);
    EXPECT_THAT(result.figures.find("frame_rate")->note(), testing::HasSubstr("header's word"));
    EXPECT_TRUE(
        measure(regular(Rational(25), millisecond, 100), millisecond).figures.find("frame_rate")->note().empty());
}

TEST(FrameRate, IsHadFromTwoFrames) {
    const Result result = measure({100, 140}, millisecond);
    EXPECT_DOUBLE_EQ(result.rate(), 25);
    // Two stamps, each uniform over a tick of 1 ms, 40 ms apart.
    EXPECT_NEAR(result.uncertainty() / result.rate(), 1 / std::sqrt(6.0) / 40, 1e-9);
}

TEST(FrameRate, BearsAnyStamps) {
    constexpr std::int64_t least = std::numeric_limits<std::int64_t>::min(),
                           most = std::numeric_limits<std::int64_t>::max();
    measure({least, most, least, most, 0}, millisecond);
    measure({most, most - 1, least, 0}, Rational(1, most));
    std::mt19937_64 random(3);
    for (int trial = 0; trial < 20; ++trial) {
        Stamps stamps;
        for (int i = 0; i < 3000; ++i) {
            const auto value = static_cast<std::int64_t>(random());
            if (value % 5 == 0)
                stamps.emplace_back(std::nullopt);
            else
                stamps.emplace_back(trial % 2 == 0 ? value : value % 100'000);
        }
        const Result result = measure(stamps, millisecond);
        EXPECT_LT(result.events.size(), 10'000U);
        EXPECT_FALSE(result.figures.find("frame_rate")->is_known());
    }
    Stamps one_wild = regular(Rational(25), millisecond, 200);
    one_wild[0] = least, one_wild[100] = most;
    EXPECT_NEAR(measure(one_wild, millisecond).rate(), 25, 1e-3);
}

}  // namespace
}  // namespace guardband::measure
