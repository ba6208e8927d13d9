#include "guardband/page_folder.h"

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <system_error>

#include "quantity/errors.h"

namespace guardband::command_line {
namespace {

namespace fs = std::filesystem;
using quantity::InputError;

constexpr const char* list_name = "guardband-pages.txt";
constexpr const char* list_heading = "The files that guardband wrote here; a next run replaces them all.";

std::set<std::string> listed_files(const fs::path& folder) {
    std::set<std::string> files{list_name};
    std::ifstream list(folder / list_name);
    std::string line;
    if (!std::getline(list, line) || line != list_heading) return {};
    while (std::getline(list, line)) files.insert(line);
    return files;
}

/// A folder that exists must be empty or of our own making, down to the last file: what else is there must not vanish
/// with it.
void expect_ours(const fs::path& folder, const std::string& input) {
    if (!fs::exists(folder)) return;
    if (!fs::is_directory(folder)) throw InputError(input, "is a file", "name a folder");
    if (fs::is_empty(folder)) return;
    const std::set<std::string> ours = listed_files(folder);
    for (const fs::directory_entry& entry : fs::recursive_directory_iterator(folder)) {
        const std::string name = entry.path().lexically_relative(folder).generic_string();
        if (!entry.is_directory() && !ours.contains(name))
            throw InputError(input, "holds a file that an earlier run didn't write: " + name,
                             "name a new or an empty folder");
    }
}

void write_file(const fs::path& path, const std::string& content) {
    fs::create_directories(path.parent_path());
    std::ofstream file(path, std::ios::binary);
    file << content;
    file.close();
    if (!file) throw fs::filesystem_error("can't be written", path, std::make_error_code(std::errc::io_error));
}

void write_all(const fs::path& folder, const std::vector<report::PageFile>& pages) {
    std::string list = std::string(list_heading) + "\n";
    for (const report::PageFile& page : pages) {
        write_file(folder / page.path, page.content);
        list += page.path + "\n";
    }
    write_file(folder / list_name, list);
}

/// The old folder steps aside, the new one takes its place; if it can't, the old one steps back.
void replace(const fs::path& folder, const fs::path& fresh, const fs::path& aside) {
    const bool is_there = fs::exists(folder);
    if (is_there) fs::rename(folder, aside);
    std::error_code failed;
    fs::rename(fresh, folder, failed);
    if (failed && is_there) fs::rename(aside, folder);
    if (failed) throw fs::filesystem_error("can't be moved into place", folder, failed);
    if (is_there) fs::remove_all(aside);
}

}  // namespace

void write_page_folder(const std::string& folder, const std::vector<report::PageFile>& pages,
                       const std::string& input) {
    fs::path fresh;
    try {
        fs::path target = fs::absolute(folder).lexically_normal();
        if (target.filename().empty()) target = target.parent_path();  // the name ended with a slash
        expect_ours(target, input);
        fs::create_directories(target.parent_path());
        const std::string beside =
            (target.parent_path() / ("." + target.filename().string())).string() + "." + std::to_string(getpid());
        fresh = beside + ".new";
        write_all(fresh, pages);
        replace(target, fresh, beside + ".old");
    } catch (const fs::filesystem_error& e) {
        std::error_code ignored;
        if (!fresh.empty()) fs::remove_all(fresh, ignored);
        throw InputError(input, "can't be written: " + e.code().message(),
                         "check the folder's rights and the space on its disk");
    }
}

}  // namespace guardband::command_line
