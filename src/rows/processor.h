#pragma once

#include <hwy/detect_targets.h>

namespace guardband::rows {

/// What the processor has of each kind of instructions that kernels are compiled for. It is asked here and not by
/// Highway's library, which at every start of the program spends 4 ms on timing a clock that nobody reads: half of what
/// a command of the table takes.
struct Processor {
    bool sse4 = false, avx2 = false, avx3 = false;
};

inline Processor this_processor() {
    Processor has;
#if HWY_ARCH_X86
    __builtin_cpu_init();
    has.sse4 = __builtin_cpu_supports("sse4.2") && __builtin_cpu_supports("aes") && __builtin_cpu_supports("pclmul");
    has.avx2 = has.sse4 && __builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi2") &&
               __builtin_cpu_supports("bmi") && __builtin_cpu_supports("fma");
    has.avx3 = has.avx2 && __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
               __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw");
#endif
    return has;
}

}  // namespace guardband::rows

#if HWY_ARCH_X86 && (HWY_TARGETS & HWY_AVX3)
#define GUARDBAND_FOR_AVX3(act) act(AVX3, avx3)
#else
#define GUARDBAND_FOR_AVX3(act)
#endif
#if HWY_ARCH_X86 && (HWY_TARGETS & HWY_AVX2)
#define GUARDBAND_FOR_AVX2(act) act(AVX2, avx2)
#else
#define GUARDBAND_FOR_AVX2(act)
#endif
#if HWY_ARCH_X86 && (HWY_TARGETS & HWY_SSE4)
#define GUARDBAND_FOR_SSE4(act) act(SSE4, sse4)
#else
#define GUARDBAND_FOR_SSE4(act)
#endif

/// `act(Highway's name, member of Processor)` for each kind of processor that a file is compiled for beside the one
/// every processor is, best first.
#define GUARDBAND_FOR_EACH_PROCESSOR(act) GUARDBAND_FOR_AVX3(act) GUARDBAND_FOR_AVX2(act) GUARDBAND_FOR_SSE4(act)
