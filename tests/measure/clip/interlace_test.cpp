// `scan` and `field_order` on pictures whose truth is known because they were made so. Bias: whether the figures are
// right; scatter: how many frames vote, and that none votes wrongly. Pictures that we didn't make are in
// interlace_clips_test.cpp.
#include "measure/clip/interlace.h"

#include <gmock/gmock.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <random>

#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

using support::MadeClip;
using support::Planes;
using testsignal::FieldOrder;
using testsignal::Recipe;

struct Found {
    std::string scan, order, scan_reason, order_reason;
    WeaveVotes votes;
};

/// Changes the samples of frame `index`.
using Edit = std::function<void(Planes& planes, int index)>;

Found measure(const Recipe& recipe, const Edit& edit = {}) {
    support::MadeContext made;
    MadeClip clip(recipe);
    FeatureExtractor extractor(clip.format());
    Interlace interlace(made.context);
    int index = 0;
    while (auto planes = clip.next_planes()) {
        if (edit) edit(*planes, index);
        const auto frame = support::make_frame(clip.format(), *planes, index++);
        interlace.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    interlace.finish(figures, events);
    Found found;
    const auto text = [&](const char* id) {
        const auto& figure = *figures.find(id);
        return figure.is_known() ? std::get<std::string>(figure.value()) : std::string("unknown");
    };
    found.scan = text("scan"), found.order = text("field_order"), found.votes = interlace.votes();
    found.scan_reason = figures.find("scan")->reason(), found.order_reason = figures.find("field_order")->reason();
    return found;
}

/// A second of a panned scene.
Recipe panned(double motion_px, double direction_deg, std::optional<double> snr_db) {
    Recipe recipe;
    recipe.duration_s = 0.6;
    recipe.picture.motion_px = motion_px, recipe.picture.direction_deg = direction_deg;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

/// The first two frames have nothing to be compared with.
std::int64_t can_vote(const Recipe& recipe) { return testsignal::source_frame_count(recipe) - 2; }

void expect_interlaced(const Recipe& recipe, const Edit& edit = {}, double least_votes = 0.9) {
    for (const auto order : {FieldOrder::TopFirst, FieldOrder::BottomFirst}) {
        Recipe ordered = recipe;
        ordered.field_order = order;
        const Found found = measure(ordered, edit);
        const bool top = order == FieldOrder::TopFirst;
        EXPECT_EQ(found.scan, "interlaced");
        EXPECT_EQ(found.order, top ? "top first" : "bottom first");
        EXPECT_EQ(top ? found.votes.bottom_first : found.votes.top_first, 0);
        EXPECT_GE(static_cast<double>(top ? found.votes.top_first : found.votes.bottom_first),
                  least_votes * static_cast<double>(can_vote(recipe)));
    }
}

void expect_progressive(Recipe recipe) {
    recipe.scan = testsignal::Scan::Progressive;
    const Found found = measure(recipe);
    EXPECT_EQ(found.scan, "progressive");
    EXPECT_EQ(found.order, "unknown");
    EXPECT_THAT(found.order_reason, testing::HasSubstr("same moment"));
    EXPECT_EQ(found.votes.interlaced(), 0);
    EXPECT_GE(static_cast<double>(found.votes.progressive), 0.9 * static_cast<double>(can_vote(recipe)));
}

struct Motion {
    double px, direction_deg, snr_db;
};

void PrintTo(const Motion& m, std::ostream* out) {
    *out << m.px << " px, " << m.direction_deg << " deg, " << m.snr_db << " dB";
}

class InterlaceMotion : public testing::TestWithParam<Motion> {};

TEST_P(InterlaceMotion, IsRight) {
    const auto [px, direction_deg, snr_db] = GetParam();
    expect_interlaced(panned(px, direction_deg, snr_db));
    expect_progressive(panned(px, direction_deg, snr_db));
}

// The claim is 0.5 pixel at 30 dB. Speeds of whole lines per field are where rows of one field fall on those of the
// other.
INSTANTIATE_TEST_SUITE_P(Table, InterlaceMotion,
                         testing::Values(Motion{0.5, 0, 30}, Motion{1, 0, 30}, Motion{2, 0, 30}, Motion{5, 180, 30},
                                         Motion{10, 0, 30}, Motion{0.5, 90, 30}, Motion{1, 90, 30}, Motion{2, 90, 30},
                                         Motion{3, 90, 30}, Motion{4, 270, 30}, Motion{0.5, 45, 30}, Motion{3, 30, 30},
                                         Motion{1, 0, 24}, Motion{1, 90, 24}, Motion{3, 0, 20}));

TEST(Interlace, VeryFastMotionGathersFewerVotesButNoWrongOnes) {
    Recipe recipe = panned(20, 0, 30);
    recipe.duration_s = 1.2;
    expect_interlaced(recipe, {}, 0.25);
    expect_progressive(recipe);
}

TEST(Interlace, CutsEverySecondDoNotMakeItMixed) {
    Recipe recipe = panned(3, 0, 30);
    recipe.duration_s = 2.4;
    recipe.picture.cuts_s = {0.5, 1.5};
    const Found found = measure(recipe);
    EXPECT_EQ(found.scan, "interlaced");
    EXPECT_EQ(found.order, "top first");
    recipe.scan = testsignal::Scan::Progressive;
    EXPECT_EQ(measure(recipe).scan, "progressive");
}

TEST(Interlace, FadesDoNotCount) {
    const Edit fade = [](Planes& planes, int index) {
        for (auto& code : planes.luma)
            code = static_cast<std::uint16_t>(std::lround(64 + (code - 64) * (1 - index / 25.0)));
    };
    expect_interlaced(panned(1, 0, 36), fade, 0.8);
    Recipe still = panned(0, 0, 36);
    still.picture.still = true;
    EXPECT_EQ(measure(still, fade).scan, "unknown");
}

/// A strip of 288 × 29 samples, 2 % of the picture, that moves before a still scene. Both carry the same noise.
TEST(Interlace, SeesASmallMovingObjectBeforeAStillScene) {
    for (const bool progressive : {false, true}) {
        Recipe still = panned(0, 0, 30), moving = panned(1, 0, 30);
        still.picture.still = true, still.duration_s = moving.duration_s = 2;
        moving.seed = 2;
        if (progressive) still.scan = moving.scan = testsignal::Scan::Progressive;
        MadeClip strip(moving);
        const Found found = measure(still, [&strip](Planes& planes, int) {
            const auto from = *strip.next_planes();
            for (std::size_t y = 480; y < 509; ++y)
                std::copy_n(from.luma.begin() + static_cast<std::ptrdiff_t>(y * 720 + 200), 288,
                            planes.luma.begin() + static_cast<std::ptrdiff_t>(y * 720 + 200));
        });
        EXPECT_EQ(found.scan, progressive ? "progressive" : "interlaced");
        EXPECT_EQ(found.order, progressive ? "unknown" : "top first");
    }
}

// A 60 Hz tube before a 50 Hz camera changes the brightness of fields at about 10 Hz: one field and the next differ
// more than three fields apart, which by brightness alone is the other order.
TEST(Interlace, APictureTubeInViewDoesNotMatter) {
    Recipe recipe = panned(0.5, 0, 36);
    recipe.screen = testsignal::ScreenSettings{};
    recipe.screen->left = 0.1, recipe.screen->top = 0.1, recipe.screen->width = 0.8, recipe.screen->height = 0.8;
    recipe.screen->depth = 0.3;
    recipe.camera.exposure_ms = 4;
    expect_interlaced(recipe, {}, 0.8);
    recipe.picture.still = true;
    EXPECT_EQ(measure(recipe).scan, "unknown");
}

TEST(Interlace, PullDownIsMixed) {
    Recipe recipe = panned(2, 0, 36);
    recipe.raster.height = 480, recipe.raster.frame_rate = quantity::Rational(30000, 1001);
    recipe.duration_s = 2, recipe.pulldown = {2, 3};
    const Found found = measure(recipe);
    EXPECT_EQ(found.scan, "mixed");
    EXPECT_EQ(found.order, "top first");
}

/// Moves each row by a random amount, as a poor time base does.
Edit line_jitter(double rms_px) {
    auto random = std::make_shared<std::mt19937>(3);
    return [rms_px, random](Planes& planes, int) {
        std::normal_distribution<double> shift(0, rms_px);
        for (std::size_t y = 0; y < planes.luma.size() / 720; ++y) {
            const std::vector<std::uint16_t> row(planes.luma.begin() + static_cast<std::ptrdiff_t>(720 * y),
                                                 planes.luma.begin() + static_cast<std::ptrdiff_t>(720 * (y + 1)));
            const double by = shift(*random), whole = std::floor(by);
            for (int x = 0; x < 720; ++x) {
                const auto at = [&row](int i) { return row[static_cast<std::size_t>(std::clamp(i, 0, 719))]; };
                const int from = x + static_cast<int>(whole);
                planes.luma[720 * y + static_cast<std::size_t>(x)] = static_cast<std::uint16_t>(
                    std::lround(at(from) * (1 - (by - whole)) + at(from + 1) * (by - whole)));
            }
        }
    };
}

TEST(Interlace, SaysThatItCannotTellOnStillPictures) {
    for (const std::optional<double> snr_db : {std::optional<double>{}, std::optional(30.0), std::optional(20.0)})
        for (const double jitter_px : {0.0, 0.5}) {
            Recipe recipe = panned(0, 0, snr_db);
            recipe.duration_s = 1.6, recipe.picture.still = true, recipe.seed = 11;
            const Found found = measure(recipe, jitter_px > 0 ? line_jitter(jitter_px) : Edit{});
            EXPECT_EQ(found.scan, "unknown") << snr_db.value_or(0) << " dB, jitter " << jitter_px;
            EXPECT_EQ(found.votes.all(), 0);
            EXPECT_THAT(found.scan_reason, testing::HasSubstr("too little moves"));
            EXPECT_THAT(found.order_reason, testing::HasSubstr("too little moves"));
        }
}

TEST(Interlace, MotionUnderLineJitterIsStillSeen) { expect_interlaced(panned(1, 0, 30), line_jitter(0.3)); }

TEST(Interlace, NothingAndLittleGiveAReason) {
    support::MadeContext made;
    Interlace nothing(made.context);
    EXPECT_EQ(nothing.scan(), InterlaceEvidence::Scan::Unknown);
    for (const auto& [width, height] : {std::pair{16, 16}, std::pair{720, 2}, std::pair{79, 576}}) {
        const auto format = support::luma_format(width, height, 8);
        FeatureExtractor extractor(format);
        Interlace interlace(made.context);
        Planes planes;
        planes.luma.assign(static_cast<std::size_t>(width * height), 100);
        for (int index = 0; index < 12; ++index) {
            const auto frame = support::make_frame(format, planes, index);
            interlace.see(frame, extractor.extract(frame));
        }
        quantity::Figures figures;
        std::vector<quantity::Event> events;
        interlace.finish(figures, events);
        EXPECT_FALSE(figures.find("scan")->is_known());
        EXPECT_FALSE(figures.find("field_order")->is_known());
    }
}

// Others ask while the clip runs; nothing that they are told may depend on `finish`.
TEST(Interlace, EvidenceIsThereBeforeTheEnd) {
    support::MadeContext made;
    MadeClip clip(panned(1, 0, 30));
    FeatureExtractor extractor(clip.format());
    Interlace interlace(made.context);
    int known_at = -1;
    while (const auto frame = clip.next()) {
        interlace.see(*frame, extractor.extract(*frame));
        if (known_at < 0 && interlace.order() == InterlaceEvidence::Order::TopFirst)
            known_at = static_cast<int>(frame->index);
    }
    EXPECT_GE(known_at, 2);
    EXPECT_LE(known_at, 8);
}

}  // namespace
}  // namespace guardband::measure
