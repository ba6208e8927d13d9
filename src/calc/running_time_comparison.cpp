#include "calc/running_time_comparison.h"

#include <algorithm>

namespace guardband::calc {
namespace {

using Rows = std::vector<const RunningTime*>;

bool is_common(const RunningTime& row) { return row.grade->facts.known("common") != nullptr; }

/// Where some labels count this system's minutes, the rows without those whose label counts another's.
Rows at_home(const Rows& rows) {
    const auto counts_own = [](const RunningTime* row) { return row->grade->label_system == row->mode->system; };
    if (std::ranges::none_of(rows, counts_own)) return rows;
    Rows kept;
    std::ranges::copy_if(rows, std::back_inserter(kept),
                         [](const RunningTime* row) { return !row->crosses_systems(); });
    return kept;
}

CassetteSpan span_of(const Rows& rows, const table::Grade* grade) {
    Rows own;
    std::ranges::copy_if(rows, std::back_inserter(own), [&](const RunningTime* row) { return row->grade == grade; });
    const auto by_time = [](const RunningTime* row) { return row->seconds.value; };
    const auto [shortest, longest] = std::ranges::minmax_element(own, {}, by_time);
    return {**shortest, **longest};
}

ComparedFormat compared(const table::Table& table, const Rows& all) {
    const Rows rows = at_home(all);
    const auto length = [](const RunningTime* row) { return row->length_m.value; };
    const RunningTime& most = **std::ranges::max_element(rows, {}, length);
    ComparedFormat entry{most.format, table.find_scanning(most.mode->system), std::nullopt, span_of(rows, most.grade)};
    const auto common = std::ranges::find_if(rows, [](const RunningTime* row) { return is_common(*row); });
    if (common != rows.end()) entry.standard = span_of(rows, (*common)->grade);
    return entry;
}

}  // namespace

std::vector<ComparedFormat> compared_running_times(const table::Table& table, const std::vector<RunningTime>& rows) {
    std::vector<Rows> groups;
    for (const RunningTime& row : rows) {
        if (row.grade == nullptr) continue;
        const auto same = std::ranges::find_if(groups, [&](const Rows& group) {
            return group.front()->format == row.format && group.front()->mode->system == row.mode->system;
        });
        (same == groups.end() ? groups.emplace_back() : *same).push_back(&row);
    }
    std::vector<ComparedFormat> entries;
    for (const Rows& group : groups) entries.push_back(compared(table, group));
    return entries;
}

}  // namespace guardband::calc
