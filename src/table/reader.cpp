#include "table/reader.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <utility>

#include "table/format_reader.h"
#include "table/suggestion.h"
#include "table/systems_reader.h"

namespace guardband::table {
namespace {

std::string name_of(const Document& document) { return std::filesystem::path(document.file).filename().string(); }

bool is_format(const Document& document) {
    const std::string name = name_of(document);
    return name != "sources.toml" && name != "tv-systems.toml" && name != "limits.toml";
}

const Document* named(const std::vector<Document>& documents, std::string_view name) {
    const auto found = std::ranges::find_if(documents, [&](const Document& d) { return name_of(d) == name; });
    return found == documents.end() ? nullptr : &*found;
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
            throw error_at(document, heading.line, "format.id", "\"" + heading.id + "\" is taken by " + by_id_.at(heading.id)->file,
                           "give each file an id of its own");
        bases_[heading.id] = heading.based_on;
    }

    void read_with_base(const std::string& id) {
        if (state_[id] == State::Done) return;
        const Document& document = *by_id_.at(id);
        if (state_[id] == State::Open)
            throw error_at(document, 1, "format.based_on", "the formats are based on each other in a circle", "break it");
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
    if (const Document* sources = named(documents, "sources.toml")) read_sources(*sources, table);
    if (const Document* systems = named(documents, "tv-systems.toml")) read_systems(*systems, table);
    FormatsInOrder(documents, table).read_all();
    std::ranges::sort(table.formats, {}, &TapeFormat::id);
    expect_formats_agree(table);
    if (const Document* limits = named(documents, "limits.toml")) read_limits(*limits, table);
}

}  // namespace guardband::table
