// The JSON Schema of the table's files, by a validator that is not ours: every file of the table is valid, and what the
// reader refuses for its form the schema refuses too.
#include "report/table_schema.h"

#include <gmock/gmock.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "quantity/errors.h"
#include "table/document.h"
#include "table/reader.h"

namespace guardband::report {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::StartsWith;

std::string text_of(const fs::path& path) {
    std::ifstream stream(path);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

void write(const fs::path& path, const std::string& text) { std::ofstream(path) << text; }

/// A folder of this test's own.
fs::path folder() {
    static const fs::path path = [] {
        std::string name = testing::TempDir() + "/guardband_schema_XXXXXX";
        return fs::path(mkdtemp(name.data()));
    }();
    return path;
}

struct Verdict {
    int status = 0;
    std::vector<std::string> lines;  ///< one a file
};

/// What python3-jsonschema says of the files.
Verdict validated(const std::vector<fs::path>& files) {
    write(folder() / "schema.json", to_text(files_schema()));
    std::string command =
        "python3 " GUARDBAND_SOURCE "/tests/report/schema_check.py " + (folder() / "schema.json").string();
    for (const fs::path& file : files) command += " " + file.string();
    FILE* pipe = popen((command + " 2>&1").c_str(), "r");
    std::string output;
    std::array<char, 4096> part{};
    while (const std::size_t count = std::fread(part.data(), 1, part.size(), pipe)) output.append(part.data(), count);
    Verdict verdict;
    verdict.status = WEXITSTATUS(pclose(pipe));
    std::istringstream lines(output);
    for (std::string line; std::getline(lines, line);) verdict.lines.push_back(line);
    return verdict;
}

constexpr int no_validator = 77;

#define SKIP_WITHOUT_VALIDATOR(verdict)   \
    if ((verdict).status == no_validator) \
    GTEST_SKIP() << "python3-jsonschema is not installed: " << (verdict).lines.front()

TEST(FilesSchema, TakesEveryFileOfTheTable) {
    std::vector<fs::path> files{GUARDBAND_SOURCE "/tests/cli/own-formats/lamp.toml"};
    for (const fs::directory_entry& entry : fs::directory_iterator(GUARDBAND_SOURCE "/formats"))
        if (entry.path().extension() == ".toml") files.push_back(entry.path());
    ASSERT_GT(files.size(), 40U);
    const Verdict verdict = validated(files);
    SKIP_WITHOUT_VALIDATOR(verdict);
    EXPECT_EQ(verdict.status, 0);
    ASSERT_EQ(verdict.lines.size(), files.size());
    for (const std::string& line : verdict.lines) EXPECT_THAT(line, StartsWith("ok "));
}

struct Fault {
    const char* name;
    const char *from, *to;  ///< a piece of the sound file and what stands in its place
    const char* where;      ///< the path in the document at which the schema must find it
};

/// What a schema can see: form, not sense. The same faults are refused by the reader.
const Fault faults[] = {
    {"unknown-key", "wrap = {", "wrapp = {", "drum"},
    {"unknown-key-in-a-fact", "tolerance = \"0.01\"", "tolerence = \"0.01\"", "tape/width"},
    {"unknown-section", "[drum]", "[drums]", ""},
    {"unit-missing", "printed = \"62\", unit = \"mm\"", "printed = \"62\"", "drum/diameter"},
    {"unit-of-another-kind", "printed = \"62\", unit = \"mm\"", "printed = \"62\", unit = \"Hz\"",
     "drum/diameter/unit"},
    {"unit-on-a-count", "heads = { printed = \"2\"", "heads = { printed = \"2\", unit = \"mm\"", "drum/heads"},
    {"count-not-whole", "heads = { printed = \"2\"", "heads = { printed = \"2.5\"", "drum/heads/printed"},
    {"source-missing", "unit = \"rev/s\", source = \"memory\",", "unit = \"rev/s\",", "system/0/drum_speed"},
    {"standing-missing", "unit = \"rev/s\", source = \"memory\", standing = \"from memory\"",
     "unit = \"rev/s\", source = \"memory\"", "system/0/drum_speed"},
    {"standing-unknown", "unit = \"rev/s\", source = \"memory\", standing = \"from memory\"",
     "unit = \"rev/s\", source = \"memory\", standing = \"sure\"", "system/0/drum_speed/standing"},
    {"not-a-number", "printed = \"20.0\"", "printed = \"fast\"", "mode/0/tape_speed/printed"},
    {"number-without-quotes", "printed = \"20.0\"", "printed = 20.0", "mode/0/tape_speed/printed"},
    {"text-for-a-number", "printed = \"20.0\", unit = \"mm/s\", tolerance = \"0.5 %\"", "text = \"slow\"",
     "mode/0/tape_speed"},
    {"number-for-a-text", "signal = { text = \"analogue\"", "signal = { printed = \"1\"", "format/signal"},
    {"two-values", "printed = \"20.0\"", "printed = \"20.0\", exact = \"20\"", "mode/0/tape_speed"},
    {"bare-value", "wrap = { printed = \"180\", unit = \"deg\", source = \"memory\", standing = \"from memory\" }",
     "wrap = 180", "drum/wrap"},
    {"unknown-with-more", "coating = { unknown = \"invented\" }",
     "coating = { unknown = \"invented\", source = \"memory\" }", "tape/coating"},
    {"empty-text", "coating = { unknown = \"invented\" }", "coating = { unknown = \"\" }", "tape/coating/unknown"},
    {"required-fact-missing", "coating = { unknown = \"invented\" }\n", "", "tape"},
    {"required-fact-of-a-mode-missing", "writing_speed = { unknown = \"invented\" }\n", "", "mode/0"},
    {"id-missing", "id = \"lamp\"\nname = \"Lamp cassette\"", "name = \"Lamp cassette\"", "format"},
    {"no-format", "[format]", "[formats]", ""},
    {"colon-in-a-mode", "id = \"SP\"", "id = \"S:P\"", "mode/0/id"},
    {"time-of-no-mode", "mode = \"625/50:SP\", ", "", "grade/0/playing_time/0"},
    {"aliases-not-a-list", "name = \"Lamp cassette\"", "name = \"Lamp cassette\"\naliases = \"LC\"", "format/aliases"},
    {"from-of-what-is-not-computed", "printed = \"49\", unit = \"µm\"",
     "printed = \"49\", unit = \"µm\", from = [\"tape_speed\"]", "mode/0/track_pitch/standing"},
};

std::string faulty(const Fault& fault) {
    std::string text = text_of(GUARDBAND_SOURCE "/tests/cli/own-formats/lamp.toml");
    const std::size_t at = text.find(fault.from);
    EXPECT_NE(at, std::string::npos) << fault.name;
    return text.replace(at, std::string(fault.from).size(), fault.to);
}

TEST(FilesSchema, RefusesEachFaultWhereItStands) {
    std::vector<fs::path> files;
    for (const Fault& fault : faults) {
        files.push_back(folder() / (std::string(fault.name) + ".toml"));
        write(files.back(), faulty(fault));
    }
    const Verdict verdict = validated(files);
    SKIP_WITHOUT_VALIDATOR(verdict);
    ASSERT_EQ(verdict.lines.size(), files.size()) << verdict.lines.front();
    for (std::size_t i = 0; i < files.size(); ++i)
        EXPECT_THAT(verdict.lines[i], StartsWith("fault " + files[i].string() + ": " + faults[i].where +
                                                 (std::string(faults[i].where).empty() ? "" : ":")))
            << faults[i].name;
}

TEST(FilesSchema, IsNoStricterThanTheReader) {
    for (const Fault& fault : faults) {
        table::Table table = table::load_table();
        EXPECT_THROW(table::read_documents({table::parse_document("lamp.toml", faulty(fault))}, table),
                     quantity::InputError)
            << fault.name;
    }
}

TEST(FilesSchema, KnowsTheOtherFilesByTheirSections) {
    const std::pair<const char*, const char*> texts[] = {
        {"[[source]]\nid = \"a\"\ntitle = \"b\"\nkind = \"rumour\"\nseen = \"read\"\n", "source/0/kind"},
        {"[[source]]\nid = \"a\"\nkind = \"book\"\nseen = \"read\"\n", "source/0"},
        {"[table]\nversion = \"1.0\"\nchanged = \"2026-11-25\"\n", "table/version"},
        {"[[limit]]\nfigure = \"a\"\nsource = \"b\"\nstanding = \"published\"\n", "limit/0"},
        {"[[screen]]\nid = \"a\"\nname = \"b\"\n", "screen/0"},
        {"[[screem]]\nid = \"a\"\n", ""},
    };
    std::vector<fs::path> files;
    for (const auto& [text, where] : texts) {
        files.push_back(folder() / ("other-" + std::to_string(files.size()) + ".toml"));
        write(files.back(), text);
    }
    const Verdict verdict = validated(files);
    SKIP_WITHOUT_VALIDATOR(verdict);
    ASSERT_EQ(verdict.lines.size(), files.size());
    for (std::size_t i = 0; i < files.size(); ++i)
        EXPECT_THAT(verdict.lines[i], HasSubstr(files[i].filename().string() + ": " + texts[i].second + ":"));
}

}  // namespace
}  // namespace guardband::report
