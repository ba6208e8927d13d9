// Figures of the program beside what scipy works out of the same signals: weighting curves, demodulation, detection,
// noise of video, hum. The script that makes both shares nothing with the analyser.
#include <gmock/gmock.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "guardband/command_line.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int no_scipy = 77;

struct Said {
    int status = 0;
    std::string text;
};

Said said_by_script(const fs::path& folder) {
    // Debian's own python: another may come first that has no scipy.
    const std::string command = "/usr/bin/python3 " GUARDBAND_CLI_TESTS "/scipy_reference.py " + folder.string();
    FILE* pipe = popen(command.c_str(), "r");
    Said said;
    std::array<char, 4096> part{};
    while (const std::size_t count = std::fread(part.data(), 1, part.size(), pipe))
        said.text.append(part.data(), count);
    said.status = WEXITSTATUS(pclose(pipe));
    return said;
}

json figures_of(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), "--json");
    std::ostringstream out, err;
    const int status = command_line::run(arguments, {out, err});
    EXPECT_EQ(status, 0) << err.str();
    return status == 0 ? json::parse(out.str())["figures"] : json::object();
}

TEST(ScipyReference, AgreesWithTheProgram) {
    const fs::path folder = fs::path(testing::TempDir()) / "guardband_scipy_reference";
    fs::create_directories(folder);
    const Said said = said_by_script(folder);
    if (said.status == no_scipy) GTEST_SKIP() << "python3-scipy is not installed: " << said.text;
    ASSERT_EQ(said.status, 0) << "the script failed";
    const json expected = json::parse(said.text);
    ASSERT_GT(expected.size(), 25U);
    std::vector<std::string> last;
    json figures;
    for (const json& one : expected) {
        SCOPED_TRACE(one["name"].get<std::string>());
        const auto arguments = one["arguments"].get<std::vector<std::string>>();
        if (arguments != last) figures = figures_of(arguments), last = arguments;
        const json& figure = figures[one["figure"].get<std::string>()];
        ASSERT_TRUE(figure.is_object() && figure["value"].is_number()) << figure;
        EXPECT_NEAR(figure["value"].get<double>(), one["value"].get<double>(), one["tolerance"].get<double>());
    }
    fs::remove_all(folder);
}

}  // namespace
}  // namespace guardband
