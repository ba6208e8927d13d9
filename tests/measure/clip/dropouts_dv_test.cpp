// Dropouts in files of DV, which rounds each small block on its own: how many are found, how many found are true.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <string>
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
Measured measured_clip(const std::string& path, quantity::Rational frame_rate) {
    Measured out;
    const auto clip = media::open_clip(path);
    support::MadeContext made;
    made.info = clip->info();
    made.evidence.rate_value = MeasuredRate{frame_rate.value(), 0.001};
    made.evidence.order_value = InterlaceEvidence::Order::BottomFirst;
    Dropouts measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    while (const auto frame = clip->next()) measurement.see(*frame, extractor.extract(*frame));
    measurement.finish(out.figures, out.events);
    return out;
}

/// The same of a file that is made of a recipe, and what is true.
Measured measured_file(const Recipe& recipe) {
    const support::TemporaryFolder folder;
    const std::string path = folder.file("losses.dv");
    const auto truth = testsignal::write_clip(recipe, path).dropouts;
    Measured out = measured_clip(path, recipe.raster.frame_rate);
    out.truth = truth;
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

/// A page of signs that rolls up, sharp and full of detail, with noise of 40 dB: 8-bit codes of luma.
std::vector<double> signs(int frame, testsignal::Random& random) {
    constexpr int rows = 576;
    std::vector<double> luma(std::size_t{width} * rows);
    for (int y = 0; y < rows; ++y)
        for (int x = 0; x < width; ++x) {
            const int down = y + 2 * frame + 1 - y % 2, line = down / 24, sign = x / 18;
            const bool upright = x % 18 < 3 && down % 24 < 16, level = x % 18 < 13 &&
                                                                       down % 24 >= 6 * ((line + sign) % 3) &&
                                                                       down % 24 < 6 * ((line + sign) % 3) + 3;
            const bool is_sign = (sign * 7 + line * 3) % 5 < 4 && (upright || level);
            luma[static_cast<std::size_t>(y * width + x)] =
                (is_sign ? 230 : 80 + 25 * std::sin(x / 40.0 + y / 25.0)) + 2.2 * random.gaussian();
        }
    return luma;
}

// Where the blocks are full of outlines their rounding is coarse: nine in ten are claimed.
TEST(DropoutsInDv, AreFoundAmongSigns) {
    if (!support::has_ffmpeg()) GTEST_SKIP() << "the ffmpeg command is not installed";
    constexpr int frames = 10, rows = 576, each_field = 4;
    const support::TemporaryFolder folder;
    const std::string raw = folder.file("signs.yuv"), path = folder.file("signs.dv");
    std::vector<testsignal::Dropout> lost;
    std::ofstream out(raw, std::ios::binary);
    testsignal::Random random(4);
    for (int frame = 0; frame < frames; ++frame) {
        std::vector<double> luma = signs(frame, random);
        for (int i = 0; i < 2 * each_field; ++i) {
            testsignal::Dropout d;
            const int bottom = i % 2;
            d.field = 2 * frame + 1 - bottom, d.line = 20 + 66 * (i / 2) + static_cast<int>(random.uniform(0, 50));
            d.length_us = random.uniform(6, 20), d.start_us = random.uniform(2, 51 - d.length_us);
            d.bright = true;
            const int from = static_cast<int>(d.start_us * samples_per_us),
                      to = from + static_cast<int>(d.length_us * samples_per_us);
            double change = 0;
            for (int x = from; x < to; ++x) {
                double& at = luma[static_cast<std::size_t>((2 * d.line + bottom) * width + x)];
                change += 243 - at, at = 243 + 2.2 * random.gaussian();
            }
            if (change > seen_codes * (to - from)) lost.push_back(d);
        }
        std::string codes;
        for (const double code : luma) codes += static_cast<char>(std::clamp(std::lround(code), 1L, 254L));
        codes.append(luma.size() / 2, static_cast<char>(128));
        out << codes;
    }
    out.close();
    support::ffmpeg("-f rawvideo -pix_fmt yuv420p -s 720x" + std::to_string(rows) + " -r 25 -i " + raw +
                    " -vf setfield=bff -c:v dvvideo " + path);
    const Measured m = measured_clip(path, {25, 1});
    const auto is_found = [&](const auto& d) {
        return std::ranges::any_of(m.events, [&](const Event& e) { return meet(e, d); });
    };
    const auto is_true = [&](const Event& e) {
        return std::ranges::any_of(lost, [&](const auto& d) { return meet(e, d); });
    };
    const auto hits = static_cast<double>(std::ranges::count_if(lost, is_found)),
               right = static_cast<double>(std::ranges::count_if(m.events, is_true));
    EXPECT_GE(hits / static_cast<double>(lost.size()), 0.9);
    EXPECT_GE(right / static_cast<double>(m.events.size()), 0.97);
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
