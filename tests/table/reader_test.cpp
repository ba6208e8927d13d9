// Every kind of fault that a format file can have, each with the file, the line and the key that the complaint must
// name.
#include "table/reader.h"

#include <gmock/gmock.h>

#include <string>

#include "quantity/errors.h"
#include "table/document.h"
#include "table/table.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::StartsWith;
using testing::ThrowsMessage;

/// An invented format, complete and without fault; the built-in table supplies sources and scanning standards.
const std::string sound_file = R"([format]
id = "lamp"
name = "Lamp cassette"
standard = { text = "none, invented", source = "memory", standing = "from memory" }
introduced = { printed = "1981", source = "memory", standing = "from memory" }
signal = { text = "analogue", source = "memory", standing = "from memory" }
recording = { text = "helical", source = "memory", standing = "from memory" }
head_motion = { text = "with the tape", source = "memory", standing = "from memory" }
[tape]
width = { printed = "12.65", unit = "mm", tolerance = "0.01", source = "memory", standing = "from memory" }
thickness = { printed = "20", unit = "µm", source = "memory", standing = "from memory" }
coating = { unknown = "invented" }
[[shell]]
id = "lamp"
name = "lamp shell"
width = { unknown = "invented" }
depth = { unknown = "invented" }
height = { unknown = "invented" }
[drum]
diameter = { printed = "62", unit = "mm", source = "memory", standing = "from memory" }
heads = { printed = "2", source = "memory", standing = "from memory" }
wrap = { printed = "180", unit = "deg", source = "memory", standing = "from memory" }
azimuth = { printed = "6", unit = "deg", source = "memory", standing = "from memory" }
[[system]]
id = "625/50"
drum_speed = { printed = "25", unit = "rev/s", source = "memory", standing = "from memory" }
track_angle_still = { unknown = "invented" }
track_angle_moving = { unknown = "invented" }
luma_carrier_sync = { unknown = "invented" }
luma_carrier_white = { unknown = "invented" }
colour_process = { unknown = "invented" }
colour_under_carrier = { exact = "(40 + 1/8) * line_rate", unit = "Hz", source = "computed", standing = "computed" }
linear_sound_track_width = { unknown = "invented" }
control_track_rate = { exact = "field_rate / 2", unit = "Hz", source = "memory", standing = "from memory" }
head_switch_before_sync = { unknown = "invented" }
luma_bandwidth = { unknown = "invented" }
luma_snr = { unknown = "invented" }
sound_bandwidth = { unknown = "invented" }
[[mode]]
system = "625/50"
id = "SP"
tape_speed = { printed = "20.0", unit = "mm/s", tolerance = "0.5 %", source = "memory", standing = "from memory" }
track_pitch = { printed = "49", unit = "µm", source = "memory", standing = "from memory" }
writing_speed = { unknown = "invented" }
[[grade]]
id = "LC-60"
shell = "lamp"
label_system = "625/50"
length = { printed = "72-74", unit = "m", source = "memory", standing = "from memory" }
thickness = { printed = "20", unit = "µm", source = "memory", standing = "from memory" }
playing_time = [ { mode = "625/50:SP", printed = "60", unit = "min", source = "memory", standing = "from memory" } ]
)";

/// The sound file with one piece of text replaced.
std::string with(const std::string& from, const std::string& to) {
    std::string text = sound_file;
    const std::size_t at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
}

Table table_with(const std::string& text) {
    Table table = load_table();
    read_documents({parse_document("lamp.toml", text)}, table);
    return table;
}

TEST(Reader, ReadsASoundFile) {
    const Table table = table_with(sound_file);
    const auto [format, mode] = table.at("lamp:PAL:sp", "test");
    EXPECT_EQ(address_of(*format, *mode), "lamp:625/50:SP");
    const Fact* speed = format->fact_in(*mode, "tape_speed");
    EXPECT_DOUBLE_EQ(speed->in("mm/s"), 20);
    EXPECT_DOUBLE_EQ(speed->lowest_in("mm/s"), 19.9);
    EXPECT_DOUBLE_EQ(speed->highest_in("mm/s"), 20.1);
    EXPECT_EQ(*format->fact_in(*mode, "colour_under_carrier")->exact, quantity::Rational(5015625, 8));
    EXPECT_EQ(*format->fact_in(*mode, "control_track_rate")->exact, quantity::Rational(25));
    const Fact* length = format->find_grade("lc-60")->facts.known("length");
    EXPECT_DOUBLE_EQ(length->in("m"), 73);
    EXPECT_DOUBLE_EQ(length->lowest_in("m"), 72);
    EXPECT_EQ(format->tape.known("coating"), nullptr) << "an unknown is no value";
}

TEST(Reader, KeepsWhatAFigureCameFromAndWhyItDisagrees) {
    std::string text = with("standing = \"computed\"", "standing = \"computed\", from = [\"line_rate\"]");
    text.replace(text.find("printed = \"49\""), 0, "disagrees = \"rounded up\", ");
    const Table table = table_with(text);
    const auto [format, mode] = table.at("lamp:PAL:SP", "test");
    EXPECT_THAT(format->fact_in(*mode, "colour_under_carrier")->from, testing::ElementsAre("line_rate"));
    EXPECT_EQ(format->fact_in(*mode, "track_pitch")->disagrees, "rounded up");
}

struct Fault {
    const char* name;
    std::string text;
    std::vector<std::string> said;
};

std::ostream& operator<<(std::ostream& out, const Fault& fault) { return out << fault.name; }

class ReaderFaults : public testing::TestWithParam<Fault> {};

TEST_P(ReaderFaults, NamesFileLineAndKey) {
    try {
        table_with(GetParam().text);
        FAIL() << "accepted";
    } catch (const InputError& e) {
        EXPECT_THAT(e.what(), StartsWith("lamp.toml"));
        for (const std::string& part : GetParam().said) EXPECT_THAT(e.what(), HasSubstr(part));
        EXPECT_EQ(std::string(e.what()).find('\n'), std::string::npos) << "one line";
    }
}

const Fault faults[] = {
    {"NotToml", with("[tape]", "[tape"), {"lamp.toml:9", "not valid TOML"}},
    {"KeyTwice", with("[tape]", "[format]"), {"lamp.toml:", "not valid TOML"}},
    {"UnknownKey",
     with("thickness = { printed = \"20\"", "thicknes = { printed = \"20\""),
     {":11: [tape].thicknes", "did you mean \"thickness\"?"}},
    {"UnknownKeyInFact", with("tolerance = \"0.01\"", "tolerence = \"0.01\""), {":10:", "tolerence", "did you mean"}},
    {"UnknownSection", with("[drum]", "[drums]"), {"drums", "not a key"}},
    {"UnitMissing",
     with("printed = \"62\", unit = \"mm\"", "printed = \"62\""),
     {":20: [drum] diameter", "has no unit", "add unit = \"mm\""}},
    {"UnitOfAnotherKind",
     with("printed = \"62\", unit = \"mm\"", "printed = \"62\", unit = \"Hz\""),
     {":20: [drum] diameter", "Hz", "mm"}},
    {"UnitUnknown", with("printed = \"62\", unit = \"mm\"", "printed = \"62\", unit = \"cubits\""), {"cubits", "mm"}},
    {"UnitOnACount",
     with("heads = { printed = \"2\"", "heads = { printed = \"2\", unit = \"mm\""),
     {"heads", "leave the unit out"}},
    {"CountNotWhole", with("heads = { printed = \"2\"", "heads = { printed = \"2.5\""), {"heads", "whole number"}},
    {"SourceUnknown",
     with("unit = \"rev/s\", source = \"memory\"", "unit = \"rev/s\", source = \"memry\""),
     {":26: [[system]] drum_speed", "memry", "did you mean \"memory\"?"}},
    {"SourceMissing", with("unit = \"rev/s\", source = \"memory\",", "unit = \"rev/s\","), {":26:", "has no source"}},
    {"StandingUnknown",
     with("unit = \"rev/s\", source = \"memory\", standing = \"from memory\"",
          "unit = \"rev/s\", source = \"memory\", standing = \"sure\""),
     {"drum_speed", "sure", "common practice"}},
    {"Impossible",
     with("printed = \"20.0\"", "printed = \"-20.0\""),
     {":42: [[mode]] tape_speed", "impossible", "between"}},
    {"ImpossibleByUnit",
     with("printed = \"62\", unit = \"mm\"", "printed = \"62\", unit = \"m\""),
     {"[drum] diameter", "62000 mm is impossible"}},
    {"NotANumber", with("printed = \"20.0\"", "printed = \"fast\""), {"tape_speed", "\"fast\" is not a number"}},
    {"TextForANumber",
     with("printed = \"20.0\", unit = \"mm/s\", tolerance = \"0.5 %\"", "text = \"slow\""),
     {"tape_speed", "is a number"}},
    {"NumberForAText",
     with("signal = { text = \"analogue\"", "signal = { printed = \"1\""),
     {"[format] signal", "is a text"}},
    {"TwoValues", with("printed = \"20.0\"", "printed = \"20.0\", exact = \"20\""), {"tape_speed", "just one of"}},
    {"BareValue",
     with("wrap = { printed = \"180\", unit = \"deg\", source = \"memory\", standing = \"from memory\" }",
          "wrap = 180"),
     {":22: [drum] wrap", "is not a table"}},
    {"UnknownWithMore",
     with("coating = { unknown = \"invented\" }", "coating = { unknown = \"invented\", source = \"memory\" }"),
     {"coating", "source"}},
    {"EmptyText", with("unknown = \"invented\" }\n[[shell]]", "unknown = \"\" }\n[[shell]]"), {"coating", "is empty"}},
    {"RequiredKeyMissing", with("azimuth = {", "hifi_azimuth = {"), {"azimuth"}},
    {"RequiredFactMissing",
     with("thickness = { printed = \"20\", unit = \"µm\", source = \"memory\", standing = \"from memory\" }\ncoating",
          "coating"),
     {"[tape]", "thickness is missing", "unknown ="}},
    {"IdMissing",
     with("id = \"lamp\"\nname = \"Lamp cassette\"", "name = \"Lamp cassette\""),
     {"lamp.toml:1: [format]", "has no id"}},
    {"NoFormat", with("[format]", "[formats]"), {"has no [format]"}},
    {"ScanningUnknown",
     with("[[system]]\nid = \"625/50\"", "[[system]]\nid = \"624/50\""),
     {"no scanning standard \"624/50\""}},
    {"ModeWithoutSystem",
     with("[[mode]]\nsystem = \"625/50\"", "[[mode]]\nsystem = \"525/60\""),
     {"525/60", "has no [[system]]"}},
    {"ModeTwice",
     with("[[grade]]",
          "[[mode]]\nsystem = \"625/50\"\nid = \"SP\"\ntape_speed = { unknown = \"x\" }\ntrack_pitch = { unknown = "
          "\"x\" }\nwriting_speed = { unknown = \"x\" }\n[[grade]]"),
     {"stands twice"}},
    {"ShellUnknown", with("shell = \"lamp\"", "shell = \"lantern\""), {":45: [[grade]] LC-60", "lantern"}},
    {"PlayingTimeOfNoMode",
     with("mode = \"625/50:SP\"", "mode = \"625/50:XP\""),
     {":45: [[grade]] LC-60", "625/50:XP"}},
    {"ExpressionBroken",
     with("(40 + 1/8) * line_rate", "(40 + 1/8 * line_rate"),
     {"colour_under_carrier", "parenthesis"}},
    {"ExpressionNameUnknown", with("(40 + 1/8) * line_rate", "40 * lime_rate"), {"colour_under_carrier", "lime_rate"}},
    {"FromNoKey",
     with("source = \"computed\", standing = \"computed\"",
          "source = \"computed\", standing = \"computed\", from = [\"line_rat\"]"),
     {":32: [[system]] colour_under_carrier.from", "line_rat", "did you mean \"line_rate\"?"}},
    {"FromWithoutComputing",
     with("heads = { printed = \"2\"", "heads = { from = [\"wrap\"], printed = \"2\""),
     {":21: [drum] heads.from", "not computed"}},
    {"FromNoList",
     with("standing = \"computed\"", "standing = \"computed\", from = \"line_rate\""),
     {":32:", "from", "is not a list"}},
    {"DisagreesEmpty",
     with("printed = \"49\"", "disagrees = \"\", printed = \"49\""),
     {":43: [[mode]] track_pitch.disagrees", "is empty"}},
    {"ValueOutsideItsRange",
     with("tolerance = \"0.5 %\"", "low = \"21\""),
     {"tape_speed", "outside its own low and high"}},
    {"ToleranceNegative", with("tolerance = \"0.5 %\"", "tolerance = \"-1\""), {"tape_speed", "tolerance is negative"}},
    {"ColonInModeId", with("id = \"SP\"", "id = \"S:P\""), {"colon"}},
    {"AliasTaken",
     with("name = \"Lamp cassette\"", "name = \"Lamp cassette\"\naliases = [\"vhs\"]"),
     {"vhs", "is taken by"}},
    {"PlaysNobody", with("name = \"Lamp cassette\"", "name = \"Lamp cassette\"\nplays = [\"candle\"]"), {"candle"}},
    {"BaseUnknown",
     with("name = \"Lamp cassette\"", "name = \"Lamp cassette\"\nbased_on = \"candle\""),
     {"based_on", "candle"}},
    {"BasedOnItself", with("name = \"Lamp cassette\"", "name = \"Lamp cassette\"\nbased_on = \"lamp\""), {"circle"}},
};

INSTANTIATE_TEST_SUITE_P(All, ReaderFaults, testing::ValuesIn(faults),
                         [](const auto& test) { return std::string(test.param.name); });

TEST(Reader, TakesFromTheBaseWhatAFileDoesNotGive) {
    const std::string hi_band = R"([format]
id = "lamp-hi"
name = "Lamp cassette, high band"
based_on = "lamp"
grades_of = ["lamp"]
[[mode]]
system = "625/50"
id = "SP"
luma_bandwidth = { printed = "5", unit = "MHz", source = "memory", standing = "from memory" }
)";
    Table table = load_table();
    read_documents({parse_document("lamp-hi.toml", hi_band), parse_document("lamp.toml", sound_file)}, table);
    const auto [format, mode] = table.at("lamp-hi:625/50:SP", "test");
    EXPECT_DOUBLE_EQ(format->fact_in(*mode, "luma_bandwidth")->in("MHz"), 5) << "its own";
    EXPECT_DOUBLE_EQ(format->fact_in(*mode, "tape_speed")->in("mm/s"), 20) << "the base's";
    EXPECT_EQ(format->fact_in(*mode, "tape_speed")->inherited_from, "lamp");
    ASSERT_EQ(table.grades_in(*format).size(), 1U);
    EXPECT_EQ(table.grades_in(*format)[0].owner->id, "lamp");
    EXPECT_TRUE(table.is_or_is_based_on(*format, *table.find_format("lamp")));
    EXPECT_FALSE(table.is_or_is_based_on(*table.find_format("lamp"), *format));
}

TEST(Reader, LetsALaterFileReplaceAnEarlierOneOfTheSameId) {
    Table table = table_with(sound_file);
    read_documents({parse_document("other.toml", with("printed = \"20.0\"", "printed = \"21.0\""))}, table);
    const auto [format, mode] = table.at("lamp:625/50:SP", "test");
    EXPECT_DOUBLE_EQ(format->fact_in(*mode, "tape_speed")->in("mm/s"), 21);
    EXPECT_EQ(std::ranges::count(table.formats, "lamp", &TapeFormat::id), 1);
}

TEST(Reader, RefusesTwoFilesOfOneFolderWithTheSameId) {
    Table table = load_table();
    const std::vector<Document> documents{parse_document("a.toml", sound_file), parse_document("b.toml", sound_file)};
    EXPECT_THAT([&] { read_documents(documents, table); },
                ThrowsMessage<InputError>(AllOf(HasSubstr("b.toml:1"), HasSubstr("taken by a.toml"))));
}

std::string caution(const std::string& source) {
    return "[[caution]]\nid = \"mould\"\ntitle = \"Mould\"\ntext = \"Invented.\"\nsource = \"" + source +
           "\"\nstanding = \"common practice\"\n";
}

TEST(Reader, ReadsCautionsAndReplacesThoseOfTheSameId) {
    Table table = load_table();
    const std::size_t before = table.cautions.size();
    read_documents({parse_document("cautions.toml", caution("practice"))}, table);
    EXPECT_EQ(table.cautions.size(), before);
    const auto mould = std::ranges::find(table.cautions, "mould", &Caution::id);
    ASSERT_NE(mould, table.cautions.end());
    EXPECT_EQ(mould->text, "Invented.");
}

TEST(Reader, RefusesACautionWithoutAKnownSource) {
    Table table = load_table();
    EXPECT_THAT([&] { read_documents({parse_document("cautions.toml", caution("hearsay"))}, table); },
                ThrowsMessage<InputError>(AllOf(HasSubstr("cautions.toml:5"), HasSubstr("hearsay"))));
}

std::string codec(const std::string& rest) {
    return "[[codec]]\nid = \"lamp\"\nname = \"lamp codec\"\n" + rest +
           "\nbit_depth = { printed = \"8\", source = \"memory\", standing = \"from memory\" }\n";
}

TEST(Reader, ReadsCodecs) {
    Table table = load_table();
    const std::size_t before = table.codecs.size();
    read_documents({parse_document("codecs.toml", codec("coding = \"lossless\"") + R"(
[[codec.picture]]
id = "fog"
snr = { printed = "40", unit = "dB", source = "memory", standing = "from memory" }
bits_per_pixel = { printed = "9.5", source = "memory", standing = "from memory" }
)")},
                   table);
    ASSERT_EQ(table.codecs.size(), before + 1);
    const Codec& lamp = table.codec("Lamp", "test");
    EXPECT_EQ(lamp.coding, Coding::Lossless);
    EXPECT_EQ(lamp.pictures.at(0).facts.known("bits_per_pixel")->in(""), 9.5);
}

TEST(Reader, RefusesCodecsThatDoNotSayWhatTheyTake) {
    const std::pair<const char*, const char*> unfit[] = {
        {"coding = \"lossless\"", "[[codec.picture]]"},
        {"coding = \"constant rate\"", "[[codec.system]]"},
        {"coding = \"uncompressed\"", "group_bytes"},
        {"coding = \"zipped\"", "uncompressed, constant rate, lossless, lossy"},
        {"coding = \"lossless\"\ngroup_byte = { printed = \"4\" }", "did you mean \"group_bytes\"?"}};
    for (const auto& [text, said] : unfit) {
        Table table = load_table();
        EXPECT_THAT([&] { read_documents({parse_document("codecs.toml", codec(text))}, table); },
                    ThrowsMessage<InputError>(AllOf(HasSubstr("codecs.toml:"), HasSubstr(said))))
            << text;
    }
}

TEST(Reader, RefusesACodecOfAnUnknownSystemAndAContainerWithoutItsFigure) {
    Table table = load_table();
    EXPECT_THAT(
        [&] {
            read_documents({parse_document("codecs.toml", codec("coding = \"constant rate\"") +
                                                              "[[codec.system]]\nid = \"626/50\"\n")},
                           table);
        },
        ThrowsMessage<InputError>(HasSubstr("626/50")));
    EXPECT_THAT(
        [&] {
            read_documents({parse_document("codecs.toml", "[[container]]\nid = \"box\"\nname = \"box\"\n")}, table);
        },
        ThrowsMessage<InputError>(HasSubstr("frame_overhead")));
}

}  // namespace
}  // namespace guardband::table
