#include "measure/clip/new_row.h"

#include <gtest/gtest.h>

#include <vector>

namespace guardband::measure {
namespace {

std::optional<NewRow> find(const std::vector<double>& offs, bool at_end = false) { return find_new_row(offs, at_end); }

void expect_row(const std::optional<NewRow>& row, std::size_t from, double off) {
    ASSERT_TRUE(row);
    EXPECT_EQ(row->from, from);
    EXPECT_NEAR(row->off_periods, off, 1e-12);
}

TEST(NewRow, BeginsWithTheFirstStampThatStaysLate) {
    expect_row(find({1, 1, 1, 1, 1}), 0, 1);
    expect_row(find({-7.4, -7.4, -7.4}), 0, -7.4);
    expect_row(find({33, -4, 2, 2, 2, 2}), 2, 2);  // after two wild ones
}

TEST(NewRow, TakesInAFirstStampThatJitters) {
    expect_row(find({0.7, 1, 1.05, 0.95, 1, 1}), 0, 1);
    expect_row(find({1.3, 1, 1.05, 0.95, 1, 1}), 0, 1);
}

TEST(NewRow, IsTheFirstOfSeveralOnTheWay) {
    expect_row(find({1, 1, 2, 2, 3, 3, 4, 4}), 0, 1);
    expect_row(find({1, 1, 1, 2, 2, 2, 2, 2, 2, 2}), 0, 1);
    expect_row(find({-1, -1, -2, -2, -2, -2}), 0, -1);
}

TEST(NewRow, IsNotOnTheOtherSideNorBeyond) {
    expect_row(find({-3, -3, 1, 1, 1, 1, 1}), 2, 1);
    expect_row(find({9, 9, 1, 1, 1, 1, 1}), 2, 1);
}

TEST(NewRow, NeedsTwoThatAgree) {
    EXPECT_FALSE(find({}));
    EXPECT_FALSE(find({1}));
    EXPECT_FALSE(find({1, 2, 3.5, -8, 100}));
    EXPECT_FALSE(find({0.1, 0.1, -0.2}));  // these are of the old row
}

TEST(NewRow, BelievesALastStampIfItIsWholePeriodsLate) {
    expect_row(find({2.1}, true), 0, 2.1);
    EXPECT_FALSE(find({2.4}, true));
    EXPECT_FALSE(find({-1}, true));
    EXPECT_FALSE(find({1e9}, true));
    EXPECT_FALSE(find({1}, false));
}

}  // namespace
}  // namespace guardband::measure
