// Worked examples as data: what a source prints against what the engine works out. A failure names its source.
#include <gmock/gmock.h>

#include <algorithm>

#include "published/check.h"

namespace guardband {
namespace {

class Published : public testing::TestWithParam<Check> {};

TEST_P(Published, Holds) {
    const Check& c = GetParam();
    SCOPED_TRACE(c.what + ", source " + c.source + " " + c.where + " (" + c.standing + ") " + c.note);
    EXPECT_NE(built_in().find_source(c.source), nullptr) << "cites an unknown source";
    EXPECT_TRUE(holds_rate(c) || holds_time(c) || holds_track(c) || holds_pack(c) || holds_loss(c) || holds_beat(c) ||
                holds_conversion(c) || holds_storage(c))
        << "no way to work out " << c.what;
}

std::string test_name(const testing::TestParamInfo<Check>& test) {
    std::string name = test.param.label;
    std::ranges::replace(name, '-', '_');
    return name;
}

INSTANTIATE_TEST_SUITE_P(Checks, Published, testing::ValuesIn(all_checks()), test_name);

TEST(PublishedChecks, AreEnough) {
    const auto count = [](const char* what) {
        return std::ranges::count_if(all_checks(), [&](const Check& c) {
            return c.what == what && (c.standing == "published" || c.standing == "standard");
        });
    };
    EXPECT_GE(count("running_time"), 20);
    EXPECT_GE(count("track_pitch"), 8);
    EXPECT_GE(count("writing_speed"), 12);
    EXPECT_GE(count("rate"), 10);
}

}  // namespace
}  // namespace guardband
