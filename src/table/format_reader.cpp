#include "table/format_reader.h"

#include <iterator>
#include <map>
#include <optional>
#include <utility>

#include "table/entries.h"
#include "table/suggestion.h"

namespace guardband::table {
namespace {

const KeyRule playing_time_rule{SectionKind::Grade, "playing_time", KeyRule::Kind::Number, "min", 0.5, 2000, false,
                                "playing time"};

/// Facts of the base that the file does not give itself.
void inherit(Facts& own, const Facts& base, const std::string& base_id) {
    for (const Fact& fact : base.all()) {
        if (own.find(fact.key) != nullptr) continue;
        Fact copy = fact;
        if (copy.inherited_from.empty()) copy.inherited_from = base_id;
        for (Fact& other : copy.also) other.inherited_from = copy.inherited_from;
        own.add(std::move(copy));
    }
}

/// Reads one format file.
class FormatReading {
public:
    FormatReading(const Document& document, Table& table)
        : document_(document), table_(table), facts_(document, table) {}

    TapeFormat whole() {
        Fields root(document_, document_.root, "");
        format_.file = document_.file;
        read_heading(root);
        format_.tape = read_section(root, "tape", SectionKind::Tape);
        format_.drum = read_section(root, "drum", SectionKind::Drum);
        for_each_section(root, "shell", [&](Fields& fields) { read_shell(fields); });
        for_each_section(root, "system", [&](Fields& fields) { read_system(fields); });
        for_each_section(root, "mode", [&](Fields& fields) { read_mode(fields); });
        for_each_section(root, "grade", [&](Fields& fields) { read_grade(fields); });
        root.expect_no_more();
        if (!format_.based_on.empty()) inherit_from_base();
        expect_whole();
        return std::move(format_);
    }

private:
    void read_heading(Fields& root) {
        const Node* node = root.child("format");
        if (node == nullptr) throw root.error("", "has no [format]", "begin the file with [format] and an id");
        Fields fields(document_, *node, "[format]");
        line_ = fields.line();
        format_.id = fields.required_text("id");
        format_.name = fields.required_text("name");
        format_.family = fields.optional_text("family");
        format_.based_on = fields.optional_text("based_on");
        format_.aliases = fields.texts("aliases");
        format_.plays = fields.texts("plays");
        format_.grades_of = fields.texts("grades_of");
        without_modes_ = fields.texts("without_modes");
        format_.facts = facts_.read_all(fields, SectionKind::Format, "");
    }

    Facts read_section(Fields& root, const std::string& key, SectionKind section) {
        const Node* node = root.child(key);
        if (node == nullptr) return {};
        Fields fields(document_, *node, "[" + key + "]");
        return facts_.read_all(fields, section, "");
    }

    void read_shell(Fields& fields) {
        Shell shell{fields.required_text("id"), fields.required_text("name"),
                    facts_.read_all(fields, SectionKind::Shell, "")};
        put(format_.shells, std::move(shell));
    }

    std::string read_scanning_id(Fields& fields, const std::string& key) const {
        std::string id = fields.required_text(key);
        if (std::ranges::find(table_.scannings, id, &Scanning::id) == table_.scannings.end())
            throw fields.error(key, "no scanning standard \"" + id + "\"",
                               "use an id of tv-systems.toml, such as 625/50");
        return id;
    }

    void read_system(Fields& fields) {
        FormatSystem system{read_scanning_id(fields, "id"), {}};
        system.facts = facts_.read_all(fields, SectionKind::System, system.id);
        if (format_.find_system(system.id) != nullptr) throw fields.error("id", "\"" + system.id + "\" stands twice");
        format_.systems.push_back(std::move(system));
    }

    void read_mode(Fields& fields) {
        Mode mode{read_scanning_id(fields, "system"), fields.required_text("id"), fields.texts("aliases"), {}};
        if (mode.id.find(':') != std::string::npos)
            throw fields.error("id", "must not hold a colon", "it is part of an address");
        mode.facts = facts_.read_all(fields, SectionKind::Mode, mode.system);
        if (format_.find_mode(mode.system, mode.id) != nullptr)
            throw fields.error("id", "\"" + mode.id + "\" stands twice in " + mode.system);
        format_.modes.push_back(std::move(mode));
    }

    void read_grade(Fields& fields) {
        Grade grade;
        grade.id = fields.required_text("id");
        grade.aliases = fields.texts("aliases");
        grade.shell = fields.optional_text("shell");
        grade.label_system = fields.optional_text("label_system");
        read_playing_times(fields, grade);
        grade.facts = facts_.read_all(fields, SectionKind::Grade, grade.label_system);
        expect_complete(document_, fields.line(), "[[grade]] " + grade.id, grade.facts, SectionKind::Grade);
        if (format_.find_grade(grade.id) != nullptr) throw fields.error("id", "\"" + grade.id + "\" stands twice");
        grade_lines_[grade.id] = fields.line();
        format_.grades.push_back(std::move(grade));
    }

    void read_playing_times(Fields& fields, Grade& grade) {
        const Node* list = fields.child("playing_time");
        if (list == nullptr) return;
        if (list->as_array() == nullptr)
            throw fields.error("playing_time", "is not a list", "write [ { mode = …, printed = … } ]");
        for (const Node& element : *list->as_array()) grade.playing_times.push_back(read_playing_time(element));
    }

    /// The mode's name is taken out of the inline table; the rest is a fact like any other.
    PlayingTime read_playing_time(const Node& element) const {
        Fields fields(document_, element, "[[grade]].playing_time");
        const std::string mode = fields.required_text("mode");
        const std::size_t colon = mode.find(':');
        if (colon == std::string::npos)
            throw fields.error("mode", "\"" + mode + "\" names no mode", "write \"625/50:SP\"");
        Node fact = element;
        auto& keys = std::get<Node::Table>(fact.value);
        std::erase_if(keys, [](const Entry& entry) { return entry.key == "mode"; });
        return {mode.substr(0, colon), mode.substr(colon + 1), facts_.read(fact, playing_time_rule, NoNames{})};
    }

    class NoNames : public quantity::Names {
    public:
        quantity::Rational value(std::string_view name) const override {
            throw quantity::InputError("name \"" + std::string(name) + "\"", "not known here");
        }
    };

    void inherit_from_base() {
        const TapeFormat* base = table_.find_format(format_.based_on);
        if (base == nullptr || base->id != format_.based_on)
            throw error_at(document_, line_, "[format].based_on", "no format \"" + format_.based_on + "\"",
                           "use the id of another file");
        inherit(format_.facts, base->facts, base->id);
        inherit(format_.tape, base->tape, base->id);
        inherit(format_.drum, base->drum, base->id);
        if (format_.family.empty()) format_.family = base->family;
        if (format_.shells.empty()) inherit_shells(*base);
        for (const FormatSystem& system : base->systems) inherit_system(system, *base);
        inherit_modes(*base);
        expect_left_out_modes_exist(*base);
    }

    void inherit_shells(const TapeFormat& base) {
        for (const Shell& shell : base.shells) {
            format_.shells.push_back({shell.id, shell.name, {}});
            inherit(format_.shells.back().facts, shell.facts, base.id);
        }
    }

    void inherit_system(const FormatSystem& system, const TapeFormat& base) {
        auto own = std::ranges::find(format_.systems, system.id, &FormatSystem::id);
        if (own == format_.systems.end())
            own = format_.systems.insert(format_.systems.end(), FormatSystem{system.id, {}});
        inherit(own->facts, system.facts, base.id);
    }

    /// The base's modes in the base's order, each with what this file overrides; then the modes that only this file
    /// has.
    void inherit_modes(const TapeFormat& base) {
        std::vector<Mode> merged;
        for (const Mode& mode : base.modes) {
            if (std::ranges::find(without_modes_, mode.system + ":" + mode.id) != without_modes_.end()) continue;
            merged.push_back(taken_out(mode).value_or(Mode{mode.system, mode.id, mode.aliases, {}}));
            inherit(merged.back().facts, mode.facts, base.id);
        }
        std::ranges::move(format_.modes, std::back_inserter(merged));
        format_.modes = std::move(merged);
    }

    /// This file's own version of a mode, removed from its list; nothing if it has none.
    std::optional<Mode> taken_out(const Mode& mode) {
        const auto own = std::ranges::find_if(
            format_.modes, [&](const Mode& m) { return m.system == mode.system && m.id == mode.id; });
        if (own == format_.modes.end()) return std::nullopt;
        Mode found = std::move(*own);
        format_.modes.erase(own);
        return found;
    }

    void expect_left_out_modes_exist(const TapeFormat& base) const {
        for (const std::string& name : without_modes_) {
            const std::size_t colon = name.find(':');
            if (colon == std::string::npos || base.find_mode(name.substr(0, colon), name.substr(colon + 1)) == nullptr)
                throw error_at(document_, line_, "[format].without_modes", base.id + " has no mode \"" + name + "\"");
        }
    }

    void expect_whole() const {
        expect_complete(document_, line_, "[format]", format_.facts, SectionKind::Format);
        expect_complete(document_, line_, "[tape]", format_.tape, SectionKind::Tape);
        expect_complete(document_, line_, "[drum]", format_.drum, SectionKind::Drum);
        for (const Shell& shell : format_.shells)
            expect_complete(document_, line_, "[[shell]] " + shell.id, shell.facts, SectionKind::Shell);
        for (const FormatSystem& system : format_.systems)
            expect_complete(document_, line_, "[[system]] " + system.id, system.facts, SectionKind::System);
        if (format_.modes.empty()) throw error_at(document_, line_, "[format]", "has no modes", "add a [[mode]]");
        for (const Mode& mode : format_.modes) expect_whole_mode(mode);
        for (const Grade& grade : format_.grades) expect_grade_fits(grade);
    }

    void expect_whole_mode(const Mode& mode) const {
        expect_complete(document_, line_, "[[mode]] " + mode.system + ":" + mode.id, mode.facts, SectionKind::Mode);
        if (format_.find_system(mode.system) == nullptr)
            throw error_at(document_, line_, "[[mode]] " + mode.id,
                           "its system " + mode.system + " has no [[system]] here", "add one");
    }

    void expect_grade_fits(const Grade& grade) const {
        const int line = grade_lines_.at(grade.id);
        const std::string place = "[[grade]] " + grade.id;
        if (!grade.shell.empty() && std::ranges::find(format_.shells, grade.shell, &Shell::id) == format_.shells.end())
            throw error_at(document_, line, place, "no [[shell]] \"" + grade.shell + "\" here",
                           "use the id of one of this file's shells");
        for (const PlayingTime& time : grade.playing_times)
            if (format_.find_mode(time.system, time.mode) == nullptr)
                throw error_at(document_, line, place,
                               "playing_time names the mode " + time.system + ":" + time.mode + ", which is not here");
    }

    const Document& document_;
    Table& table_;
    FactReader facts_;
    TapeFormat format_;
    std::vector<std::string> without_modes_;
    std::map<std::string, int> grade_lines_;
    int line_ = 0;
};

}  // namespace

FormatHeading read_format_heading(const Document& document) {
    Fields root(document, document.root, "");
    const Node* node = root.child("format");
    if (node == nullptr) throw error_at(document, 1, "", "has no [format]", "begin the file with [format] and an id");
    Fields fields(document, *node, "[format]");
    return {fields.required_text("id"), fields.optional_text("based_on"), fields.line()};
}

void read_format(const Document& document, Table& table) { put(table.formats, FormatReading(document, table).whole()); }

void expect_formats_agree(const Table& table) {
    std::map<std::string, std::string> owners;
    for (const TapeFormat& format : table.formats) {
        std::vector<std::string> names = format.aliases;
        names.push_back(format.id);
        for (const std::string& name : names) {
            const auto [owner, is_new] = owners.emplace(name, format.file);
            if (!is_new && owner->second != format.file)
                throw quantity::InputError(format.file, "the name \"" + name + "\" is taken by " + owner->second,
                                           "change one");
        }
        for (const auto* list : {&format.plays, &format.grades_of})
            for (const std::string& id : *list)
                if (std::ranges::find(table.formats, id, &TapeFormat::id) == table.formats.end())
                    throw quantity::InputError(format.file, "names the format \"" + id + "\", which is not there",
                                               "correct the id");
    }
}

}  // namespace guardband::table
