// Dropouts in files of DV, which rounds each small block on its own: how many are found, how many found are true.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "measure/clip/dropout_clips.h"
#include "support/ffmpeg.h"
#include "testsignal/clip_writer.h"

namespace guardband::measure {
namespace {

using namespace dropout_clips;

constexpr double samples_per_us = 13.5, seen_codes = 0.15 * 219;

Recipe dv(bool american, double snr_db, std::uint64_t seed) {
    Recipe r = scene(snr_db, seed);
    r.system = american ? "525/60" : "625/50";
    r.codec = testsignal::Codec::Dv, r.container = "dv", r.bit_depth = 8;
    r.field_order = testsignal::FieldOrder::BottomFirst;
    r.chroma = american ? testsignal::ChromaSampling::C411 : testsignal::ChromaSampling::C420;
    if (american) r.raster.height = 480, r.raster.frame_rate = {30000, 1001};
    r.duration_s = 0.4, r.picture.motion_px = 3;
    return r;
}

/// What the measurement says of a file of DV.
Measured measured_file(const Recipe& recipe) {
    const support::TemporaryFolder folder;
    const std::string path = folder.file("losses.dv");
    Measured out;
    out.truth = testsignal::write_clip(recipe, path).dropouts;
    const auto clip = media::open_clip(path);
    support::MadeContext made;
    made.info = clip->info();
    made.evidence.rate_value = MeasuredRate{recipe.raster.frame_rate.value(), 0.001};
    made.evidence.order_value = InterlaceEvidence::Order::BottomFirst;
    Dropouts measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    while (const auto frame = clip->next()) measurement.see(*frame, extractor.extract(*frame));
    measurement.finish(out.figures, out.events);
    return out;
}

/// The picture without noise and losses, frame by frame.
std::vector<support::Planes> clean(Recipe recipe) {
    recipe.noise.snr_db.reset(), recipe.dropouts.reset();
    support::MadeClip clip(recipe);
    std::vector<support::Planes> frames;
    while (auto planes = clip.next_planes()) frames.push_back(std::move(*planes));
    return frames;
}

/// Whether a loss ends within the picture and stands out all along, by 0.15 of the range from black to white.
bool is_seen(const testsignal::Dropout& d, const std::vector<support::Planes>& frames) {
    constexpr int piece = 16, edge = 3;
    const auto& luma = frames[static_cast<std::size_t>(d.field / 2)].luma;
    const int row = 2 * d.line + (d.field % 2 == 0 ? 1 : 0);
    const int first = static_cast<int>(d.start_us * samples_per_us) + edge,
              end = static_cast<int>((d.start_us + d.length_us) * samples_per_us) - edge;
    if (end > width - 2 * edge || first < edge) return false;
    for (int x = first; x + piece <= end; ++x) {
        double sum = 0;
        for (int i = 0; i < piece; ++i) sum += luma[static_cast<std::size_t>(row * width + x + i)];
        const double mean = sum / piece;
        if (d.bright ? 235 - mean < seen_codes : mean - 16 < seen_codes) return false;
    }
    return true;
}

struct Score {
    double wanted = 0, hits = 0, found = 0, right = 0;
};

struct Losses {
    bool american;
    double length_us;
    int lines;
};

Score score_of(double snr_db, const std::vector<Losses>& clips) {
    Score score;
    std::uint64_t seed = 70;
    for (const Losses& one : clips) {
        Recipe r = dv(one.american, snr_db, ++seed);
        auto& d = r.dropouts.emplace();
        d.per_minute = 12'000.0 / one.lines, d.length_us = one.length_us, d.lines = one.lines;
        const Measured m = measured_file(r);
        const auto frames = clean(r);
        for (const auto& lost : m.truth) {
            if (!is_seen(lost, frames)) continue;
            ++score.wanted;
            score.hits += std::ranges::any_of(m.events, [&](const Event& e) { return meet(e, lost); }) ? 1 : 0;
        }
        for (const Event& e : m.events) {
            ++score.found;
            score.right += std::ranges::any_of(m.truth, [&](const auto& lost) { return meet(e, lost); }) ? 1 : 0;
        }
    }
    return score;
}

// The claims, for bright and dark ones that end within the picture.
TEST(DropoutsInDv, AreFoundAt40dB) {
    const Score score = score_of(40, {{false, 4, 1}, {true, 16, 1}});
    EXPECT_GT(score.wanted, 80);
    EXPECT_GE(score.hits / score.wanted, 0.97);
    EXPECT_GE(score.right / score.found, 0.97);
}

TEST(DropoutsInDv, AreFoundAt32dB) {
    const Score score = score_of(32, {{true, 8, 3}});
    EXPECT_GT(score.wanted, 40);
    EXPECT_GE(score.hits / score.wanted, 0.9);
    EXPECT_GE(score.right / score.found, 0.9);
}

// What a codec makes of a row that was filled from another is no nearer to that than rows are elsewhere, so that none
// is told; and blocks that it left alike by themselves are none (gradients of FFmpeg in DV gave hundreds).
TEST(DropoutsInDv, HeldOnesAreLookedForInLosslessFilesAlone) {
    for (const bool is_lossy : {false, true}) {
        Recipe r = low_scene(40, 75);
        auto& d = r.dropouts.emplace();
        d.per_minute = 3000, d.bright = d.dark = false, d.held = true;
        support::MadeClip clip(r);
        support::MadeContext made;
        made.info.picture = clip.format(), made.info.is_lossy = is_lossy;
        made.evidence.rate_value = MeasuredRate{25, 0.001};
        Dropouts measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        while (const auto frame = clip.next()) measurement.see(*frame, extractor.extract(*frame));
        quantity::Figures figures;
        std::vector<Event> events;
        measurement.finish(figures, events);
        EXPECT_EQ(events.empty(), is_lossy);
    }
}

}  // namespace
}  // namespace guardband::measure
