#include "report/comparison.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "quantity/quantity.h"
#include "report/fact_text.h"
#include "report/figure_groups.h"
#include "report/figure_page_text.h"
#include "report/format_page.h"
#include "report/json.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::KeyRule;
using table::Mode;
using table::Table;
using Values = std::vector<ComparedFact>;

bool is_known(const Fact* fact) { return fact != nullptr && fact->is_known(); }

bool read_alike(const Fact* a, const Fact* b) {
    return is_known(a) == is_known(b) && (!is_known(a) || value_text(*a) == value_text(*b));
}

/// The modes of a format on one scanning standard, or all of them.
std::vector<const Mode*> modes_of(const table::TapeFormat& format, const std::string& system = "") {
    std::vector<const Mode*> modes;
    for (const Mode& mode : format.modes)
        if (system.empty() || mode.system == system) modes.push_back(&mode);
    return modes;
}

/// One fact if all of the modes have it alike.
std::optional<const Fact*> shared_fact(const table::TapeFormat& format, const std::vector<const Mode*>& modes,
                                       const KeyRule& rule) {
    const Fact* first = fact_for_mode(format, *modes.front(), rule);
    const bool alike = std::ranges::all_of(
        modes, [&](const Mode* mode) { return read_alike(fact_for_mode(format, *mode, rule), first); });
    return alike ? std::optional(first) : std::nullopt;
}

void add_known(Values& values, std::string holds_for, const Fact* fact) {
    if (is_known(fact)) values.push_back({std::move(holds_for), fact});
}

/// Said once for all modes if it can be, else once for each system that can, else for each mode.
Values values_of(const table::TapeFormat& format, const KeyRule& rule) {
    Values values;
    if (const auto shared = shared_fact(format, modes_of(format), rule)) {
        add_known(values, "", *shared);
        return values;
    }
    for (const table::FormatSystem& system : format.systems) {
        const auto modes = modes_of(format, system.id);
        if (modes.empty()) continue;
        if (const auto shared = shared_fact(format, modes, rule))
            add_known(values, system.id, *shared);
        else
            for (const Mode* mode : modes)
                add_known(values, system.id + " " + mode->id, fact_for_mode(format, *mode, rule));
    }
    return values;
}

Values values_of(const Table& table, const Subject& subject, const KeyRule& rule) {
    Values values;
    if (subject.format == nullptr)
        add_known(values, "", fact_for_system(table, subject.system, rule));
    else if (subject.mode != nullptr)
        add_known(values, "", fact_for_mode(*subject.format, *subject.mode, rule));
    else
        values = values_of(*subject.format, rule);
    return values;
}

/// Half the last digit of a single printed number, in the unit asked for; nothing for a range, which has no one value.
std::optional<double> rounding_in(const Fact& fact, const quantity::Unit& unit) {
    const bool is_range = fact.printed.find_first_of("-–", 1) != std::string::npos && !fact.exact;
    if (is_range) return std::nullopt;
    return fact.exact ? 0 : quantity::converted(quantity::half_last_digit(fact.printed), *fact.unit, unit);
}

Relation relation_of(const Fact& a, const Fact& b) {
    if (value_text(a) == value_text(b)) return Relation::Same;
    if (!a.is_number() || !b.is_number()) return Relation::Differ;
    const auto rounding_a = rounding_in(a, *a.unit), rounding_b = rounding_in(b, *a.unit);
    if (!rounding_a || !rounding_b) return Relation::Differ;
    const double apart = std::abs(*a.value - b.in(a.unit->name)), slack = 1e-9 * std::abs(*a.value);
    return apart <= std::max(*rounding_a, *rounding_b) + slack ? Relation::Near : Relation::Differ;
}

Relation relation_of(const Values& a, const Values& b) {
    if (a.size() != b.size()) return Relation::Differ;
    Relation relation = Relation::Same;
    for (std::size_t i = 0; i < a.size(); ++i) {
        const Relation here = a[i].holds_for == b[i].holds_for ? relation_of(*a[i].fact, *b[i].fact) : Relation::Differ;
        if (here == Relation::Differ) return here;
        if (here == Relation::Near) relation = here;
    }
    return relation;
}

Relation relation_among(const std::vector<Values>& subjects) {
    Relation relation = Relation::Same;
    for (std::size_t i = 0; i < subjects.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (subjects[i].empty() || subjects[j].empty()) continue;
            const Relation here = relation_of(subjects[i], subjects[j]);
            if (here == Relation::Differ) return here;
            if (here == Relation::Near) relation = here;
        }
    }
    const bool in_all = std::ranges::none_of(subjects, [](const Values& values) { return values.empty(); });
    return in_all ? relation : Relation::Partly;
}

Cell cell_of(const Values& values, WithUnit with_unit, PageNotes& notes) {
    Cell cell;
    for (const ComparedFact& value : values)
        cell.push_back({value.holds_for, value_text(*value.fact, with_unit), notes.cite(*value.fact)});
    return cell;
}

Row row_of(const ComparedFigure& figure, PageNotes& notes) {
    std::vector<const Fact*> facts;
    for (const Values& values : figure.values)
        for (const ComparedFact& value : values) facts.push_back(value.fact);
    Row row{std::string(figure.rule->title), common_unit(facts), {}, figure.relation};
    for (const Values& values : figure.values)
        row.cells.push_back(cell_of(values, row.unit.empty() ? WithUnit::Yes : WithUnit::No, notes));
    return row;
}

/// `video heads 2 [3]`: what need not stand in columns.
std::string once(const ComparedFigure& figure, PageNotes& notes) {
    std::string text(figure.rule->title);
    if (figure.values.front().size() > 1) return text + ", mode by mode";
    for (const Entry& entry : cell_of(figure.values.front(), WithUnit::Yes, notes)) text += " " + cell_text({entry});
    return text;
}

Group group_of(std::string_view title, const std::vector<ComparedFigure>& figures, const std::vector<Subject>& subjects,
               PageNotes& notes) {
    Block block;
    for (const Subject& subject : subjects) block.columns.push_back({"", subject.name});
    std::vector<std::string> same;
    for (const ComparedFigure& figure : figures) {
        if (figure.group != title) continue;
        if (figure.relation == Relation::Same)
            same.push_back(once(figure, notes));
        else
            block.rows.push_back(row_of(figure, notes));
    }
    Group group{std::string(title), {}, same.empty() ? "" : "the same: " + joined(same, "; ")};
    if (!block.rows.empty()) group.blocks.push_back(std::move(block));
    return group;
}

std::string names_of(const std::vector<Subject>& subjects) {
    std::vector<std::string> names;
    for (const Subject& subject : subjects) names.push_back(subject.name);
    return joined(names);
}

std::string_view word_for(Relation relation) {
    switch (relation) {
        case Relation::Same:
            return "same";
        case Relation::Near:
            return "same within rounding";
        case Relation::Differ:
            return "differ";
        case Relation::Partly:
        case Relation::NotCompared:
            break;
    }
    return "known for some";
}

Json json_of(const ComparedFigure& figure) {
    Json json = {{"group", figure.group},
                 {"section", to_string(figure.rule->section)},
                 {"key", figure.rule->key},
                 {"title", figure.rule->title},
                 {"relation", word_for(figure.relation)}};
    json["values"] = Json::array();
    for (const Values& values : figure.values) {
        Json list = Json::array();
        for (const ComparedFact& value : values) {
            Json entry = Json::object();
            if (!value.holds_for.empty()) entry["holds_for"] = value.holds_for;
            entry.update(to_json(*value.fact));
            list.push_back(std::move(entry));
        }
        json["values"].push_back(std::move(list));
    }
    return json;
}

}  // namespace

std::vector<ComparedFigure> compared(const Table& table, const std::vector<Subject>& subjects) {
    std::vector<ComparedFigure> figures;
    for (const FigureGroup& group : subjects.front().format == nullptr ? system_groups() : format_groups()) {
        for (const KeyRule* rule : group.rules) {
            ComparedFigure figure{group.title, rule, Relation::Same, {}};
            for (const Subject& subject : subjects) figure.values.push_back(values_of(table, subject, *rule));
            if (std::ranges::all_of(figure.values, &Values::empty)) continue;
            figure.relation = relation_among(figure.values);
            figures.push_back(std::move(figure));
        }
    }
    return figures;
}

std::string comparison_text(const Table& table, const std::vector<Subject>& subjects) {
    const auto figures = compared(table, subjects);
    FigurePageWriter writer(table, "Comparison of " + names_of(subjects));
    writer.page().introduction.emplace_back(
        "≠ they differ; ≈ the same within their rounding or tolerance; ? known for some only.");
    for (const FigureGroup& group : subjects.front().format == nullptr ? system_groups() : format_groups())
        if (std::ranges::find(figures, group.title, &ComparedFigure::group) != figures.end())
            writer.page().groups.push_back(group_of(group.title, figures, subjects, writer.notes()));
    return figure_page_text(std::move(writer).finish(), table.edition);
}

std::string comparison_json(const Table& table, const std::vector<Subject>& subjects) {
    Json json = {{"compared", Json::array()}, {"figures", Json::array()}};
    for (const Subject& subject : subjects) json["compared"].push_back(subject.name);
    for (const ComparedFigure& figure : compared(table, subjects)) json["figures"].push_back(json_of(figure));
    return to_text(with_edition(std::move(json), table));
}

}  // namespace guardband::report
