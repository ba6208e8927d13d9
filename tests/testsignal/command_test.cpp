#include "testsignal/command.h"

#include <gmock/gmock.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "shell.h"

namespace guardband::testsignal {
namespace {

using testing::HasSubstr;

class Command : public testing::Test {
protected:
    int run_with(const std::vector<std::string>& arguments) {
        out_.str(""), err_.str("");
        return run(arguments, out_, err_, nullptr);
    }
    std::string recipe(const std::string& file, const std::string& text) {
        std::ofstream(folder_ / file) << text;
        return folder_ / file;
    }
    static int lines(const std::string& text) { return static_cast<int>(std::count(text.begin(), text.end(), '\n')); }

    TemporaryFolder folder_;
    std::ostringstream out_, err_;
};

const std::string good = "name = 'fog'\nraster = '96x64'\nframe_rate = '25'\nduration_s = 0.2\n";

TEST_F(Command, MakesTheClipAndItsTruth) {
    const std::string clips = folder_ / "clips";
    ASSERT_EQ(run_with({recipe("fog.toml", good + "[faults]\nrepeated_fields = [5]\n"), "-o", clips}), 0) << err_.str();
    EXPECT_EQ(lines(out_.str()), 1);
    EXPECT_THAT(out_.str(), HasSubstr("fog.mkv: 5 frames of 96x64 at 25 frames/s"));
    EXPECT_EQ(err_.str(), "");
    std::ifstream file(clips + "/fog.truth.json");
    const auto truth = nlohmann::json::parse(file);
    EXPECT_EQ(truth["schema"], "guardband.testsignal/1");
    EXPECT_EQ(truth["file"], "fog.mkv");
    EXPECT_EQ(truth["frame_count"], 5);
    EXPECT_EQ(truth["faults"]["repeated_fields"], nlohmann::json::array({5}));
    EXPECT_EQ(truth["scan"]["field_order"], "top first");
    EXPECT_EQ(truth["levels"]["black_code"], 16.0);
    EXPECT_TRUE(truth["flicker"].is_null());
    EXPECT_THAT(truth["invented"].get<std::string>(), HasSubstr("no tape"));
}

TEST_F(Command, KeepsWhatIsNewerThanItsRecipe) {
    const std::string path = recipe("fog.toml", good);
    ASSERT_EQ(run_with({path, "-o", folder_.path()}), 0);
    ASSERT_EQ(run_with({path, "-o", folder_.path(), "--keep"}), 0);
    EXPECT_THAT(out_.str(), HasSubstr("kept"));
    std::filesystem::last_write_time(path, std::filesystem::file_time_type::clock::now() + std::chrono::hours(1));
    ASSERT_EQ(run_with({path, "-o", folder_.path(), "--keep"}), 0);
    EXPECT_THAT(out_.str(), HasSubstr("5 frames"));
}

TEST_F(Command, ABadRecipeIsOneLineAndNothingIsMade) {
    const std::string fine = recipe("fine.toml", good),
                      bad = recipe("bad.toml", "name = 'a'\nsystem = '625/50'\nlength = 3\n");
    const std::string clips = folder_ / "clips";
    EXPECT_EQ(run_with({fine, bad, "-o", clips}), 2);
    EXPECT_EQ(lines(err_.str()), 1);
    EXPECT_THAT(err_.str(), HasSubstr("bad.toml:3: length: is not a key of a recipe"));
    EXPECT_EQ(out_.str(), "");
    EXPECT_FALSE(std::filesystem::exists(clips));
}

TEST_F(Command, WrongUsageIsOneLine) {
    for (const std::vector<std::string>& arguments :
         {std::vector<std::string>{}, {"--fast"}, {"missing.toml"}, {folder_.path()}}) {
        EXPECT_EQ(run_with(arguments), 2);
        EXPECT_EQ(lines(err_.str()), 1) << err_.str();
    }
}

TEST_F(Command, TwoRecipesOfOneNameAreRefused) {
    EXPECT_EQ(run_with({recipe("a.toml", good), recipe("b.toml", good), "-o", folder_.path()}), 2);
    EXPECT_THAT(err_.str(), HasSubstr("b.toml: makes \"fog\" as"));
}

TEST_F(Command, AFileWhereTheFolderShouldBeIsRefused) {
    const std::string path = recipe("fog.toml", good);
    EXPECT_EQ(run_with({path, "-o", path}), 2);
    EXPECT_EQ(lines(err_.str()), 1);
}

TEST_F(Command, HelpIsHelp) {
    EXPECT_EQ(run_with({"--help"}), 0);
    EXPECT_THAT(out_.str(), HasSubstr("recipe"));
}

}  // namespace
}  // namespace guardband::testsignal
