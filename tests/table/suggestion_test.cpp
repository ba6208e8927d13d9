#include "table/suggestion.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace guardband::table {
namespace {

const std::vector<std::string> formats{"vhs", "s-vhs", "beta", "u-format", "video-2000"};

TEST(NearestName, ForgivesOneEditInThreeLetters) {
    EXPECT_EQ(nearest_name("vsh", formats), "vhs") << "neighbours swapped";
    EXPECT_EQ(nearest_name("VHS ", formats), "vhs") << "letter case and a blank";
    EXPECT_EQ(nearest_name("uformat", formats), "u-format") << "a letter dropped";
    EXPECT_EQ(nearest_name("vidio-2000", formats), "video-2000") << "a letter changed";
}

TEST(NearestName, DoesNotGuessWildly) {
    EXPECT_EQ(nearest_name("quadruplex", formats), "");
    EXPECT_EQ(nearest_name("", formats), "");
    EXPECT_EQ(nearest_name(std::string(100000, 'x'), formats), "") << "a hostile length is no trouble";
}

}  // namespace
}  // namespace guardband::table
