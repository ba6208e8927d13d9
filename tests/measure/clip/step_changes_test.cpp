// Jitter from line to line without blanking, on scenes in which every line's neighbours differ by the scene itself:
// textures that slant, are zoomed, turned, swayed and seen behind others, drawn here from a continuous picture, each
// line displaced by a known amount.
#include "measure/clip/step_changes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include <random>
#include <string>
#include <utility>

#include "measure/clip/line_displacement.h"
#include "support/clip_frames.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

constexpr double ns_per_px = 1e9 / 13.5e6;
constexpr int width = 720, height = 192;

/// A texture without end in octaves of smooth noise, by cubic interpolation. Wavelengths of 5 samples and more.
class Texture {
public:
    explicit Texture(unsigned seed) : values_(size * size) {
        std::mt19937 random(seed);
        std::normal_distribution<float> normal;
        for (float& one : values_) one = normal(random);
    }

    double at(double x, double y) const {
        double sum = 0;
        for (const double scale : {2.5, 7.0, 19.0, 53.0}) sum += std::sqrt(scale) * noise(x / scale, y / scale);
        return sum;
    }

private:
    static constexpr int size = 256;

    static double cubic(double a, double b, double c, double d, double t) {
        return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)));
    }
    double noise(double x, double y) const {
        const double left = std::floor(x), top = std::floor(y);
        const auto value = [&](int i, int j) {
            const auto column = static_cast<unsigned>(static_cast<int>(left) + i) % size;
            const auto row = static_cast<unsigned>(static_cast<int>(top) + j) % size;
            return static_cast<double>(values_[row * size + column]);
        };
        const auto of_row = [&](int j) { return cubic(value(-1, j), value(0, j), value(1, j), value(2, j), x - left); };
        return cubic(of_row(-1), of_row(0), of_row(1), of_row(2), y - top);
    }

    std::vector<float> values_;
};

struct Point {
    double x, y;
};
/// Where in the texture a point of the raster, counted from its middle, lies. @param field  counts in time
using Scene = Point (*)(Point, double field);

struct Case {
    std::string name;
    Scene scene;
};
void PrintTo(const Case& c, std::ostream* out) { *out << c.name; }

class StepChangesScenes : public testing::TestWithParam<Case> {};

/// Of frames whose samples are given. @param code  of sample x of row y of a frame, 10 bits; asked row by row
template <typename Code>
quantity::Figure jitter_of(int columns, int frames, const Code& code) {
    support::MadeContext made;
    made.info.picture = support::luma_format(columns, height);
    LineDisplacement measurement(made.context);
    const FrameFeatures unused;
    support::Planes planes;
    planes.luma.resize(static_cast<std::size_t>(columns) * height);
    for (int frame = 0; frame < frames; ++frame) {
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < columns; ++x)
                planes.luma[static_cast<std::size_t>(y * columns + x)] =
                    static_cast<std::uint16_t>(std::clamp(code(frame, y, x), 4.0, 1019.0));
        measurement.see(support::make_frame(made.info.picture, planes, frame), unused);
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return *figures.find("line_jitter_rms");
}

/// Interlaced frames of a scene, its lines displaced at random. @param noise_codes  RMS, 10 bits
quantity::Figure jitter(Scene scene, double jitter_ns, double noise_codes) {
    const Texture texture(4);
    std::mt19937 random(11);
    std::normal_distribution<double> normal;
    double moved_px = 0;
    return jitter_of(width, 9, [&](int frame, int y, int x) {
        if (x == 0) moved_px = jitter_ns * normal(random) / ns_per_px;
        const Point at = scene({x - moved_px - width / 2.0, y - height / 2.0}, 2 * frame + y % 2);
        return 480 + 20 * texture.at(at.x, at.y) + noise_codes * normal(random);
    });
}

constexpr double snr_40_db = 8.76;  // codes of 10 bits

// Nothing displaced: within 5 ns of nothing, with and without noise.
TEST_P(StepChangesScenes, TakesNoSceneForJitter) {
    for (const double noise : {0.0, snr_40_db}) {
        const auto found = jitter(GetParam().scene, 0, noise);
        if (!found.is_known()) {
            EXPECT_EQ(noise, 0) << found.reason();  // copies tell nothing
            continue;
        }
        EXPECT_LE(*found.number(), 5) << noise;
    }
}

// Within 10 % or 3 ns, and what 9 short frames scatter by.
TEST_P(StepChangesScenes, SeesJitter) {
    for (const double truth_ns : {20.0, 100.0}) {
        const auto found = jitter(GetParam().scene, truth_ns, snr_40_db);
        ASSERT_TRUE(found.is_known()) << found.reason();
        EXPECT_NEAR(*found.number(), truth_ns, std::max(0.1 * truth_ns, 3.0) + *found.uncertainty()) << truth_ns;
    }
}

Point slanting(Point p, double field) { return {p.x + 0.4 * p.y + 0.8 * field, p.y / 4}; }

Point slanting_at_rest(Point p, double) { return {p.x - 0.3 * p.y, p.y / 3}; }

Point zoomed(Point p, double field) {
    const double zoom = std::exp(-0.003 * field);
    return {zoom * p.x, zoom * p.y / 3};
}

Point turned(Point p, double field) {
    const double angle = 0.004 * field;
    return {p.x * std::cos(angle) - p.y / 2 * std::sin(angle), p.x * std::sin(angle) + p.y / 2 * std::cos(angle)};
}

Point swayed(Point p, double field) { return {p.x + 3 * std::sin(0.02 * p.x + 0.05 * p.y + 0.15 * field), p.y / 3}; }

Point before_others(Point p, double field) {
    const double near = p.x + 1.5 * field;
    if (std::sin(0.021 * near) + std::sin(0.043 * near + 1) > 0.6) return {near, p.y / 3 + 200};
    return {p.x + 0.4 * field, p.y / 3};
}

INSTANTIATE_TEST_SUITE_P(Scenes, StepChangesScenes,
                         testing::Values(Case{"all outlines slant", slanting},
                                         Case{"they slant and rest", slanting_at_rest}, Case{"zoomed", zoomed},
                                         Case{"turned", turned}, Case{"swayed", swayed},
                                         Case{"things before others", before_others}));

/// Noise as programs make it that want to be quick: every row of every frame begins anywhere in one table.
class TableNoise {
public:
    explicit TableNoise(double rms) : random_(5), table_(2048) {
        std::normal_distribution<double> normal(0, rms);
        for (double& one : table_) one = normal(random_);
    }
    double at(int x) {
        if (x == 0) start_ = random_() % 1024;
        return table_[(start_ + static_cast<std::size_t>(x)) % table_.size()];
    }

private:
    std::mt19937 random_;
    std::vector<double> table_;
    std::size_t start_ = 0;
};

// Some rows then hold what another held, shifted by anything: jitter of 1 µs if they counted.
TEST(StepChanges, TakesNoNoiseOfATableForJitter) {
    for (const auto& [columns, stripes] : {std::pair(360, false), std::pair(720, false), std::pair(720, true)}) {
        TableNoise noise(12);
        const auto found = jitter_of(
            columns, 40, [&](int, int y, int x) { return (stripes ? 200 + 40 * (y / 12 % 8) : 480) + noise.at(x); });
        EXPECT_LE(found.number().value_or(0), 5) << columns << (stripes ? " stripes" : "");
    }
}

// ... but a band of texture in such noise, one line in fifteen of a picture, tells its jitter.
TEST(StepChanges, SeesTheJitterOfALittleTextureInNoise) {
    const Texture texture(9);
    std::mt19937 random(3);
    std::normal_distribution<double> normal;
    TableNoise noise(6);
    constexpr double truth_ns = 50;
    double moved_px = 0;
    const auto found = jitter_of(width, 40, [&](int frame, int y, int x) {
        if (x == 0) moved_px = truth_ns * normal(random) / ns_per_px;
        const double band = y >= 90 && y < 104 ? 30 * texture.at(x - moved_px + 2.2 * frame, y / 4.0) : 0;
        return 480 + band + noise.at(x);
    });
    ASSERT_TRUE(found.is_known()) << found.reason();
    EXPECT_NEAR(*found.number(), truth_ns, 0.1 * truth_ns + *found.uncertainty());
}

}  // namespace
}  // namespace guardband::measure
