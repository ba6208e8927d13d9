// This file is compiled once for each kind of processor, as fast.cpp is.
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_AVX3_DL)
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "rows/filters_fast.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "rows/filters.h"
#include "rows/processor.h"

HWY_BEFORE_NAMESPACE();
namespace guardband::rows::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Group = hn::CappedTag<float, filter_tap_group>;
constexpr Group group;

/// One result at a time, eight taps at once: for results that lie apart.
void filter_apart(const float* x, const float* taps, int tap_count, int step, int outputs, float* out) {
    const auto lanes = static_cast<int>(hn::Lanes(group));
    for (int i = 0; i < outputs; ++i, x += step) {
        auto sum = hn::Zero(group);
        for (int k = 0; k < tap_count; k += lanes)
            sum = hn::MulAdd(hn::LoadU(group, taps + k), hn::LoadU(group, x + k), sum);
        out[i] = hn::GetLane(hn::SumOfLanes(group, sum));
    }
}

/// Several neighbouring results at once, one tap at a time.
void filter_all(const float* x, const float* taps, int tap_count, int outputs, float* out) {
    const auto lanes = static_cast<int>(hn::Lanes(group));
    int i = 0;
    for (; i + lanes <= outputs; i += lanes) {
        auto sum = hn::Zero(group);
        for (int k = 0; k < tap_count; ++k) sum = hn::MulAdd(hn::Set(group, taps[k]), hn::LoadU(group, x + i + k), sum);
        hn::StoreU(sum, group, out + i);
    }
    if (i < outputs) filter_apart(x + i, taps, tap_count, 1, outputs - i, out + i);
}

void filter_samples(const float* x, const float* taps, int tap_count, int step, int outputs, float* out) {
    if (step == 1)
        filter_all(x, taps, tap_count, outputs, out);
    else
        filter_apart(x, taps, tap_count, step, outputs, out);
}

FilterSamples filter_for_target() { return filter_samples; }

}  // namespace guardband::rows::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace guardband::rows {

std::vector<NamedFilter> fast_filters_of_each_target() {
    std::vector<NamedFilter> all;
    [[maybe_unused]] const Processor has = this_processor();
#define GUARDBAND_ADD(processor, runs_here) \
    if (has.runs_here) all.push_back({#processor, N_##processor::filter_for_target()});
    GUARDBAND_FOR_EACH_PROCESSOR(GUARDBAND_ADD)
#undef GUARDBAND_ADD
    all.push_back({"baseline", HWY_STATIC_DISPATCH(filter_for_target)()});
    return all;
}

FilterSamples fast_filter() {
    static const FilterSamples best = fast_filters_of_each_target().front().filter;
    return best;
}

}  // namespace guardband::rows
#endif
