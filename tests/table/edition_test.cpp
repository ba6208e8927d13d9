// Which edition of the table it is: read strictly, packed with the rest, and told apart from a table with a user's own
// files.
#include <gmock/gmock.h>

#include <string>

#include "quantity/errors.h"
#include "table/packed.h"
#include "table/reader.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::MatchesRegex;
using testing::ThrowsMessage;

Table read(const std::string& text) {
    Table table;
    read_documents({parse_document("table.toml", text)}, table);
    return table;
}

auto complains_of(const std::string& text, const std::string& line_and_key, const std::string& cure) {
    EXPECT_THAT([&] { read(text); }, ThrowsMessage<InputError>(AllOf(HasSubstr(line_and_key), HasSubstr(cure))))
        << text;
}

TEST(Edition, IsReadAndPacked) {
    const Table table = unpack(pack(read("[table]\nversion = \"10.2.0\"\nchanged = \"2024-02-29\"\n")));
    EXPECT_EQ(table.edition.version, "10.2.0");
    EXPECT_EQ(table.edition.changed, "2024-02-29");
    EXPECT_TRUE(table.edition.additions.empty());
}

TEST(Edition, IsReadStrictly) {
    complains_of("[tables]\n", "table.toml", "has no [table]");
    complains_of("[table]\nversion = \"1.0.0\"\n", "table.toml:1: [table]", "add changed");
    complains_of("[table]\nversion = \"1.0\"\nchanged = \"2026-11-25\"\n", "table.toml:2: [table].version",
                 "three whole numbers");
    complains_of("[table]\nversion = \"1.02.0\"\nchanged = \"2026-11-25\"\n", "table.toml:2: [table].version",
                 "three whole numbers");
    complains_of("[table]\nversion = \"1.0.0\"\nchanged = \"25.11.2026\"\n", "table.toml:3: [table].changed",
                 "year, month and day");
    complains_of("[table]\nversion = \"1.0.0\"\nchanged = \"2026-02-29\"\n", "table.toml:3: [table].changed",
                 "no date");
    complains_of("[table]\nversion = \"1.0.0\"\nchanged = \"2026-11-25\"\ndate = \"x\"\n", "table.toml:4: [table].date",
                 "not a key");
}

TEST(Edition, OfTheBuiltInTableIsThere) {
    const Table table = load_table();
    EXPECT_THAT(table.edition.version, MatchesRegex("[0-9]+\\.[0-9]+\\.[0-9]+"));
    EXPECT_THAT(table.edition.changed, MatchesRegex("20[0-9][0-9]-[0-9][0-9]-[0-9][0-9]"));
}

}  // namespace
}  // namespace guardband::table
