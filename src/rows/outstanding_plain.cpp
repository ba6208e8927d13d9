#include <algorithm>

#include "rows/outstanding.h"

namespace guardband::rows {
namespace {

void mark_outstanding(const RowAmongOthers& rows, int count, const OutstandingRules& rules, std::int8_t* marks) {
    for (int i = 0; i < count; ++i) {
        const auto here = static_cast<std::int32_t>(rows.row[i]);
        std::array<std::int32_t, 4> others{};
        for (std::size_t k = 0; k < others.size(); ++k) others[k] = static_cast<std::int32_t>(rows.others[k][i]);
        const auto [least, most] = std::ranges::minmax(others);
        const bool above = here - most > rules.by && here >= rules.high,
                   below = least - here > rules.by && here <= rules.low;
        marks[i] = static_cast<std::int8_t>((above ? 1 : 0) - (below ? 1 : 0));
    }
}

}  // namespace

MarkOutstanding plain_mark_outstanding() { return mark_outstanding; }

}  // namespace guardband::rows
