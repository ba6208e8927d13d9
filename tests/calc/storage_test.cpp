#include "calc/storage.h"

#include <gmock/gmock.h>

#include <algorithm>

#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using testing::HasSubstr;
using testing::ThrowsMessage;

using support::built_in;

StorageQuery of(const char* codec, const char* system) {
    StorageQuery query;
    query.codec = &built_in().codec(codec, "test"), query.system = &built_in().scanning(system, "test");
    return query;
}

StorageRate rate_of(const char* codec, const char* system, const char* raster) {
    StorageQuery query = of(codec, system);
    query.raster = raster;
    return storage_rates(built_in(), query).front();
}

TEST(Storage, FillsLinesUpToTheirMultiple) {
    const table::Codec& v210 = built_in().codec("v210", "test");
    EXPECT_EQ(uncompressed_frame_bytes(v210, 720, 1), 1920);
    EXPECT_EQ(uncompressed_frame_bytes(v210, 1920, 1), 5120);
    EXPECT_EQ(uncompressed_frame_bytes(v210, 1280, 1), 3456) << "214 groups are 3424 bytes, filled up to 27 times 128";
    EXPECT_THROW(uncompressed_frame_bytes(built_in().codec("dv25", "test"), 720, 576), quantity::DomainError);
}

TEST(Storage, IsExactForWholeStretchesOfFrames) {
    const Bounded time{1001, 1001, 1001};  // 30000 frames of 525/60
    StorageRate rate = rate_of("v210", "525/60", "720x486");
    rate.sound_bytes_per_s = 0;
    EXPECT_EQ(stored_bytes(rate, time).value, 30000.0 * 933120);
    EXPECT_EQ(stored_bytes(rate, time).low, stored_bytes(rate, time).high);
}

TEST(Storage, GrowsWithTimeAndNoiseAndTakesItsRangeAtTheWorst) {
    for (const StorageRate& rate : storage_rates(built_in(), {})) {
        const Bounded hour = stored_bytes(rate, {3600, 3600, 3600}), two = stored_bytes(rate, {7200, 7100, 7300});
        EXPECT_NEAR(two.value, 2 * hour.value, 1e-12 * two.value);
        EXPECT_LT(two.low, two.value);
        EXPECT_GT(two.high, two.value);
        EXPECT_EQ(rate.is_range(), rate.codec->coding == table::Coding::Lossless);
        EXPECT_LE(hour.low, hour.value);
        EXPECT_LE(hour.value, hour.high);
    }
}

// A lossless coder of n bits a sample never beats nothing and, but for a stray header, never exceeds the 2 n bits of
// 4:2:2 by much; of one codec, more noise costs more.
TEST(Storage, HoldsMeasurementsThatCanBe) {
    int lossless = 0;
    for (const table::Codec& codec : built_in().codecs) {
        if (codec.coding != table::Coding::Lossless) continue;
        ++lossless;
        const double plain = 2 * codec.facts.known("bit_depth")->in("");
        double last = 0;
        for (const table::CodecPicture& picture : codec.pictures) {
            const double bits = picture.facts.known("bits_per_pixel")->in("");
            EXPECT_LT(bits, plain) << codec.id << " " << picture.id;
            EXPECT_GT(bits, last) << codec.id << " " << picture.id;
            last = bits;
        }
        EXPECT_GE(codec.pictures.size(), 4U) << "several noise levels";
    }
    EXPECT_GE(lossless, 3);
}

TEST(Storage, AddsSoundOnlyWhereThereIsNone) {
    EXPECT_EQ(rate_of("v210", "PAL", "").sound_bytes_per_s, 288000);
    EXPECT_EQ(rate_of("dv25", "PAL", "").sound_bytes_per_s, 0);
    StorageQuery asked = of("dv25", "PAL");
    asked.sound = StoredSound{48000, 16, 4};
    asked.adds_sound_anyway = true;
    EXPECT_EQ(storage_rates(built_in(), asked).front().sound_bytes_per_s, 384000);
    StorageQuery none = of("v210", "PAL");
    none.sound.reset();
    EXPECT_EQ(storage_rates(built_in(), none).front().sound_bytes_per_s, 0);
}

TEST(Storage, OfATapeFollowsItsModes) {
    RunningTimeQuery query;
    query.format = &built_in().format("vhs", "test");
    query.grade = "E-180";
    const auto stretches = stored_tapes(built_in(), running_times(built_in(), query), {});
    EXPECT_EQ(stretches.size(), query.format->modes.size());
    for (const StoredStretch& stretch : stretches)
        for (const StorageRate& rate : stretch.rates) EXPECT_EQ(rate.system->id, stretch.tape->mode->system);
}

TEST(Storage, RefusesWhatHasNoRaster) {
    StorageQuery query;
    query.system = &built_in().scanning("405/50", "test");
    EXPECT_THAT([&] { storage_rates(built_in(), query); }, ThrowsMessage<InputError>(HasSubstr("405/50")));
    StorageQuery raster;
    raster.raster = "640x480";
    EXPECT_THAT([&] { storage_rates(built_in(), raster); }, ThrowsMessage<InputError>(HasSubstr("720x576")));
    EXPECT_THAT([&] { built_in().codec("v21", "--codec v21"); }, ThrowsMessage<InputError>(HasSubstr("v210")));
}

TEST(Storage, ALossyCodecHasNoRateOfItsOwn) {
    StorageQuery query;
    query.codec = &built_in().codec("mpeg2", "test");
    EXPECT_THAT([&] { storage_rates(built_in(), query); },
                testing::ThrowsMessage<quantity::InputError>(testing::HasSubstr("--codec mpeg2")));
    for (const StorageRate& rate : storage_rates(built_in(), {})) EXPECT_NE(rate.codec->coding, table::Coding::Lossy);
}

TEST(Storage, WorkingNamesWhatWasMeasured) {
    const Working working = storage_working(rate_of("ffv1-10", "PAL", ""));
    EXPECT_GE(working.front().givens.size(), 6U);
    EXPECT_THAT(working.back().result, HasSubstr("bytes"));
}

TEST(Storage, OfContainersIsAShareOfLittle) {
    const double share = largest_container_share(built_in(), storage_rates(built_in(), {}));
    EXPECT_GT(share, 0);
    EXPECT_LT(share, 0.01);
}

}  // namespace
}  // namespace guardband::calc
