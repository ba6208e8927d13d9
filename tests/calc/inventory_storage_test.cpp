#include "calc/inventory_storage.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

using support::built_in;

StorageQuery v210_alone() {
    StorageQuery query;
    query.codec = &built_in().codec("v210", "test");
    query.sound = std::nullopt;
    return query;
}

InventoryLine an_hour(const std::string& address, std::int64_t count) {
    return {address, "", Bounded{3600, 3540, 3660}, count, "shelf.csv:2"};
}

// v210 packs six pixels into sixteen bytes in groups of 48: 720 pixels take 1920 bytes a line, 576 lines 25 times a
// second (SMPTE 268's filled 10 bits are the same density; the packing from memory, as in codecs.toml).
TEST(InventoryStorage, SumsTapesOfBothSystemsExactly) {
    const auto inventory =
        inventory_storage(built_in(), {an_hour("vhs:625/50:SP", 3), an_hour("vhs:525/60:SP", 2)}, v210_alone());
    EXPECT_EQ(inventory.tapes, 5);
    EXPECT_DOUBLE_EQ(inventory.seconds.value, 5 * 3600.0);
    ASSERT_EQ(inventory.totals.size(), 1U);
    const double bytes_625 = 1920.0 * 576 * 25, bytes_525 = 1920.0 * 486 * 30000 / 1001;
    EXPECT_NEAR(inventory.totals[0].bytes.value, 3600 * (3 * bytes_625 + 2 * bytes_525), 1e-3);
    EXPECT_NEAR(inventory.totals[0].bytes.low, 3540 * (3 * bytes_625 + 2 * bytes_525), 1e-3);
    EXPECT_NEAR(inventory.totals[0].bytes.high, 3660 * (3 * bytes_625 + 2 * bytes_525), 1e-3);
    EXPECT_EQ(inventory.rasters.size(), 2U);
}

TEST(InventoryStorage, TakesAllOfATapeWhereNoTimeIsGiven) {
    RunningTimeQuery query;
    query.format = &built_in().format("vhs", "test");
    query.grade = "E-180", query.mode = "SP", query.system = built_in().find_scanning("625/50");
    const auto rows = running_times(built_in(), query);
    ASSERT_EQ(rows.size(), 1U);
    const auto inventory =
        inventory_storage(built_in(), {{"vhs:625/50:SP", "E-180", std::nullopt, 4, "shelf.csv:2"}}, v210_alone());
    EXPECT_DOUBLE_EQ(inventory.seconds.value, 4 * rows[0].seconds.value);
    EXPECT_LT(inventory.seconds.low, inventory.seconds.value);
}

TEST(InventoryStorage, NamesTheLineThatItCannotTake) {
    const auto fails = [](const InventoryLine& line, const std::string& what) {
        EXPECT_THAT([&] { inventory_storage(built_in(), {line}, v210_alone()); },
                    ThrowsMessage<InputError>(AllOf(HasSubstr("shelf.csv:2"), HasSubstr(what))));
    };
    fails({"vhs:625/50:XP", "E-180", std::nullopt, 1, "shelf.csv:2"}, "XP");
    fails({"vhs:625/50:SP", "E-181", std::nullopt, 1, "shelf.csv:2"}, "E-180");
    fails(an_hour("w-vhs:" + built_in().format("w-vhs", "test").modes.front().system + ":" +
                      built_in().format("w-vhs", "test").modes.front().id,
                  1),
          "no raster");
}

}  // namespace
}  // namespace guardband::calc
