// The house checks itself: who may include whom, and what stands at the top.
#include <gmock/gmock.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <set>

namespace guardband {
namespace {

namespace fs = std::filesystem;

const fs::path root = GUARDBAND_SOURCE;

/// What each part of src/ may include beside itself, directly.
const std::map<std::string, std::set<std::string>> may_use{
    {"quantity", {}},
    {"table", {"quantity"}},
    {"calc", {"table"}},
    {"identify", {"calc", "table"}},
    {"media", {"quantity"}},
    {"dsp", {"quantity"}},
    {"rows", {}},
    {"measure", {"media", "dsp", "rows", "calc", "table"}},
    {"judge", {"table"}},
    {"report", {"calc", "identify", "table"}},
    {"archive", {"measure", "identify", "judge", "report"}},
};

/// The part, what it may use, and what that may use in turn.
std::set<std::string> reach_of(const std::string& part) {
    std::set<std::string> reach{part};
    for (const std::string& used : may_use.at(part)) reach.merge(reach_of(used));
    return reach;
}

std::vector<std::string> quoted_includes(const fs::path& file) {
    static const std::string start = "#include \"";
    std::vector<std::string> found;
    std::ifstream stream(file);
    for (std::string line; std::getline(stream, line);)
        if (line.starts_with(start)) found.push_back(line.substr(start.size(), line.rfind('"') - start.size()));
    return found;
}

template <typename See>
void for_each_source(const fs::path& folder, See see) {
    for (const fs::directory_entry& entry : fs::recursive_directory_iterator(folder))
        if (entry.path().extension() == ".h" || entry.path().extension() == ".cpp") see(entry.path());
}

std::string text_of(const fs::path& file) {
    std::ifstream stream(file);
    return {std::istreambuf_iterator<char>(stream), {}};
}

bool includes_libav(const fs::path& file) {
    const std::string text = text_of(file);
    return text.find("#include <libav") != std::string::npos || text.find("#include <libsw") != std::string::npos;
}

TEST(Layers, APartIncludesOnlyWhatItMayUse) {
    int seen = 0;
    for (const fs::directory_entry& part : fs::directory_iterator(root / "src")) {
        const std::string name = part.path().filename().string();
        ASSERT_TRUE(may_use.contains(name)) << name << " has no place in the layering";
        const std::set<std::string> reach = reach_of(name);
        for_each_source(part.path(), [&](const fs::path& file) {
            for (const std::string& include : quoted_includes(file)) {
                const std::string used = include.substr(0, include.find('/'));
                EXPECT_TRUE(reach.contains(used)) << file << " includes " << include;
                ++seen;
            }
        });
    }
    EXPECT_GT(seen, 100) << "the test has lost sight of the sources";
}

TEST(Layers, LibavStaysBehindTheDoorOfMedia) {
    for_each_source(root / "src", [](const fs::path& file) {
        EXPECT_TRUE(file.parent_path().filename() == "media" || !includes_libav(file)) << file;
    });
    for_each_source(root / "tools/guardband", [](const fs::path& file) { EXPECT_FALSE(includes_libav(file)) << file; });
}

TEST(Layers, LibzvbiStaysBehindOneDoor) {
    int doors = 0;
    for (const char* folder : {"src", "tools"})
        for_each_source(root / folder, [&](const fs::path& file) {
            if (text_of(file).find("#include <libzvbi.h>") == std::string::npos) return;
            EXPECT_EQ(file.filename(), "data_slicer.cpp");
            ++doors;
        });
    EXPECT_EQ(doors, 1);
}

TEST(Layers, TestSignalsShareOnlyTheTableWithTheAnalyser) {
    const std::set<std::string> parts{"calc", "identify", "media", "dsp", "rows", "measure", "judge", "report"};
    for_each_source(root / "tools/testsignal", [&](const fs::path& file) {
        for (const std::string& include : quoted_includes(file))
            EXPECT_FALSE(parts.contains(include.substr(0, include.find('/')))) << file << " includes " << include;
    });
}

TEST(Top, HoldsNothingButWhatIsAgreed) {
    const std::set<std::string> agreed{"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE", "src",
                                       "formats",        "tools",     "tests",         "samples", "build"};
    for (const fs::directory_entry& entry : fs::directory_iterator(root)) {
        const std::string name = entry.path().filename().string();
        EXPECT_TRUE(agreed.contains(name) || name.starts_with(".")) << name;
    }
}

TEST(Tests, AssertSomething) {
    for_each_source(root / "tests", [](const fs::path& file) {
        if (!file.stem().string().ends_with("_test")) return;
        const std::string text = text_of(file);
        EXPECT_TRUE(text.find("EXPECT_") != std::string::npos || text.find("ASSERT_") != std::string::npos) << file;
    });
}

TEST(Tests, AreAllBuilt) {
    const std::string lists = text_of(root / "CMakeLists.txt");
    for_each_source(root / "tests", [&](const fs::path& file) {
        if (!file.stem().string().ends_with("_test")) return;
        EXPECT_NE(lists.find(file.filename().string()), std::string::npos) << file << " stands in no list";
    });
}

}  // namespace
}  // namespace guardband
