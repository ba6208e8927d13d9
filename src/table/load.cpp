#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "table/embedded.h"
#include "table/reader.h"

namespace guardband::table {
namespace {

namespace fs = std::filesystem;

std::vector<Document> built_in_documents() {
    std::vector<Document> documents;
    for (const EmbeddedFile& file : embedded_files())
        documents.push_back(parse_document("formats/" + std::string(file.name), file.text));
    return documents;
}

std::string text_of(const fs::path& path) {
    std::ifstream stream(path, std::ios::binary);
    std::ostringstream text;
    text << stream.rdbuf();
    if (!stream) throw quantity::InputError(path.string(), "can't be read", "check that it is a readable file");
    return text.str();
}

std::vector<Document> documents_in(const std::string& folder) {
    std::error_code error;
    std::vector<fs::path> paths;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error))
        if (it->path().extension() == ".toml") paths.push_back(it->path());
    if (error) throw quantity::InputError("--formats " + folder, "is not a folder that can be read", "name a folder of .toml files");
    if (paths.empty()) throw quantity::InputError("--formats " + folder, "holds no .toml file", "name a folder of format files");
    std::ranges::sort(paths);
    std::vector<Document> documents;
    for (const fs::path& path : paths) documents.push_back(parse_document(path.string(), text_of(path)));
    return documents;
}

}  // namespace

Table load_table(const std::vector<std::string>& extra_folders) {
    Table table;
    read_documents(built_in_documents(), table);
    for (const std::string& folder : extra_folders) read_documents(documents_in(folder), table);
    return table;
}

}  // namespace guardband::table
