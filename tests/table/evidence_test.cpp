// `evidence.toml`: every kind that the engine weighs is described, and what can't be used is refused by file, line,
// key.
#include <gmock/gmock.h>

#include <algorithm>
#include <string>

#include "quantity/errors.h"
#include "table/reader.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

Table read(const std::string& text) {
    Table table = load_table();
    read_documents({parse_document("evidence.toml", text)}, table);
    return table;
}

std::string kind(const std::string& more, const std::string& machine = "no") {
    return "[[evidence]]\nid = \"smell\"\ntitle = \"smell\"\nmeasures = \"Vinegar.\"\nhow = \"Sniff.\"\nneeds = "
           "\"nose\"\n"
           "machine = \"" +
           machine +
           "\"\nsource = \"practice\"\nstanding = \"common practice\"\n"
           "effort = { printed = \"1\", unit = \"min\", source = \"practice\", standing = \"common practice\" }\n"
           "blunders = { printed = \"9\", unit = \"%\", source = \"practice\", standing = \"common practice\" }\n" +
           more;
}

std::string number(const std::string& key, const std::string& printed, const std::string& unit = "") {
    return key + " = { printed = \"" + printed + "\"" + (unit.empty() ? "" : ", unit = \"" + unit + "\"") +
           ", source = \"practice\", standing = \"common practice\" }\n";
}

TEST(EvidenceFile, AddsAKindAndReplacesOneOfTheSameId) {
    const std::size_t before = load_table().evidence.size();
    const Table table = read(kind(number("scatter", "2", "%") + number("lowest", "1") + number("highest", "9")));
    ASSERT_EQ(table.evidence.size(), before + 1);
    EXPECT_EQ(table.evidence.back().how, "Sniff.");
    EXPECT_FALSE(table.evidence.back().needs_machine);
    EXPECT_DOUBLE_EQ(table.evidence.back().facts.known("scatter")->in("share"), 0.02);
}

TEST(EvidenceFile, FaultsAreNamed) {
    const auto complains = [](const std::string& text, const std::string& what, const std::string& remedy) {
        EXPECT_THAT([&] { read(text); },
                    ThrowsMessage<InputError>(AllOf(HasSubstr("evidence.toml:"), HasSubstr(what), HasSubstr(remedy))))
            << text;
    };
    complains(kind("", "perhaps"), "is neither yes nor no", "write yes or no");
    complains(kind(number("scatter", "2", "%")), "go together", "all three or none");
    complains(kind(number("scatter", "2", "%") + number("lowest", "9") + number("highest", "1")), "not above lowest",
              "range");
    complains(kind("smelly = 3\n"), "smelly", "");
    complains(
        "[[region]]\nid = \"sea\"\nname = \"Sea\"\nsystems = [\"1/2\"]\ncolours = []\nsource = \"practice\"\nstanding "
        "= "
        "\"common practice\"\n",
        "no scanning standard \"1/2\"", "tv-systems.toml");
    complains("[tapes_at_large]\n" + number("from_elsewhere", "5", "%"), "other_standard_machine", "");
    complains("[tapes_at_large]\n" + number("from_elsewhere", "500", "%"), "from_elsewhere", "");
    complains("[[trust]]\nid = \"hearsay\"\n" + number("off_by", "1", "%") + number("wrong", "1", "%"),
              "\"hearsay\" is not a standing", "such as published");
    complains("[[region]]\nid = \"sea\"\nname = \"Sea\"\nsource = \"practice\"\nstanding = \"common practice\"\n",
              "is empty", "name the scanning standards");
}

TEST(Regions, NameSystemsAndColoursThatTheTableHas) {
    const Table table = load_table();
    EXPECT_FALSE(table.regions.empty());
    for (const Region& region : table.regions)
        for (const std::string& colour : region.colours)
            EXPECT_TRUE(std::ranges::any_of(table.colours, [&](const Colour& c) { return c.id.starts_with(colour); }))
                << colour;
}

}  // namespace
}  // namespace guardband::table
