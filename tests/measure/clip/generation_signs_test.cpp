// Signs that a recording was copied, from figures that others have measured.
#include "measure/clip/generation_signs.h"

#include <gmock/gmock.h>

#include "whole_pass.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;
using testsignal::Recipe;

// Each copy lowers colour by a line; two may be one tape's being played, four are not.
TEST(GenerationSigns, AreToldOfColourThatLiesTooLow) {
    for (const double lines : {0.0, 2.0, 4.0}) {
        Recipe recipe = small_clip(1.3, 40, 1);
        recipe.picture.chroma_lower_lines = lines, recipe.picture.tint = 0.1;
        const ClipReport report = measured(recipe);
        ASSERT_TRUE(report.figures.find("chroma_lower")->is_known());
        const quantity::Figure& signs = *report.figures.find("generation_signs");
        if (lines > 2) {
            EXPECT_THAT(text_of(report, "generation_signs"), HasSubstr("colour lowered"));
            EXPECT_THAT(signs.note(), HasSubstr("lines lower"));
        } else if (signs.is_known()) {
            EXPECT_EQ(text_of(report, "generation_signs"), "none") << lines;
        }
    }
}

quantity::Figures with(double lower, double overshoot) {
    quantity::Figures figures;
    figures.add("chroma_lower", quantity::Figure::measured(lower, 0.1, "lines"));
    figures.add("edge_overshoot", quantity::Figure::measured(overshoot, 0.5, "%"));
    return figures;
}

std::string signs_of(quantity::Figures figures) {
    GenerationSigns::add_to(figures, 2);
    const quantity::Figure& found = *figures.find("generation_signs");
    return found.is_known() ? std::get<std::string>(found.value()) : found.reason();
}

TEST(GenerationSigns, FollowFromTheTwoFigures) {
    EXPECT_EQ(signs_of(with(0, 8)), "none");
    EXPECT_EQ(signs_of(with(2.1, 9.5)), "none") << "within the uncertainty";
    EXPECT_EQ(signs_of(with(3, 5)), "colour lowered");
    EXPECT_EQ(signs_of(with(0, 25)), "edges sharpened");
    EXPECT_EQ(signs_of(with(4, 14)), "colour lowered, edges sharpened");
    quantity::Figures one;
    one.add("chroma_lower", quantity::Figure::measured(0, 0.1, "lines"));
    one.add("edge_overshoot", quantity::Figure::unknown("no edges"));
    EXPECT_THAT(signs_of(one), HasSubstr("isn't known"));
}

}  // namespace
}  // namespace guardband::measure
