// Dropouts of clips whose dropouts are known because they were made so: how many are found, how many found are true,
// how right their ends are, how they are told.
#include "measure/clip/dropouts.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>

#include "measure/clip/dropout_clips.h"

namespace guardband::measure {
namespace {

using namespace dropout_clips;
using testing::HasSubstr;

const char* kind_of(const testsignal::Dropout& d) { return d.held ? "held" : d.bright ? "bright" : "dark"; }

/// How well events and truth agree. Dropouts cut short by the picture's edge to less than 4 µs need not be found.
struct Score {
    double wanted = 0, hits = 0, found = 0, right = 0, start_off_us = 0, length_off_us = 0;

    void add(const Measured& m) {
        for (const auto& d : m.truth) {
            if (d.length_us < 3.99) continue;
            ++wanted;
            const auto event =
                std::ranges::find_if(m.events, [&](const Event& e) { return e.kind == kind_of(d) && meet(e, d); });
            if (event == m.events.end()) continue;
            ++hits;
            start_off_us += std::abs(*event->start_us - d.start_us);
            length_off_us += std::abs(*event->length_us - d.length_us);
        }
        for (const Event& e : m.events) {
            ++found;
            right += std::ranges::any_of(m.truth, [&](const auto& d) { return meet(e, d); }) ? 1 : 0;
        }
    }
    double recall() const { return hits / wanted; }
    double precision() const { return found > 0 ? right / found : 1; }
};

/// Seven clips: short and long, one line and several, both systems, all kinds.
Score score_of(double snr_db) {
    const Change changes[] = {
        [](Recipe& r) { r.dropouts->length_us = 4; },
        [](Recipe& r) { r.dropouts->length_us = 9, r.picture.objects = false; },
        [](Recipe& r) { r.dropouts->length_us = 30, r.picture.direction_deg = 30, r.picture.motion_px = 2.2; },
        [](Recipe& r) { r.dropouts->length_us = 6, r.dropouts->lines = 3, r.picture.still = true; },
        [](Recipe& r) {
            r.dropouts->bright = r.dropouts->dark = false, r.dropouts->held = true, r.dropouts->length_us = 4;
        },
        [](Recipe& r) {
            r.dropouts->bright = r.dropouts->dark = false, r.dropouts->held = true, r.dropouts->length_us = 8;
            r.dropouts->held_snr_db = 52;
        },
        [](Recipe& r) {
            r.dropouts->held = true, r.dropouts->length_us = 12;
            r.raster.height = 486, r.raster.frame_rate = {30000, 1001};
            r.field_order = testsignal::FieldOrder::BottomFirst;
        }};
    Score score;
    std::uint64_t seed = 40;
    for (const Change& change : changes) {
        Recipe r = scene(snr_db, ++seed);
        r.dropouts.emplace().per_minute = 6000;
        change(r);
        score.add(measured(r));
    }
    return score;
}

// The claims: recall and precision of at least 0.97 at 40 dB and 0.9 at 32 dB from 4 µs on.
TEST(Dropouts, AreFoundAt40dB) {
    const Score score = score_of(40);
    EXPECT_GT(score.wanted, 400);
    EXPECT_GE(score.recall(), 0.97);
    EXPECT_GE(score.precision(), 0.97);
    EXPECT_LE(score.start_off_us / score.hits, 0.2);
    EXPECT_LE(score.length_off_us / score.hits, 0.3);
}

TEST(Dropouts, AreFoundAt32dB) {
    const Score score = score_of(32);
    EXPECT_GE(score.recall(), 0.9);
    EXPECT_GE(score.precision(), 0.9);
    EXPECT_LE(score.length_off_us / score.hits, 0.4);
}

/// Those that the picture's edge leaves enough of.
double longer_than(const Measured& m, double us) {
    return static_cast<double>(std::ranges::count_if(m.truth, [us](const auto& d) { return d.length_us > us; }));
}

TEST(Dropouts, AreCountedPerMinute) {
    Recipe r = scene(42, 7);
    r.duration_s = 2;
    auto& d = r.dropouts.emplace();
    d.per_minute = 1500, d.length_us = 7;
    const Measured m = measured(r);
    const auto* rate = m.figures.find("dropouts_per_minute");
    // Of those of 4 µs and more 0.97 are claimed to be found; of the few of one clip, two standard deviations of the
    // binomial distribution fewer may be. The picture's edges cut some short.
    constexpr double recall = 0.97;
    const double claimed = longer_than(m, 4);
    EXPECT_GT(claimed, 40);
    EXPECT_GE(*rate->number(), (recall * claimed - 2 * std::sqrt(claimed * recall * (1 - recall))) * 30);
    EXPECT_LE(*rate->number(), longer_than(m, 0) * 30);
    EXPECT_NEAR(*rate->uncertainty(), std::sqrt(static_cast<double>(m.events.size())) * 30, 1);
    EXPECT_NEAR(*m.figures.find("dropout_length_median")->number(), 7, 0.2);
    EXPECT_THAT(rate->note(), HasSubstr("bright"));
    EXPECT_THAT(rate->note(), testing::Not(HasSubstr("scratch")));
}

TEST(Dropouts, AScratchReturnsAtTheSameHeight) {
    Recipe r = scene(42, 8);
    r.duration_s = 1.2;
    auto& d = r.dropouts.emplace();
    d.per_minute = 1500, d.at_line = 120;
    EXPECT_THAT(measured(r).figures.find("dropouts_per_minute")->note(), HasSubstr("as those of a scratch"));
}

TEST(Dropouts, OfACopyAreCountedOnce) {
    Recipe r = scene(42, 9);
    r.dropouts.emplace().per_minute = 3000;
    r.faults.repeated_frames = {4, 5, 6, 11, 12};
    const Measured m = measured(r);
    const auto distinct = std::ranges::count_if(m.truth, [&](const auto& d) {
        const auto frame = d.field / 2;
        return d.length_us > 2 && std::ranges::find(r.faults.repeated_frames, frame) == r.faults.repeated_frames.end();
    });
    EXPECT_LE(static_cast<double>(m.events.size()), static_cast<double>(distinct) + 1);
    EXPECT_GE(static_cast<double>(m.events.size()), 0.85 * static_cast<double>(distinct));
}

TEST(Dropouts, AreToldTogetherWhenThereAreTooMany) {
    Recipe r = scene(42, 10);
    r.duration_s = 0.6;
    auto& d = r.dropouts.emplace();
    d.per_minute = 240'000, d.length_us = 5;
    const Measured m = measured(r);
    ASSERT_GT(m.events.size(), 1000U);
    EXPECT_LT(m.events.size(), 1010U);
    EXPECT_EQ(m.events.back().kind, "dropouts");
    EXPECT_GT(*m.events.back().count, 10);
}

TEST(Dropouts, OfAStillAreNumberedAsTheClipDeclares) {
    for (const auto order : {media::DeclaredOrder::TopFirst, media::DeclaredOrder::BottomFirst}) {
        support::MadeContext made;
        made.info.picture = support::luma_format(width, height);
        made.evidence.rate_value = MeasuredRate{25, 0.001};
        made.evidence.order_value = InterlaceEvidence::Order::Unknown;
        made.info.declared_order = order;
        Dropouts measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        for (int i = 0; i < 4; ++i) {
            support::Planes grey;
            grey.luma.assign(static_cast<std::size_t>(width) * height, 400);
            if (i == 2)
                for (int x = 200; x < 300; ++x) sample(grey, x, 41) = 940;
            const auto frame = support::make_frame(made.info.picture, grey, i);
            measurement.see(frame, extractor.extract(frame));
        }
        quantity::Figures figures;
        std::vector<Event> events;
        measurement.finish(figures, events);
        ASSERT_EQ(events.size(), 1U);
        EXPECT_EQ(*events[0].line, 20);
        EXPECT_EQ(*events[0].field, order == media::DeclaredOrder::TopFirst ? 5 : 4);  // row 41 is of the bottom field
    }
}

TEST(Dropouts, SayWhyNot) {
    for (const auto& [across, down, frames] :
         {std::tuple(720, 576, 1), std::tuple(64, 48, 4), std::tuple(720, 576, 0)}) {
        support::MadeContext made;
        made.info.picture = support::luma_format(across, down);
        Dropouts measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        support::Planes grey;
        grey.luma.assign(static_cast<std::size_t>(across) * static_cast<std::size_t>(down), 400);
        for (int i = 0; i < frames; ++i) {
            const auto frame = support::make_frame(made.info.picture, grey, i);
            measurement.see(frame, extractor.extract(frame));
        }
        quantity::Figures figures;
        std::vector<Event> events;
        measurement.finish(figures, events);
        for (const char* id : {"dropouts_per_minute", "dropout_length_median"}) {
            EXPECT_FALSE(figures.find(id)->is_known());
            EXPECT_FALSE(figures.find(id)->reason().empty());
        }
        EXPECT_TRUE(events.empty());
    }
}

}  // namespace
}  // namespace guardband::measure
