// Whole runs of the program, as data: the files beside this one say what is typed and what must come out.
#include <gmock/gmock.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "guardband/command_line.h"
#include "report/text_table.h"
#include "table/document.h"
#include "table/fields.h"
#include "testsignal/command.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::Not;

struct Case {
    std::string name, file;
    std::vector<std::string> arguments, out_has, out_has_not, err_has;
    std::string writes, writes_not;  ///< a file that the run must leave, and one of which it must leave nothing
    std::vector<std::string> written_has;
    std::int64_t status = 0;
    bool out_is_json = false;
};

std::ostream& operator<<(std::ostream& out, const Case& c) { return out << c.name; }

std::string text_of(const fs::path& path) {
    std::ifstream stream(path);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

std::string empty_folder() {
    const fs::path folder = fs::path(testing::TempDir()) / "guardband_cli_empty";
    fs::create_directories(folder);
    return folder.string();
}

std::string scratch_folder() {
    const fs::path folder = fs::path(testing::TempDir()) / "guardband_cli_scratch";
    fs::create_directories(folder);
    return folder.string();
}

/// A folder with the tones and pulses of `recipes/`, made once.
std::string made_folder() {
    static const std::string folder = [] {
        const fs::path made = fs::path(testing::TempDir()) / "guardband_cli_made";
        std::vector<std::string> arguments{"-o", made.string()};
        for (const fs::directory_entry& entry : fs::directory_iterator(fs::path(GUARDBAND_CLI_TESTS) / "recipes"))
            if (entry.path().extension() == ".toml") arguments.push_back(entry.path().string());
        std::ostringstream out, err;
        EXPECT_EQ(testsignal::run(arguments, out, err, nullptr), 0) << err.str();
        return made.string();
    }();
    return folder;
}

/// `{made}` in an argument is the folder of made recordings; `{cli}` that of these files, `{samples}` that of the
/// samples, `{empty}` one that holds nothing, `{scratch}` one to write to.
std::string filled_in(std::string argument) {
    if (const std::size_t at = argument.find("{made}"); at != std::string::npos)
        argument.replace(at, std::string("{made}").size(), made_folder());
    for (const auto& [word, value] : {std::pair<std::string, std::string>{"{cli}", GUARDBAND_CLI_TESTS},
                                      {"{samples}", GUARDBAND_CLI_TESTS "/../../samples"},
                                      {"{empty}", empty_folder()},
                                      {"{scratch}", scratch_folder()}})
        if (const std::size_t at = argument.find(word); at != std::string::npos)
            argument.replace(at, word.size(), value);
    return argument;
}

Case read_case(const table::Document& document, const table::Node& node) {
    table::Fields fields(document, node, "[[case]]");
    Case c;
    c.file = fs::path(document.file).stem().string();
    c.name = fields.required_text("name");
    for (const std::string& argument : fields.texts("run")) c.arguments.push_back(filled_in(argument));
    c.out_has = fields.texts("out_has");
    c.out_has_not = fields.texts("out_has_not");
    c.err_has = fields.texts("err_has");
    c.writes = filled_in(fields.optional_text("writes"));
    c.writes_not = filled_in(fields.optional_text("writes_not"));
    c.written_has = fields.texts("written_has");
    if (const table::Node* status = fields.child("status")) c.status = std::get<std::int64_t>(status->value);
    if (const table::Node* json = fields.child("out_is_json")) c.out_is_json = std::get<bool>(json->value);
    fields.expect_no_more();
    return c;
}

std::vector<Case> all_cases() {
    std::vector<Case> cases;
    for (const fs::directory_entry& entry : fs::directory_iterator(GUARDBAND_CLI_TESTS)) {
        if (entry.path().extension() != ".toml") continue;
        const table::Document document = table::parse_document(entry.path().string(), text_of(entry.path()));
        for (const auto& [key, list] : *document.root.as_table())
            for (const table::Node& node : *list.as_array()) cases.push_back(read_case(document, node));
    }
    return cases;
}

class CommandLine : public testing::TestWithParam<Case> {};

/// No file of this name, nor one that begins with it, such as what is left of an unfinished one.
void expect_nothing_of(const std::string& path) {
    for (const fs::directory_entry& entry : fs::directory_iterator(fs::path(path).parent_path()))
        EXPECT_FALSE(entry.path().filename().string().starts_with(fs::path(path).filename().string())) << entry.path();
}

void expect_files_of(const Case& c) {
    if (!c.writes.empty()) {
        const std::string text = text_of(c.writes);
        EXPECT_NE(text, "") << c.writes;
        for (const std::string& part : c.written_has) EXPECT_THAT(text, HasSubstr(part));
        EXPECT_FALSE(fs::exists(c.writes + ".unfinished"));
    }
    if (!c.writes_not.empty()) expect_nothing_of(c.writes_not);
}

TEST_P(CommandLine, DoesWhatTheFileSays) {
    const Case& c = GetParam();
    if (!c.writes.empty()) fs::remove(c.writes);
    std::ostringstream out, err;
    const int status = command_line::run(c.arguments, {out, err});
    EXPECT_EQ(status, c.status) << err.str();
    for (const std::string& part : c.out_has) EXPECT_THAT(out.str(), HasSubstr(part));
    for (const std::string& part : c.out_has_not) EXPECT_THAT(out.str(), Not(HasSubstr(part)));
    for (const std::string& part : c.err_has) EXPECT_THAT(err.str(), HasSubstr(part));
    EXPECT_TRUE(!c.out_is_json || nlohmann::json::accept(out.str())) << out.str();
    EXPECT_TRUE(c.status != 0 || err.str().empty()) << err.str();
    expect_files_of(c);
    if (c.status == 2) {
        EXPECT_EQ(out.str(), "") << "nothing half-written";
        EXPECT_EQ(std::ranges::count(err.str(), '\n'), 1) << "one line: " << err.str();
    }
}

std::string help_of(std::vector<std::string> command) {
    command.emplace_back("--help");
    std::ostringstream out, err;
    EXPECT_EQ(command_line::run(command, {out, err}), 0) << err.str();
    return out.str();
}

/// The commands that a help text lists below `Subcommands:`.
std::vector<std::string> commands_in(const std::string& help) {
    std::vector<std::string> commands;
    std::istringstream lines(help);
    std::string line;
    bool lists_them = false;
    while (std::getline(lines, line)) {
        if (lists_them && line.starts_with("  ") && line.at(2) != ' ')
            commands.push_back(line.substr(2, line.find(' ', 2) - 2));
        lists_them = line == "Subcommands:" || (lists_them && !line.empty());
    }
    return commands;
}

/// Checks one command's help and those of the commands below it. @returns how many there are
int expect_narrow_help(const std::vector<std::string>& command) {
    const std::string help = help_of(command);
    std::istringstream lines(help);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(report::display_width(line), 80U) << line;
    int count = 1;
    for (const std::string& next : commands_in(help)) {
        std::vector<std::string> longer = command;
        longer.push_back(next);
        count += expect_narrow_help(longer);
    }
    return count;
}

TEST(HelpText, FitsATerminalOfEightyColumns) { EXPECT_GE(expect_narrow_help({}), 15) << "commands and what is below"; }

TEST(HelpText, NamesEveryOptionBesideItsMeaning) {
    const std::string help = help_of({"pack"});
    EXPECT_THAT(help, HasSubstr("\n  --address TEXT          one mode, FORMAT:SYSTEM:MODE"));
    EXPECT_THAT(help, HasSubstr("\n                          ")) << "what follows stands below what it goes on from";
    EXPECT_THAT(help_of({}), HasSubstr("\n  convert                 levels, times"));
}

std::string test_name(const testing::TestParamInfo<Case>& info) {
    std::string name = info.param.file + "_" + info.param.name;
    std::ranges::replace_if(
        name, [](char ch) { return std::isalnum(static_cast<unsigned char>(ch)) == 0; }, '_');
    return name;
}

INSTANTIATE_TEST_SUITE_P(Files, CommandLine, testing::ValuesIn(all_cases()), test_name);

}  // namespace
}  // namespace guardband
