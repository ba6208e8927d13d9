#include "judge/judge.h"

#include <algorithm>

namespace guardband::judge {
namespace {

using quantity::Figure;
using quantity::Figures;
using quantity::Limit;
using quantity::Verdict;
using table::LimitRule;

constexpr double coverage_factor = 2;  // JCGM 106: rejection with about 97.5 % confidence for a normal error

bool carries(const Figure& figure, const std::string& word) { return figure.note().find(word) != std::string::npos; }

bool holds_for(const LimitRule& rule, const std::string& id, const Figure& figure, const Recording& recording) {
    return rule.figure == id && (rule.scanning.empty() || rule.scanning == recording.scanning) &&
           (rule.format.empty() || rule.format == recording.format) &&
           (rule.setting.empty() || rule.setting == recording.setting) &&
           (rule.condition.empty() || carries(figure, rule.condition)) &&
           (rule.unless.empty() || !carries(figure, rule.unless));
}

int closeness(const LimitRule& rule) {
    return 8 * int(!rule.setting.empty()) + 4 * int(!rule.format.empty()) + 2 * int(!rule.scanning.empty()) +
           int(!rule.condition.empty());
}

/// The closest rule; among equals the last, so that a user's own file wins over the built-in one.
const LimitRule* rule_for(const std::string& id, const Figure& figure, const table::Table& table,
                          const Recording& recording) {
    const LimitRule* best = nullptr;
    for (const LimitRule& rule : table.limits)
        if (holds_for(rule, id, figure, recording) && (best == nullptr || closeness(rule) >= closeness(*best)))
            best = &rule;
    return best;
}

std::string source_text(const LimitRule& rule, const table::Table& table) {
    const table::Source* source = table.find_source(rule.source);
    std::string text = source == nullptr ? rule.source : source->title;
    if (!rule.where.empty()) text += ", " + rule.where;
    if (!rule.note.empty()) text += ": " + rule.note;
    return text;
}

double in_unit_of(const table::Fact& end, const Figure& figure) {
    return quantity::converted(*end.value, *end.unit, quantity::unit_named(figure.unit()));
}

Verdict verdict_of(double value, double uncertainty, const Limit& limit) {
    const double guard = coverage_factor * uncertainty;
    const bool outside = (limit.low && value < *limit.low - guard) || (limit.high && value > *limit.high + guard);
    return outside ? Verdict::Outside : Verdict::Within;
}

void judge_number(Figure& figure, const LimitRule& rule, Limit limit) {
    if (rule.low) limit.low = in_unit_of(*rule.low, figure);
    if (rule.high) limit.high = in_unit_of(*rule.high, figure);
    if (!limit.low && !limit.high) return;
    figure.judge(limit, verdict_of(*figure.number(), figure.uncertainty().value_or(0), limit));
}

void judge_text(Figure& figure, Limit limit) {
    if (!limit.text) return;
    const bool same = std::get<std::string>(figure.value()) == *limit.text;
    figure.judge(limit, same ? Verdict::Within : Verdict::Outside);
}

void judge_figure(Figure& figure, const LimitRule& rule, const Figures& figures, const table::Table& table) {
    Limit limit;
    limit.source = source_text(rule, table);
    limit.text = rule.text;
    if (!rule.equals_figure.empty()) {
        const Figure* other = figures.find(rule.equals_figure);
        if (other == nullptr || !std::holds_alternative<std::string>(other->value())) return;
        limit.text = std::get<std::string>(other->value());
    }
    if (figure.number())
        judge_number(figure, rule, limit);
    else
        judge_text(figure, limit);
}

}  // namespace

void judge(Figures& figures, const table::Table& table, const Recording& recording) {
    for (auto& [id, figure] : figures.all()) {
        if (!figure.is_known()) continue;
        if (const LimitRule* rule = rule_for(id, figure, table, recording)) judge_figure(figure, *rule, figures, table);
    }
}

int count_outside(const Figures& figures) {
    return static_cast<int>(std::ranges::count_if(
        figures.all(), [](const auto& entry) { return entry.second.verdict() == Verdict::Outside; }));
}

}  // namespace guardband::judge
