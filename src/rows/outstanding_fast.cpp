// This file is compiled once for each kind of processor, as fast.cpp is.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/outstanding_fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "rows/outstanding.h"
#include "rows/processor.h"

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Numbers = hn::CappedTag<std::int32_t, 16>;
constexpr Numbers numbers;
constexpr hn::Rebind<std::int8_t, Numbers> bytes;

void mark_outstanding(const RowAmongOthers& rows, int count, const OutstandingRules& rules, std::int8_t* marks) {
    const auto lanes = static_cast<int>(hn::Lanes(numbers));
    const auto by = hn::Set(numbers, rules.by), high = hn::Set(numbers, rules.high), low = hn::Set(numbers, rules.low);
    const auto load = [](const std::uint32_t* from)
                          HWY_ATTR { return hn::BitCast(numbers, hn::LoadU(hn::RebindToUnsigned<Numbers>(), from)); };
    int i = 0;
    for (; i + lanes <= count; i += lanes) {
        const auto here = load(rows.row + i);
        const auto a = load(rows.others[0] + i), b = load(rows.others[1] + i), c = load(rows.others[2] + i),
                   d = load(rows.others[3] + i);
        const auto most = hn::Max(hn::Max(a, b), hn::Max(c, d)), least = hn::Min(hn::Min(a, b), hn::Min(c, d));
        const auto above = hn::AndNot(hn::Lt(here, high), hn::Gt(hn::Sub(here, most), by));
        const auto below = hn::AndNot(hn::Gt(here, low), hn::Gt(hn::Sub(least, here), by));
        // A mask's vector has −1 where it is set.
        const auto mark = hn::Sub(hn::VecFromMask(numbers, below), hn::VecFromMask(numbers, above));
        hn::StoreU(hn::DemoteTo(bytes, mark), bytes, marks + i);
    }
    if (i == count) return;
    RowAmongOthers rest = rows;
    rest.row += i;
    for (auto& other : rest.others) other += i;
    plain_mark_outstanding()(rest, count - i, rules, marks + i);
}

MarkOutstanding mark_for_target() { return mark_outstanding; }

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {

std::vector<NamedMarkOutstanding> fast_mark_outstanding_of_each_target() {
    std::vector<NamedMarkOutstanding> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    if (has.runs_here) all.push_back({#processor, N_##processor::mark_for_target()});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    all.push_back({"baseline", HWY_STATIC_DISPATCH(mark_for_target)()});
    return all;
}

MarkOutstanding fast_mark_outstanding() {
    static const MarkOutstanding best = fast_mark_outstanding_of_each_target().front().mark;
    return best;
}

}  // namespace guardband::rows
#endif
