#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace guardband::rows {

/// A row of numbers and those that stand around each of them: above, below, before and after. All below 2³¹.
struct RowAmongOthers {
    const std::uint32_t* row;
    std::array<const std::uint32_t*, 4> others;
};

/// What stands out does so by more than `by`, and is at least `high` or at most `low`.
struct OutstandingRules {
    std::int32_t by, high, low;
};

/// Marks what stands out of all four others: 1 above them, −1 below them, 0 neither.
using MarkOutstanding = void (*)(const RowAmongOthers& rows, int count, const OutstandingRules& rules,
                                 std::int8_t* marks);

/// Written for the reader; the truth that the fast version is tested against.
MarkOutstanding plain_mark_outstanding();

/// Chosen at the first call for the processor that runs it. Agrees to the bit.
MarkOutstanding fast_mark_outstanding();

struct NamedMarkOutstanding {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    MarkOutstanding mark;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen.
std::vector<NamedMarkOutstanding> fast_mark_outstanding_of_each_target();

}  // namespace guardband::rows
