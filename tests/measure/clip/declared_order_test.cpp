#include "measure/clip/declared_order.h"

#include <gmock/gmock.h>

#include "support/made_context.h"

namespace guardband::measure {
namespace {

using media::DeclaredOrder;
using enum media::DeclaredOrder;

struct Found {
    quantity::Figure figure = quantity::Figure::unknown("");
    std::vector<quantity::Event> events;
    std::string text() const { return figure.is_known() ? std::get<std::string>(figure.value()) : ""; }
};

Found find(const std::vector<DeclaredOrder>& orders) {
    support::MadeContext made;
    made.info.time_base = quantity::Rational(1, 25);
    DeclaredFieldOrder measurement(made.context);
    media::Frame frame;
    for (const DeclaredOrder order : orders) {
        frame.declared_order = order;
        frame.pts = frame.index;
        measurement.see(frame, {});
        ++frame.index;
    }
    Found found;
    quantity::Figures figures;
    measurement.finish(figures, found.events);
    found.figure = *figures.find("field_order_declared");
    return found;
}

TEST(DeclaredFieldOrder, IsWhatTheFileSays) {
    EXPECT_EQ(find({TopFirst, TopFirst}).text(), "top first");
    EXPECT_EQ(find({BottomFirst}).text(), "bottom first");
    EXPECT_EQ(find({Progressive, Progressive}).text(), "progressive");
}

TEST(DeclaredFieldOrder, FramesWithoutAWordDoNotCount) {
    const Found found = find({Unknown, BottomFirst, Unknown, BottomFirst});
    EXPECT_EQ(found.text(), "bottom first");
    EXPECT_TRUE(found.events.empty());
}

TEST(DeclaredFieldOrder, SaysSoIfTheFileIsSilent) {
    EXPECT_THAT(find({Unknown, Unknown}).figure.reason(), testing::HasSubstr("says nothing"));
    EXPECT_THAT(find({}).figure.reason(), testing::HasSubstr("says nothing"));
}

TEST(DeclaredFieldOrder, TellsWhereItChanges) {
    std::vector<DeclaredOrder> orders(100, TopFirst);
    orders.resize(175, BottomFirst);
    const Found found = find(orders);
    EXPECT_EQ(found.text(), "changes");
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].kind, "declared order");
    EXPECT_EQ(found.events[0].frame, 100);
    EXPECT_DOUBLE_EQ(found.events[0].time_s, 4);
    EXPECT_EQ(found.events[0].what, "the file declares bottom first from here on");
}

TEST(DeclaredFieldOrder, JoinsFrequentChanges) {
    std::vector<DeclaredOrder> orders(1000, TopFirst);
    for (std::size_t i = 1; i < orders.size(); i += 2) orders[i] = Progressive;
    const Found found = find(orders);
    EXPECT_EQ(found.text(), "changes");
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].count, 999);
}

}  // namespace
}  // namespace guardband::measure
