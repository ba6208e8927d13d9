#include "report/format_page.h"

#include <fmt/format.h>

#include <algorithm>

#include "quantity/quantity.h"
#include "report/fact_text.h"
#include "report/figure_groups.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Grade;
using table::KeyRule;
using table::Mode;
using table::SectionKind;
using table::TapeFormat;

using FactList = std::vector<const Fact*>;

bool says_nothing(const Fact* fact) { return fact == nullptr || !fact->is_known(); }

bool are_alike(const Fact* a, const Fact* b) {
    if (says_nothing(a) || says_nothing(b)) return says_nothing(a) && says_nothing(b);
    return a == b || same_statement(*a, *b);
}

/// Writes the figures of one format, each in as few columns as say it: one if all modes have it alike, one for each
/// scanning standard if their modes do, else one for each mode.
class FormatWriting {
public:
    FormatWriting(const table::Table& table, const TapeFormat& format)
        : table_(table), format_(format), writer_(table, format.name) {}

    FigurePage whole() && {
        introduce();
        for (const FigureGroup& group : format_groups()) {
            add_group(group);
            if (group.title == "Tape") add_shells();
        }
        add_lengths();
        return std::move(writer_).finish();
    }

private:
    void introduce() {
        auto& lines = writer_.page().introduction;
        if (!format_.aliases.empty()) lines.push_back("Also called " + joined(format_.aliases) + ".");
        if (const TapeFormat* base = table_.find_format(format_.based_on))
            lines.push_back(
                fmt::format("What its own file does not give is taken from {} ({}).", base->name, base->id));
        std::vector<std::string> others;
        for (const std::string& id : format_.plays)
            if (const TapeFormat* other = table_.find_format(id))
                others.push_back(fmt::format("{} ({})", other->name, id));
        if (!others.empty()) lines.push_back("Its machines also play " + joined(others) + ".");
    }

    FactList facts_of(const KeyRule& rule) const {
        FactList facts;
        for (const Mode& mode : format_.modes) facts.push_back(fact_for_mode(format_, mode, rule));
        return facts;
    }

    bool alike_in_all(const FactList& facts) const {
        return std::ranges::all_of(facts, [&](const Fact* fact) { return are_alike(fact, facts.front()); });
    }

    bool alike_within_systems(const FactList& facts) const {
        for (std::size_t i = 1; i < facts.size(); ++i)
            for (std::size_t j = 0; j < i; ++j)
                if (format_.modes[i].system == format_.modes[j].system && !are_alike(facts[i], facts[j])) return false;
        return true;
    }

    /// The facts of the first mode of each system.
    FactList one_for_each_system(const FactList& facts) const {
        FactList firsts;
        for (const auto& system : systems()) {
            const auto mode = std::ranges::find(format_.modes, system, &Mode::system);
            firsts.push_back(facts[static_cast<std::size_t>(mode - format_.modes.begin())]);
        }
        return firsts;
    }

    /// The scanning standards that have modes, in the order of the modes.
    std::vector<std::string> systems() const {
        std::vector<std::string> ids;
        for (const Mode& mode : format_.modes)
            if (std::ranges::find(ids, mode.system) == ids.end()) ids.push_back(mode.system);
        return ids;
    }

    /// In how many columns figures are shown.
    enum class Spread { Alike, BySystem, ByMode };
    struct Layout {
        Spread spread;
        std::vector<FactRow> rows;
    };

    Block block_for(Spread spread) const {
        Block block;
        if (spread == Spread::Alike) block.columns = {{"", ""}};
        if (spread == Spread::BySystem)
            for (const std::string& id : systems()) block.columns.push_back({"", id});
        if (spread == Spread::ByMode)
            for (const Mode& mode : format_.modes) block.columns.push_back({mode.system, mode.id});
        return block;
    }

    /// Rows are made block by block, so that notes are numbered from the top of the page to its end; the block with the
    /// group's first figure leads.
    void add_group(const FigureGroup& group) {
        std::vector<Layout> layouts;
        for (const KeyRule* rule : group.rules) {
            const FactList facts = facts_of(*rule);
            gather_unknowns(*rule, facts);
            if (std::ranges::all_of(facts, says_nothing)) continue;
            if (alike_in_all(facts))
                row_in(layouts, Spread::Alike, *rule, {facts.front()});
            else if (alike_within_systems(facts))
                row_in(layouts, Spread::BySystem, *rule, one_for_each_system(facts));
            else
                row_in(layouts, Spread::ByMode, *rule, facts);
        }
        Group made{std::string(group.title), {}, {}};
        for (const auto& [spread, rows] : layouts) add_block(made, block_for(spread), rows);
        if (!made.blocks.empty()) writer_.page().groups.push_back(std::move(made));
    }

    static void row_in(std::vector<Layout>& layouts, Spread spread, const KeyRule& rule, FactList facts) {
        auto found = std::ranges::find(layouts, spread, &Layout::spread);
        if (found == layouts.end()) found = layouts.insert(layouts.end(), {spread, {}});
        found->rows.push_back({std::string(rule.title), std::move(facts)});
    }

    void add_block(Group& group, Block block, const std::vector<FactRow>& rows) {
        for (const FactRow& row : rows) writer_.add_row(block, row);
        if (!block.rows.empty()) group.blocks.push_back(std::move(block));
    }

    /// The figures that the file says are not known, with the modes that lack them where others don't.
    void gather_unknowns(const KeyRule& rule, const FactList& facts) {
        const bool in_all =
            std::ranges::all_of(facts, [](const Fact* fact) { return fact != nullptr && !fact->is_known(); });
        for (std::size_t i = 0; i < facts.size(); ++i) {
            if (facts[i] == nullptr || facts[i]->is_known()) continue;
            const Mode& mode = format_.modes[i];
            writer_.unknowns().add(facts[i]->unknown,
                                   std::string(rule.title) + (in_all ? "" : " (" + mode.system + " " + mode.id + ")"));
        }
    }

    void add_shells() {
        Block block;
        for (const KeyRule& rule : table::key_rules())
            if (rule.section == SectionKind::Shell && rule.kind == KeyRule::Kind::Number)
                block.columns.push_back({"", fmt::format("{}, {}", rule.key, rule.unit), true});
        for (const table::Shell& shell : format_.shells) add_shell(block, shell);
        for (const KeyRule& rule : table::key_rules())
            if (rule.section == SectionKind::Shell) gather_unknown_sizes(rule);
        drop_empty_columns(block);
        if (!block.columns.empty()) writer_.page().groups.push_back({"Cassette or reel", {block}, ""});
    }

    void add_shell(Block& block, const table::Shell& shell) {
        Row row{shell.name, "", {}, {}};
        for (const KeyRule& rule : table::key_rules())
            if (rule.section == SectionKind::Shell && rule.kind == KeyRule::Kind::Number)
                row.cells.push_back(cell_of(shell.facts.find(rule.key)));
        if (std::ranges::any_of(row.cells, [](const Cell& cell) { return !cell.empty(); }))
            block.rows.push_back(std::move(row));
    }

    void gather_unknown_sizes(const KeyRule& rule) {
        const auto is_unknown = [&](const table::Shell& shell) {
            const Fact* fact = shell.facts.find(rule.key);
            return fact != nullptr && !fact->is_known();
        };
        const bool in_all = std::ranges::all_of(format_.shells, is_unknown);
        for (const table::Shell& shell : format_.shells)
            if (is_unknown(shell))
                writer_.unknowns().add(shell.facts.find(rule.key)->unknown,
                                       std::string(rule.title) + (in_all ? "" : " of the " + shell.name));
    }

    Cell cell_of(const Fact* fact) {
        if (says_nothing(fact)) return {};
        return {{"", value_text(*fact, WithUnit::No), writer_.notes().cite(*fact)}};
    }

    // Lengths: what the cassette is, then the minutes that a source promises for it, mode by mode.

    void add_lengths() {
        const auto grades = table_.grades_in(format_);
        if (grades.empty()) return;
        const auto timed_modes = modes_with_times(grades);
        Group group{"Lengths",
                    {},
                    timed_modes.empty()
                        ? ""
                        : "Minutes without a mark are the label's, or come from it by the ratio of the speeds."};
        for (const std::string& system : label_systems(grades)) {
            Block block{{{"", "length, m", true}, {"", "thickness, µm", true}, {"", "hub, mm", true}}, {}};
            for (const auto& [mode_system, mode] : timed_modes)
                block.columns.push_back({"minutes on " + mode_system, mode, true});
            for (const auto& [owner, grade] : grades)
                if (grade->label_system == system) add_grade(block, *grade, timed_modes);
            drop_empty_columns(block);
            group.blocks.push_back(std::move(block));
        }
        writer_.page().groups.push_back(std::move(group));
    }

    /// The scanning standards whose minutes labels count; empty for labels that count none.
    static std::vector<std::string> label_systems(const std::vector<table::GradeOfFormat>& grades) {
        std::vector<std::string> systems;
        for (const auto& [owner, grade] : grades)
            if (std::ranges::find(systems, grade->label_system) == systems.end())
                systems.push_back(grade->label_system);
        return systems;
    }

    using ModeName = std::pair<std::string, std::string>;

    /// The modes that some grade has a time for: this format's own in their order, then those that only the owner of
    /// the grade has.
    std::vector<ModeName> modes_with_times(const std::vector<table::GradeOfFormat>& grades) const {
        std::vector<ModeName> timed, names;
        for (const auto& [owner, grade] : grades)
            for (const table::PlayingTime& time : grade->playing_times) timed.emplace_back(time.system, time.mode);
        for (const Mode& mode : format_.modes)
            if (std::ranges::find(timed, ModeName{mode.system, mode.id}) != timed.end())
                names.emplace_back(mode.system, mode.id);
        for (const ModeName& name : timed)
            if (std::ranges::find(names, name) == names.end()) names.push_back(name);
        return names;
    }

    void add_grade(Block& block, const Grade& grade, const std::vector<ModeName>& timed_modes) {
        Row row{joined(grade.aliases.empty() ? std::vector{grade.id} : std::vector{grade.id, joined(grade.aliases)}),
                "",
                {},
                {}};
        for (const char* key : {"length", "thickness", "hub_diameter"}) {
            const Fact* fact = grade.facts.find(key);
            row.cells.push_back(cell_of(fact));
            if (fact != nullptr && !fact->is_known())
                writer_.unknowns().add(
                    fact->unknown, std::string(table::find_rule(SectionKind::Grade, key)->title) + " of " + grade.id);
        }
        for (const auto& [system, mode] : timed_modes) row.cells.push_back(minutes_cell(grade, system, mode));
        block.rows.push_back(std::move(row));
    }

    Cell minutes_cell(const Grade& grade, const std::string& system, const std::string& mode) {
        for (const table::PlayingTime& time : grade.playing_times) {
            if (time.system != system || time.mode != mode || !time.time.is_known()) continue;
            const bool is_from_label = time.time.standing == table::Standing::Computed ||
                                       time.time.standing == table::Standing::CommonPractice;
            std::vector<Mark> marks = is_from_label ? std::vector<Mark>{} : writer_.notes().cite_origin(time.time);
            return {{"", quantity::shortest(time.time.in("min")), std::move(marks)}};
        }
        return {};
    }

    static void drop_empty_columns(Block& block) {
        for (std::size_t i = block.columns.size(); i-- > 0;) {
            if (std::ranges::any_of(block.rows, [&](const Row& row) { return !row.cells[i].empty(); })) continue;
            block.columns.erase(block.columns.begin() + static_cast<std::ptrdiff_t>(i));
            for (Row& row : block.rows) row.cells.erase(row.cells.begin() + static_cast<std::ptrdiff_t>(i));
        }
    }

    const table::Table& table_;
    const TapeFormat& format_;
    FigurePageWriter writer_;
};

}  // namespace

std::string joined(const std::vector<std::string>& parts, std::string_view by) {
    return fmt::format("{}", fmt::join(parts, by));
}

const Fact* fact_for_mode(const TapeFormat& format, const Mode& mode, const KeyRule& rule) {
    if (rule.section == SectionKind::Format) return format.facts.find(rule.key);
    if (rule.section == SectionKind::Tape) return format.tape.find(rule.key);
    if (const Fact* own = mode.facts.find(rule.key)) return own;
    if (rule.section == SectionKind::Drum) return format.drum.find(rule.key);
    const table::FormatSystem* system = format.find_system(mode.system);
    return system == nullptr ? nullptr : system->facts.find(rule.key);
}

FigurePage format_page(const table::Table& table, const TapeFormat& format) {
    return FormatWriting(table, format).whole();
}

}  // namespace guardband::report
