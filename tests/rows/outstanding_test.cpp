// What stands out of its neighbours: known answers, and the fast versions against the plain one.
#include "rows/outstanding.h"

#include <gtest/gtest.h>

#include <random>
#include <vector>

namespace guardband::rows {
namespace {

using Numbers = std::vector<std::uint32_t>;
using Marks = std::vector<std::int8_t>;

Marks marks_of(MarkOutstanding mark, const Numbers& row, const std::array<Numbers, 4>& others,
               const OutstandingRules& rules) {
    Marks marks(row.size(), 9);
    mark({row.data(), {others[0].data(), others[1].data(), others[2].data(), others[3].data()}},
         static_cast<int>(row.size()), rules, marks.data());
    return marks;
}

TEST(Outstanding, PlainOneMarksWhatStandsOutAndIsHighOrLowEnough) {
    // Above all; above all but one; by no more than the rule; not high enough; below all; not low enough.
    const Numbers row{100, 100, 100, 70, 10, 40}, level{50, 50, 89, 50, 50, 60};
    const std::array<Numbers, 4> others{level, level, level, Numbers{50, 95, 90, 50, 50, 60}};
    EXPECT_EQ(marks_of(plain_mark_outstanding(), row, others, {10, 80, 20}), (Marks{1, 0, 0, 0, -1, 0}));
}

TEST(Outstanding, FastOnesAgreeWithThePlainOneAtEveryLength) {
    std::mt19937 random(4);
    std::uniform_int_distribution<std::uint32_t> number(0, 30);
    for (const auto& [target, mark] : fast_mark_outstanding_of_each_target())
        for (std::size_t count = 1; count < 50; ++count) {
            // Nothing behind the last number, so that the address sanitizer sees a read too far.
            std::array<Numbers, 4> others;
            Numbers row(count);
            for (auto& one : row) one = number(random);
            for (auto& other : others)
                for (std::size_t i = 0; i < count; ++i) other.push_back(number(random));
            const OutstandingRules rules{2, 12, 18};
            EXPECT_EQ(marks_of(mark, row, others, rules), marks_of(plain_mark_outstanding(), row, others, rules))
                << target << ", " << count;
        }
}

}  // namespace
}  // namespace guardband::rows
