#include "table/reader.h"

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <utility>

#include "table/codecs_reader.h"
#include "table/evidence_reader.h"
#include "table/format_reader.h"
#include "table/suggestion.h"
#include "table/systems_reader.h"

namespace guardband::table {
namespace {

namespace fs = std::filesystem;

std::string name_of(const Document& document) { return fs::path(document.file).filename().string(); }

constexpr std::array<std::string_view, 7> other_files{"sources.toml", "tv-systems.toml", "limits.toml", "cautions.toml",
                                                      "codecs.toml",  "evidence.toml",   "table.toml"};

bool is_format(const Document& document) {
    return std::ranges::find(other_files, name_of(document)) == other_files.end();
}

const Document* named(const std::vector<Document>& documents, std::string_view name) {
    const auto found = std::ranges::find_if(documents, [&](const Document& d) { return name_of(d) == name; });
    return found == documents.end() ? nullptr : &*found;
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
    if (error) throw quantity::InputError(folder, "is not a folder that can be read", "name a folder of .toml files");
    if (paths.empty()) throw quantity::InputError(folder, "holds no .toml file", "name a folder of format files");
    std::ranges::sort(paths);
    std::vector<Document> documents;
    for (const fs::path& path : paths) documents.push_back(parse_document(path.string(), text_of(path)));
    return documents;
}

/// Reads the formats of one folder, each after the one it is based on.
class FormatsInOrder {
public:
    FormatsInOrder(const std::vector<Document>& documents, Table& table) : table_(table) {
        for (const Document& document : documents)
            if (is_format(document)) add(document);
    }

    void read_all() {
        for (const auto& [id, document] : by_id_) read_with_base(id);
    }

private:
    void add(const Document& document) {
        const FormatHeading heading = read_format_heading(document);
        if (!by_id_.emplace(heading.id, &document).second)
            throw error_at(document, heading.line, "format.id",
                           "\"" + heading.id + "\" is taken by " + by_id_.at(heading.id)->file,
                           "give each file an id of its own");
        bases_[heading.id] = heading.based_on;
    }

    void read_with_base(const std::string& id) {
        if (state_[id] == State::Done) return;
        const Document& document = *by_id_.at(id);
        if (state_[id] == State::Open)
            throw error_at(document, 1, "format.based_on", "the formats are based on each other in a circle",
                           "break it");
        state_[id] = State::Open;
        const std::string& base = bases_.at(id);
        if (by_id_.contains(base)) read_with_base(base);
        read_format(document, table_);
        state_[id] = State::Done;
    }

    enum class State { New, Open, Done };

    Table& table_;
    std::map<std::string, const Document*> by_id_;
    std::map<std::string, std::string> bases_;
    std::map<std::string, State> state_;
};

}  // namespace

void read_documents(const std::vector<Document>& documents, Table& table) {
    if (const Document* edition = named(documents, "table.toml")) read_edition(*edition, table);
    if (const Document* sources = named(documents, "sources.toml")) read_sources(*sources, table);
    if (const Document* systems = named(documents, "tv-systems.toml")) read_systems(*systems, table);
    FormatsInOrder(documents, table).read_all();
    expect_formats_agree(table);  // before sorting: of two that disagree, the one read last is to blame
    std::ranges::sort(table.formats, {}, &TapeFormat::id);
    if (const Document* cautions = named(documents, "cautions.toml")) read_cautions(*cautions, table);
    if (const Document* codecs = named(documents, "codecs.toml")) read_codecs(*codecs, table);
    if (const Document* evidence = named(documents, "evidence.toml")) read_evidence(*evidence, table);
    if (const Document* limits = named(documents, "limits.toml")) read_limits(*limits, table);
}

void read_folder(const std::string& folder, Table& table) { read_documents(documents_in(folder), table); }

}  // namespace guardband::table
