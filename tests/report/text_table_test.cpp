#include "report/text_table.h"

#include <gtest/gtest.h>

namespace guardband::report {
namespace {

using enum TextTable::Align;

TEST(TextTable, AlignsByWhatIsSeenNotByBytes) {
    TextTable table({{"what", Left}, {"value", Right}});
    table.add({"thickness", "20 µm"});
    table.add({"Länge", "7 m"});
    EXPECT_EQ(table.to_string(), "what       value\nthickness  20 µm\nLänge        7 m\n");
}

TEST(TextTable, LeavesNoTrailingBlanks) {
    TextTable table({{"a", Left}, {"b", Left}});
    table.add({"1"});
    table.add({"", "2"});
    EXPECT_EQ(table.to_string("  "), "  a  b\n  1\n     2\n");
}

TEST(TextTable, DropsAnEmptyHeadingAndKeepsLinesAcross) {
    TextTable table({{"", Left}, {"", Left}});
    table.add_line("Group");
    table.add({"1", "2"});
    EXPECT_EQ(table.to_string("  "), "Group\n  1  2\n");
}

TEST(TextTable, QuotesCommaSeparatedValues) {
    TextTable table({{"name"}, {"value"}});
    table.add({"a, \"b\"", "1"});
    table.add_line("not a row");
    table.add({"c"});
    EXPECT_EQ(table.to_csv(), "name,value\n\"a, \"\"b\"\"\",1\nc,\n");
}

TEST(Wrapped, BreaksAtBlanksAndIndentsWhatFollows) {
    EXPECT_EQ(wrapped("one two three four", 9), "one two\nthree\nfour");
    EXPECT_EQ(wrapped("one two three", 9, 4), "one\n    two\n    three");
    EXPECT_EQ(wrapped("unbreakablyLongWord x", 5), "unbreakablyLongWord\nx");
    EXPECT_EQ(wrapped("  spaced   out ", 80), "spaced out");
    EXPECT_EQ(wrapped("", 80), "");
}

}  // namespace
}  // namespace guardband::report
