// Delay of colour on clips whose left and right were changed over, and on ones where the two differ, as through a lens.
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "measure/clip/chroma_delay.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::recipe_of;
using testing::HasSubstr;

constexpr double claimed_ns = 10;

/// Left and right changed over. Colour stands beside luma as before: on the first of the `step` samples of luma.
void mirror_rows(std::vector<std::uint16_t>& samples, int width, int step) {
    for (auto row = samples.begin(); row != samples.end(); row += width) {
        std::reverse(row, row + width);
        std::rotate(row, row + (step - 1), row + width);
    }
}

// In a mirror the delay is the other way, and so is what a scene adds by what lies beside its edges of colour. What
// stays is the measurement's own bias: an edge's place, the colour's siting, the lags.
TEST(ChromaDelay, HasNoBiasOfItsOwn) {
    for (const double delay_ns : {-350.0, 120.0}) {
        testsignal::Recipe recipe = recipe_of("625/50", 8, 0.8, 43);
        recipe.noise.snr_db = 38, recipe.picture.tint = 0.1;
        recipe.picture.luma_bandwidth_mhz = 3, recipe.picture.chroma_bandwidth_mhz = 0.5;
        recipe.picture.chroma_delay_ns = delay_ns;
        support::MadeClip clip(recipe, support::MadePlanes::All);
        support::MadeContext made;
        made.info.picture = clip.format();
        ChromaDelay straight(made.context), mirrored(made.context);
        for (std::int64_t index = 0; auto planes = clip.next_planes(); ++index) {
            straight.see(support::make_frame(clip.format(), *planes, index), {});
            mirror_rows(planes->luma, clip.format().width, 2);
            for (auto* colour : {&planes->cb, &planes->cr}) mirror_rows(*colour, clip.format().width / 2, 1);
            mirrored.see(support::make_frame(clip.format(), *planes, index), {});
        }
        support::MeasuredFigures one, other;
        straight.finish(one.figures, one.events), mirrored.finish(other.figures, other.events);
        ASSERT_TRUE(one["chroma_delay"].is_known() && other["chroma_delay"].is_known());
        EXPECT_NEAR((one.number("chroma_delay") + other.number("chroma_delay")) / 2, 0, claimed_ns / 2);
    }
}

/// As a lens leaves it: no delay in the picture's middle, so much early at its left and late at its right.
void spread_colour(const media::PictureFormat& format, double at_edge_ns, std::vector<std::uint16_t>& colour) {
    const auto width = static_cast<std::size_t>(format.width >> format.chroma_shift_x);
    const double middle = static_cast<double>(width) / 2, at_edge_px = at_edge_ns * 13.5e-3 / 2;
    std::vector<std::uint16_t> was(width);
    for (auto row = colour.begin(); row != colour.end(); row += static_cast<std::ptrdiff_t>(width)) {
        std::copy_n(row, width, was.begin());
        for (std::size_t x = 0; x < width; ++x) {
            const double off = (static_cast<double>(x) - middle) / middle;
            const double from =
                std::clamp(static_cast<double>(x) - off * at_edge_px, 0.0, static_cast<double>(width - 2));
            const auto first = static_cast<std::size_t>(from);
            const double share = from - static_cast<double>(first);
            row[static_cast<std::ptrdiff_t>(x)] = static_cast<std::uint16_t>(std::lround(
                static_cast<double>(was[first]) * (1 - share) + static_cast<double>(was[first + 1]) * share));
        }
    }
}

support::MeasuredFigures delay_of_spread(double at_edge_ns) {
    testsignal::Recipe recipe = recipe_of("525/60", 10, 0.8, 41);
    recipe.noise.snr_db = 42, recipe.picture.tint = 0.1;
    support::MadeClip clip(recipe, support::MadePlanes::All);
    support::MadeContext made;
    made.info.picture = clip.format();
    ChromaDelay measurement(made.context);
    for (std::int64_t index = 0; auto planes = clip.next_planes(); ++index) {
        spread_colour(clip.format(), at_edge_ns, planes->cb), spread_colour(clip.format(), at_edge_ns, planes->cr);
        measurement.see(support::make_frame(clip.format(), *planes, index), {});
    }
    support::MeasuredFigures out;
    measurement.finish(out.figures, out.events);
    return out;
}

// The same in a tape's colour cannot be: a delay is the same all along the line.
TEST(ChromaDelay, IsNoDelayWhatALensSpreads) {
    const auto spread = delay_of_spread(150);
    ASSERT_FALSE(spread["chroma_delay"].is_known()) << spread.number("chroma_delay");
    EXPECT_THAT(spread["chroma_delay"].reason(), HasSubstr("at the left"));
    EXPECT_THAT(spread["chroma_delay"].reason(), HasSubstr("as a lens or a camera leaves it"));
    const auto straight = delay_of_spread(0);
    ASSERT_TRUE(straight["chroma_delay"].is_known()) << straight["chroma_delay"].reason();
    EXPECT_NEAR(straight.number("chroma_delay"), 0, claimed_ns);
    EXPECT_EQ(straight["chroma_delay"].note(), "");
}

}  // namespace
}  // namespace guardband::measure
