#include "testsignal/recipe_reader.h"

#include <gmock/gmock.h>

#include <filesystem>

#include "quantity/errors.h"
#include "testsignal/clip_maker.h"

namespace guardband::testsignal {
namespace {

const table::Table& table() {
    static const table::Table loaded = table::load_table();
    return loaded;
}

Recipe parsed(const std::string& text) { return parse_recipe("r.toml", text, table()); }

std::string complaint(const std::string& text) {
    try {
        parsed(text);
    } catch (const quantity::InputError& e) {
        return e.what();
    }
    return "none";
}

// Sources of the figures: ITU-R BT.601 for samples and codes, the scanning standards for rates; they come through the
// table.
TEST(RecipeReader, TakesTheSystemFromTheTable) {
    const Recipe european = parsed("system = '625/50'");
    EXPECT_EQ(european.raster.width, 720);
    EXPECT_EQ(european.raster.height, 576);
    EXPECT_EQ(european.raster.frame_rate, quantity::Rational(25));
    EXPECT_EQ(european.field_order, FieldOrder::TopFirst);
    const Recipe american = parsed("system = 'NTSC'");
    EXPECT_EQ(american.system, "525/60");
    EXPECT_EQ(american.raster.height, 486);
    EXPECT_EQ(american.raster.frame_rate, quantity::Rational(30000, 1001));
    EXPECT_EQ(american.field_order, FieldOrder::BottomFirst);
    EXPECT_DOUBLE_EQ(american.levels.black_code, 16);
    EXPECT_DOUBLE_EQ(american.levels.white_code, 235);
    EXPECT_DOUBLE_EQ(american.raster.luma_sampling_hz, 13.5e6);
    EXPECT_EQ(parsed("system = '525/60'\nraster = '720x480'").raster.height, 480);
}

TEST(RecipeReader, GivesDvItsOwnPictures) {
    const Recipe european = parsed("system = '625/50'\ncodec = 'dv'"),
                 american = parsed("system = '525/60'\ncodec = 'dv'");
    EXPECT_EQ(european.chroma, ChromaSampling::C420);
    EXPECT_EQ(american.chroma, ChromaSampling::C411);
    EXPECT_EQ(american.raster.height, 480);
    EXPECT_EQ(european.bit_depth, 8);
    EXPECT_EQ(european.field_order, FieldOrder::BottomFirst);
    EXPECT_EQ(european.container, "dv");
}

// 7.5 IRE of set-up on 219 codes above 16. Source: ITU-R BT.470-6 table 1 for the set-up, from memory, through the
// table.
TEST(RecipeReader, LeavesSetUpIn) {
    EXPECT_NEAR(parsed("system = '525/60'\n[levels]\nsetup_of = 'NTSC'").levels.black_code, 32.425, 1e-9);
    EXPECT_NEAR(parsed("system = '525/60'\n[levels]\nsetup_of = 'NTSC-J'").levels.black_code, 16, 1e-9);
}

TEST(RecipeReader, TakesExactRates) {
    EXPECT_DOUBLE_EQ(parsed("system = '625/50'\n[screen]\nrate_hz = '60000/1001'").screen->rate_hz, 60000 / 1001.0);
    EXPECT_DOUBLE_EQ(parsed("system = '625/50'\n[lamp]\nrate_hz = 120").lamp->rate_hz, 120);
    EXPECT_EQ(parsed("raster = '64x48'\nframe_rate = '24000/1001'").raster.frame_rate, quantity::Rational(24000, 1001));
}

// 0.9442: twice sinc(60 Hz × 10 ms) over |1 + 2 pi i 60 Hz × 1 ms|.
TEST(RecipeReader, NamesFileLineKeyFaultAndRemedy) {
    const std::string start = "name = 'a'\nsystem = '625/50'\n";
    EXPECT_EQ(complaint(start), "none");
    EXPECT_EQ(complaint(start + "duration = 3"),
              "r.toml:3: duration: is not a key of a recipe; did you mean \"duration_s\"?");
    EXPECT_EQ(complaint(start + "duration_s = '3'"), "r.toml:3: duration_s: must be a number; write it without quotes");
    EXPECT_EQ(complaint(start + "[faults]\nrepeated_fields = [4, 1]"),
              "r.toml:4: faults.repeated_fields: 1 does not exist or has none before it; give 2 to 399");
    EXPECT_EQ(complaint(start + "[screen]\ndepth = 1.9"),
              "r.toml:4: screen.depth: 1.9 is more than the 0.9442 that this light and exposure give; ask for less or "
              "change the exposure");
    EXPECT_EQ(complaint("system = '626/50'"),
              "r.toml:1: system: \"626/50\" is not in the table; give 625/50 or 525/60, or raster and frame_rate");
}

TEST(RecipeReader, RefusesEachKindOfFault) {
    using testing::HasSubstr;
    const std::string start = "name = 'a'\nsystem = '625/50'\n";
    EXPECT_THAT(complaint("name = "), HasSubstr("r.toml:1"));
    EXPECT_THAT(complaint(""), HasSubstr("r.toml:1: raster: neither a system"));
    EXPECT_THAT(complaint("raster = '720'\nframe_rate = '25'"), HasSubstr("r.toml:1: raster: \"720\" is not a size"));
    EXPECT_THAT(complaint("raster = '64x48'\nframe_rate = '1/0'"), HasSubstr("r.toml:2: frame_rate"));
    EXPECT_THAT(complaint("raster = '64x48'\nframe_rate = 'fast'"),
                HasSubstr("r.toml:2: frame_rate: \"fast\" is not a ratio"));
    EXPECT_THAT(complaint("raster = '64x48'\nframe_rate = '0'"), HasSubstr("r.toml:2: frame_rate: 0 is out of range"));
    EXPECT_THAT(complaint(start + "frame_rate = '25'"), HasSubstr("r.toml:3: frame_rate: the system fixes it"));
    EXPECT_THAT(complaint(start + "scan = 'woven'"),
                HasSubstr("r.toml:3: scan: \"woven\" is not known; give one of: interlaced, progressive"));
    EXPECT_THAT(complaint(start + "seed = -1"), HasSubstr("r.toml:3: seed: -1 is negative"));
    EXPECT_THAT(complaint(start + "picture = 3"), HasSubstr("r.toml:3: picture: must be a table"));
    EXPECT_THAT(complaint(start + "container = 'dv'"),
                HasSubstr("r.toml:3: container: \"dv\" does not take this codec"));
    EXPECT_THAT(complaint(start + "codec = 'v210'\nbit_depth = 8"), HasSubstr("r.toml:3: codec: v210 holds"));
    EXPECT_THAT(complaint(start + "codec = 'dv'\ndeclared_order = 'top first'"),
                HasSubstr("r.toml:4: declared_order: DV can't"));
    EXPECT_THAT(complaint(start + "codec = 'dv'\n[stamps]\nrounding_ms = 1"),
                HasSubstr("r.toml:4: stamps: dv has no time stamps"));
    EXPECT_THAT(complaint(start + "duration_s = inf"), HasSubstr("r.toml:3: duration_s"));
    EXPECT_THAT(complaint(start + "duration_s = 1e12"), HasSubstr("r.toml:3: duration_s"));
    EXPECT_THAT(complaint(start + "[levels]\nsetup_of = 'fog'"),
                HasSubstr("r.toml:4: levels.setup_of: the table has no set-up"));
}

TEST(RecipeReader, MissingFileAndFolderAreErrors) {
    EXPECT_THROW(read_recipe("no such file", table()), quantity::InputError);
    EXPECT_THROW(read_recipe(std::filesystem::temp_directory_path().string(), table()), quantity::InputError);
}

TEST(RecipeReader, ReadsTheFileWithEveryKey) {
    const Recipe r = read_recipe(GUARDBAND_SOURCE "/tools/testsignal/every-key.toml", table());
    EXPECT_EQ(r.name, "every-key");
    EXPECT_THAT(r.pulldown, testing::ElementsAre(2, 3));
    EXPECT_TRUE(r.screen);
    EXPECT_EQ(r.player.blue, (std::array<std::int64_t, 2>{184, 2}));
    EXPECT_EQ(r.noise_band->height, 0.1);
}

TEST(RecipeReader, ReadsAConversion) {
    const Recipe r = parsed(
        "system = '625/50'\n[conversion]\nfrom_field_rate = '60000/1001'\nmethod = 'repeat'\nwhole_frames = true");
    EXPECT_EQ(r.conversion->from_field_rate, quantity::Rational(60000, 1001));
    EXPECT_EQ(r.conversion->method, ConversionMethod::Repeat);
    EXPECT_TRUE(r.conversion->whole_frames);
    EXPECT_THAT(complaint("system = '525/60'\npulldown = [2, 3]\n[conversion]\nmethod = 'blend'"),
                testing::HasSubstr("conversion"));
    EXPECT_THAT(complaint("system = '625/50'\n[player]\nblue = [3]"), testing::HasSubstr("player.blue"));
    EXPECT_THAT(complaint("system = '625/50'\n[player]\nblue = [199, 2]"), testing::HasSubstr("within the clip"));
}

TEST(RecipeReader, ReadsAllSamplesAndAllSayThatTheyAreInvented) {
    int count = 0;
    for (const auto& entry : std::filesystem::directory_iterator(GUARDBAND_SOURCE "/samples")) {
        if (entry.path().extension() != ".toml") continue;
        const Recipe r = read_recipe(entry.path().string(), table());
        EXPECT_EQ(r.name, entry.path().stem().string());
        EXPECT_THAT(r.invented, testing::HasSubstr("invented")) << r.name;
        EXPECT_GE(r.duration_s, 6) << r.name;
        EXPECT_LE(r.duration_s, 12) << r.name;
        EXPECT_NO_THROW(ClipMaker{r}) << r.name;
        ++count;
    }
    EXPECT_GE(count, 8);
}

}  // namespace
}  // namespace guardband::testsignal
