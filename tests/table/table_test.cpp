// The built-in table as a whole.
#include "table/table.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <iostream>
#include <map>
#include <set>

#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "table/schema.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using quantity::Rational;
using testing::HasSubstr;
using testing::ThrowsMessage;

using support::built_in;

/// Calls `see` with every fact of the table that is the one preferred.
template <typename See>
void for_each_main_fact(const Table& table, See see) {
    const auto walk = [&](const Facts& facts) {
        for (const Fact& fact : facts.all()) see(fact);
    };
    for (const auto* list : {&table.scannings})
        for (const auto& entry : *list) walk(entry.facts);
    for (const auto& entry : table.rasters) walk(entry.facts);
    for (const auto& entry : table.colours) walk(entry.facts);
    for (const auto& entry : table.transmissions) walk(entry.facts);
    for (const auto& entry : table.screens) walk(entry.facts);
    for (const Codec& codec : table.codecs) {
        walk(codec.facts);
        for (const auto& entry : codec.systems) walk(entry.facts);
        for (const auto& entry : codec.pictures) walk(entry.facts);
    }
    for (const auto& entry : table.containers) walk(entry.facts);
    for (const TapeFormat& format : table.formats) {
        walk(format.facts), walk(format.tape), walk(format.drum);
        for (const auto& entry : format.shells) walk(entry.facts);
        for (const auto& entry : format.systems) walk(entry.facts);
        for (const auto& entry : format.modes) walk(entry.facts);
        for (const auto& entry : format.grades) {
            walk(entry.facts);
            for (const PlayingTime& time : entry.playing_times) see(time.time);
        }
    }
}

/// Calls `see` with every fact of the table, those of other sources included.
template <typename See>
void for_each_fact(const Table& table, See see) {
    for_each_main_fact(table, [&](const Fact& fact) {
        see(fact);
        for (const Fact& other : fact.also) see(other);
    });
}

/// How many values stand how, and how many are not known.
struct Census {
    std::map<Standing, int> by_standing;
    int unknown = 0;

    void count(const Fact& fact) {
        if (fact.is_known())
            ++by_standing[fact.standing];
        else
            ++unknown;
    }
    int known() const {
        int sum = 0;
        for (const auto& [standing, count] : by_standing) sum += count;
        return sum;
    }
    void print(const std::string& what) const {
        std::cout << "  " << what << ": " << known() << " values, " << unknown << " unknown\n";
        for (const auto& [standing, count] : by_standing)
            std::cout << "    " << to_string(standing) << ": " << count << " ("
                      << (200 * count + known()) / (2 * known()) << " %)\n";
    }
};

TEST(BuiltInTable, HoldsTheFormatsThatAnArchiveMeetsFirst) {
    for (const char* name : {"vhs", "s-vhs", "vhs-c", "beta", "u-format", "8mm", "video-2000", "vcr", "Betamax",
                             "u-matic", "Video8", "Hi8"})
        EXPECT_NE(built_in().find_format(name), nullptr) << name;
    for (const char* address :
         {"vhs:525/60:SP", "vhs:525/60:LP", "vhs:525/60:EP", "vhs:625/50:SP", "vhs:625/50:LP", "vhs:625/50:EP",
          "beta:525/60:I", "beta:525/60:II", "beta:525/60:III", "beta:625/50:standard", "u-format:525/60:LB",
          "u-format:625/50:HB", "8mm:625/50:LP", "video-2000:625/50:XP", "vcr:625/50:SVR"})
        EXPECT_NO_THROW(built_in().at(address, "test")) << address;
}

TEST(BuiltInTable, HasASourceBehindEveryValue) {
    for_each_fact(built_in(), [&](const Fact& fact) {
        EXPECT_TRUE(!fact.is_known() || built_in().find_source(fact.source) != nullptr)
            << fact.key << " " << fact.printed;
    });
}

// A figure that a format takes from the one it is based on is counted once, where it is written; so are the figures
// that other sources give beside it.
TEST(BuiltInTable, PrintsHowItsValuesStand) {
    Census written, beside;
    for_each_main_fact(built_in(), [&](const Fact& fact) {
        if (!fact.inherited_from.empty()) return;
        written.count(fact);
        for (const Fact& other : fact.also) beside.count(other);
    });
    written.print("preferred");
    beside.print("beside them, from other sources");
    EXPECT_GT(written.known(), 2000);
    EXPECT_EQ(beside.unknown, 0) << "a source that gives no figure needs no mention";
}

TEST(BuiltInTable, SaysOfComputedFiguresWhatTheyCameFrom) {
    for (const TapeFormat& format : built_in().formats)
        for (const Mode& mode : format.modes)
            for (const char* key :
                 {"tape_speed", "track_pitch", "guard_band", "writing_speed", "track_angle_moving", "track_angle_still",
                  "drum_speed", "diameter", "tracks_per_field", "tracks_per_second"}) {
                const Fact* fact = format.fact_in(mode, key);
                EXPECT_TRUE(fact == nullptr || fact->standing != Standing::Computed || !fact->from.empty())
                    << address_of(format, mode) << " " << key;
            }
    for (const TapeFormat& format : built_in().formats)
        for (const Grade& grade : format.grades)
            for (const Fact& fact : grade.facts.all())
                EXPECT_TRUE(fact.standing != Standing::Computed || !fact.is_known() || !fact.from.empty())
                    << format.id << " " << grade.id << " " << fact.key;
}

TEST(BuiltInTable, CallsMemoryMemoryAndPracticePractice) {
    for_each_fact(built_in(), [](const Fact& fact) {
        if (!fact.is_known()) return;
        EXPECT_EQ(fact.source == "memory", fact.standing == Standing::FromMemory) << fact.key << " " << fact.printed;
        EXPECT_EQ(fact.source == "practice", fact.standing == Standing::CommonPractice)
            << fact.key << " " << fact.printed;
        EXPECT_EQ(fact.source == "computed" || fact.source == "own-measurement", fact.standing == Standing::Computed)
            << fact.key << " " << fact.printed;
    });
}

TEST(BuiltInTable, CitesEverySourceThatItLists) {
    std::set<std::string> cited;
    for_each_fact(built_in(), [&](const Fact& fact) { cited.insert(fact.source); });
    for (const LimitRule& limit : built_in().limits) cited.insert(limit.source);
    for (const Caution& caution : built_in().cautions) cited.insert(caution.source);
    for (const Source& source : built_in().sources)
        EXPECT_TRUE(cited.contains(source.id)) << source.id << " is listed and never cited";
}

// In the table's own files the exact relations of the two standards, ITU-R BT.470 and SMPTE 170M, must come out (exact
// arithmetic).
TEST(BuiltInTable, KeepsRatesExact) {
    const Scanning& s525 = built_in().scanning("NTSC", "test");
    EXPECT_EQ(s525.field_rate(), Rational(60000, 1001));
    EXPECT_EQ(s525.line_rate(), Rational(4500000, 286));
    const Scanning& s625 = built_in().scanning("PAL", "test");
    EXPECT_EQ(s625.field_rate(), Rational(50));
    EXPECT_EQ(s625.line_rate(), Rational(15625));
    EXPECT_EQ(s525.line_rate() * Rational(858), s625.line_rate() * Rational(864)) << "13.5 MHz, ITU-R BT.601";
}

TEST(BuiltInTable, KnowsTheSystemsByEverydayWords) {
    EXPECT_EQ(built_in().scanning("ntsc", "test").id, "525/60");
    EXPECT_EQ(built_in().scanning("SECAM", "test").id, "625/50");
    EXPECT_EQ(built_in().scanning("PAL-M", "test").id, "525/60") << "a colour system stands for its scanning standard";
    EXPECT_THAT([] { built_in().scanning("PLA", "--system PLA"); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"PAL\"?")));
}

TEST(BuiltInTable, SuggestsTheNearestName) {
    EXPECT_THAT([] { built_in().format("vsh", "--format vsh"); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"vhs\"?")));
    EXPECT_THAT([] { built_in().format("Betmax", "x"); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"Betamax\"?")));
    EXPECT_THAT([] { built_in().format("zzzzzz", "x"); }, ThrowsMessage<InputError>(HasSubstr("guardband formats")));
    EXPECT_THAT([] { built_in().at("vhs:PAL", "x"); }, ThrowsMessage<InputError>(HasSubstr("FORMAT:SYSTEM:MODE")));
    EXPECT_THAT([] { built_in().at("vhs:PAL:XP", "x"); }, ThrowsMessage<InputError>(HasSubstr("vhs:625/50:LP")));
}

TEST(Schema, AsksEachKeyOnceInASection) {
    std::set<std::pair<SectionKind, std::string_view>> seen;
    for (const KeyRule& rule : key_rules()) EXPECT_TRUE(seen.emplace(rule.section, rule.key).second) << rule.key;
    for (const KeyRule& rule : key_rules()) {
        EXPECT_NE(quantity::find_unit(rule.unit), nullptr) << rule.key;
        EXPECT_LE(rule.low, rule.high) << rule.key;
    }
}

}  // namespace
}  // namespace guardband::table
