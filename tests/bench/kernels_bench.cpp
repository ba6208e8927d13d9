// What the row kernels and the features of a frame cost. Prints ns per row and GB/s of samples read; passes or fails
// nothing.
#include <benchmark/benchmark.h>

#include <random>

#include "measure/features.h"
#include "rows/kernels.h"
#include "rows/outstanding.h"
#include "rows/shift_kernels.h"
#include "rows/signal_kernels.h"
#include "rows/spectra.h"
#include "support/clip_frames.h"

namespace guardband {
namespace {

constexpr int width = 720;

template <typename Sample>
std::vector<Sample> random_row(unsigned seed) {
    std::mt19937 random(seed);
    std::vector<Sample> row(width);
    for (auto& sample : row) sample = static_cast<Sample>(random() & (sizeof(Sample) == 1 ? 0xFF : 0x3FF));
    return row;
}

void count_rows(benchmark::State& state, int rows_read, std::size_t sample_bytes) {
    const auto runs = static_cast<double>(state.iterations());
    state.counters["GB/s"] = benchmark::Counter(runs * rows_read * width * static_cast<double>(sample_bytes) * 1e-9,
                                                benchmark::Counter::kIsRate);
}

template <typename Sample, bool fast>
const rows::Kernels<Sample>& kernels() {
    return fast ? rows::fast_kernels<Sample>() : rows::plain_kernels<Sample>();
}

template <typename Sample, bool fast>
void segment_sums(benchmark::State& state) {
    const auto row = random_row<Sample>(1);
    std::vector<std::uint32_t> sums(width / 16);
    for (auto _ : state) {
        kernels<Sample, fast>().add_segment_sums(row.data(), width, sums.data());
        benchmark::DoNotOptimize(sums.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 1, sizeof(Sample));
}

template <typename Sample, bool fast>
void segment_squared_differences(benchmark::State& state) {
    const auto row = random_row<Sample>(1), other = random_row<Sample>(2);
    std::vector<std::uint32_t> sums(width / 16);
    for (auto _ : state) {
        benchmark::DoNotOptimize(
            kernels<Sample, fast>().add_segment_squared_differences(row.data(), other.data(), width, sums.data()));
        benchmark::ClobberMemory();
    }
    count_rows(state, 2, sizeof(Sample));
}

template <typename Sample, bool fast>
void comb_moments(benchmark::State& state) {
    const auto a = random_row<Sample>(1), b = random_row<Sample>(2), c = random_row<Sample>(3);
    std::vector<rows::CombMoments> cells(width / rows::comb_cell_samples);
    for (auto _ : state) {
        kernels<Sample, fast>().comb_moments(a.data(), b.data(), c.data(), width, 0, cells.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 3, sizeof(Sample));
}

template <typename Sample, bool fast>
void smooth_and_slope(benchmark::State& state) {
    const auto row = random_row<Sample>(1);
    std::vector<std::int16_t> smooth(width), slope(width);
    for (auto _ : state) {
        kernels<Sample, fast>().smooth_and_slope(row.data(), width, sizeof(Sample) == 1 ? 8 : 10, smooth.data(),
                                                 slope.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 1, sizeof(Sample));
}

template <typename Sample, bool fast>
void row_moments(benchmark::State& state) {
    const auto row = random_row<Sample>(1);
    std::vector<std::uint32_t> sums(width / rows::segment_samples), squares(width / rows::comb_cell_samples);
    for (auto _ : state) {
        kernels<Sample, fast>().row_moments(row.data(), width, sums.data(), squares.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 1, sizeof(Sample));
}

template <typename Sample, bool fast>
void comb_products(benchmark::State& state) {
    const auto a = random_row<Sample>(1), b = random_row<Sample>(2), c = random_row<Sample>(3);
    std::vector<std::uint32_t> products(width / rows::comb_cell_samples);
    for (auto _ : state) {
        kernels<Sample, fast>().comb_products(a.data(), b.data(), c.data(), width, products.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 3, sizeof(Sample));
}

template <typename Sample, bool fast>
void columns(benchmark::State& state) {
    const auto row = random_row<Sample>(1);
    std::vector<std::uint16_t> sums(width);
    for (auto _ : state) {
        kernels<Sample, fast>().add_to_columns(row.data(), width, sums.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 1, sizeof(Sample));
}

template <typename Sample, bool fast>
void codes(benchmark::State& state) {
    const auto row = random_row<Sample>(1);
    std::vector<std::uint32_t> counts(4096);
    for (auto _ : state) {
        kernels<Sample, fast>().count_codes(row.data(), width, sizeof(Sample) == 1 ? 256 : 1024, counts.data());
        benchmark::ClobberMemory();
    }
    count_rows(state, 1, sizeof(Sample));
}

#define GUARDBAND_BENCH_ALL(name)          \
    BENCHMARK(name<std::uint8_t, false>);  \
    BENCHMARK(name<std::uint8_t, true>);   \
    BENCHMARK(name<std::uint16_t, false>); \
    BENCHMARK(name<std::uint16_t, true>)
GUARDBAND_BENCH_ALL(segment_sums);
GUARDBAND_BENCH_ALL(segment_squared_differences);
GUARDBAND_BENCH_ALL(row_moments);
GUARDBAND_BENCH_ALL(comb_products);
GUARDBAND_BENCH_ALL(comb_moments);
GUARDBAND_BENCH_ALL(columns);
GUARDBAND_BENCH_ALL(codes);
GUARDBAND_BENCH_ALL(smooth_and_slope);
#undef GUARDBAND_BENCH_ALL

std::vector<float> random_signal(std::size_t count) {
    std::mt19937 random(9);
    std::normal_distribution<float> normal(0, 40);
    std::vector<float> out(count);
    for (float& one : out) one = normal(random);
    return out;
}

const rows::SignalKernels& signal_kernels(bool fast) {
    return fast ? rows::fast_signal_kernels() : rows::plain_signal_kernels();
}

/// A row filtered by a slope of five taps to either side; argument: fast.
void odd_filter(benchmark::State& state) {
    const auto row = random_signal(width), weights = random_signal(5);
    std::vector<float> out(width);
    for (auto _ : state) {
        signal_kernels(state.range(0) != 0).odd_filter(row.data(), width, weights.data(), 5, out.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(odd_filter)->Arg(0)->Arg(1);

/// 40 samples against 13 lags; argument: fast.
void correlate(benchmark::State& state) {
    const auto a = random_signal(40), b = random_signal(52);
    std::vector<float> out(13);
    for (auto _ : state) {
        signal_kernels(state.range(0) != 0).correlate(a.data(), b.data(), 40, 13, out.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(correlate)->Arg(0)->Arg(1);

/// A piece of 40 samples moved on and 24 of it compared; argument: fast.
void piece(benchmark::State& state) {
    const auto in = random_signal(48), row = random_signal(48), weights = random_signal(4);
    std::vector<float> out(48);
    rows::PieceMoments moments;
    for (auto _ : state) {
        const auto& kernels = signal_kernels(state.range(0) != 0);
        kernels.interpolate(in.data() + 4, 40, weights.data(), out.data());
        kernels.piece_moments(row.data() + 8, out.data() + 8, nullptr, 24, &moments);
        benchmark::DoNotOptimize(moments);
    }
}
BENCHMARK(piece)->Arg(0)->Arg(1);

const rows::ShiftKernels& shift_kernels(bool fast) {
    return fast ? rows::fast_shift_kernels() : rows::plain_shift_kernels();
}

std::vector<std::int16_t> random_samples(std::size_t count, unsigned most = 0xFFF) {
    std::mt19937 random(11);
    std::vector<std::int16_t> out(count);
    for (auto& one : out) one = static_cast<std::int16_t>(random() & most);
    return out;
}

/// The cells of two rows; argument: fast.
void fit_cells(benchmark::State& state) {
    const auto a = random_samples(width), b = random_samples(width);
    std::vector<float> shifts(rows::most_shift_cells), weights = shifts;
    for (auto _ : state) {
        benchmark::DoNotOptimize(shift_kernels(state.range(0) != 0)
                                     .fit_cells({a.data(), b.data(), b.data(), a.data()},
                                                width / rows::shift_cell_samples, 0, {2560, 40, 3}, shifts.data(),
                                                weights.data()));
        benchmark::ClobberMemory();
    }
    count_rows(state, 4, sizeof(std::int16_t));
}
BENCHMARK(fit_cells)->Arg(0)->Arg(1);

/// The same of the changes along them; argument: fast.
void fit_changes(benchmark::State& state) {
    const auto a = random_samples(width + 1, 0x3FF), b = random_samples(width + 1, 0x3FF);
    std::vector<float> shifts(rows::most_shift_cells), weights = shifts;
    for (auto _ : state) {
        benchmark::DoNotOptimize(shift_kernels(state.range(0) != 0)
                                     .fit_changes({a.data(), b.data(), b.data(), a.data()},
                                                  width / rows::shift_cell_samples, 0, {1280, 40, 4}, shifts.data(),
                                                  weights.data()));
        benchmark::ClobberMemory();
    }
    count_rows(state, 4, sizeof(std::int16_t));
}
BENCHMARK(fit_changes)->Arg(0)->Arg(1);

/// The means of a field's lines, nine cells each; argument: fast.
void means_of_lines(benchmark::State& state) {
    constexpr std::size_t lines = 288;
    const auto values = random_signal(9 * lines);
    const std::vector<float> weights(9 * lines, 20);
    std::vector<float> means(lines), sure(lines);
    for (auto _ : state) {
        shift_kernels(state.range(0) != 0)
            .means_of_lines({values.data(), weights.data(), lines, 9, lines}, 0.001F, means.data(), sure.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(means_of_lines)->Arg(0)->Arg(1);

/// The middle of a row reduced and laid at 49 places; argument: fast.
void search_row(benchmark::State& state) {
    const auto row = random_samples(4 * (80 + 48));
    std::vector<std::int16_t> reduced(80 + 48);
    std::vector<float> misfits(49);
    for (auto _ : state) {
        shift_kernels(state.range(0) != 0).quarter(row.data(), 80 + 48, reduced.data());
        shift_kernels(state.range(0) != 0).misfits(reduced.data(), reduced.data(), 49, misfits.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(search_row)->Arg(0)->Arg(1);

/// A twelfth of a field of sums over 32 samples; argument: fast.
void movement_sums(benchmark::State& state) {
    constexpr std::size_t stride = 32, height = 24;
    const auto field = random_signal(stride * (height + 2));
    std::vector<float> sums(5 * stride);
    const float* first = field.data() + stride;
    for (auto _ : state) {
        shift_kernels(state.range(0) != 0)
            .movement_sums({first, first, first, first, stride}, height, 20,
                           {sums.data(), sums.data() + stride, sums.data() + 2 * stride, sums.data() + 3 * stride,
                            sums.data() + 4 * stride});
        benchmark::ClobberMemory();
    }
}
BENCHMARK(movement_sums)->Arg(0)->Arg(1);

/// A windowed piece's spectrum; argument: fast.
void spectrum(benchmark::State& state) {
    const auto in = random_signal(rows::spectrum_samples), window = random_signal(rows::spectrum_samples);
    std::vector<std::complex<float>> out(rows::spectrum_bins);
    const auto transform = state.range(0) != 0 ? rows::fast_spectrum() : rows::plain_spectrum();
    for (auto _ : state) {
        transform(in.data(), window.data(), out.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(spectrum)->Arg(0)->Arg(1);

/// All features of frames of random samples; argument: bits. Sixteen frames, so that they come from memory as decoded
/// ones would.
void frame_features(benchmark::State& state) {
    const auto format = support::luma_format(width, 576, static_cast<int>(state.range(0)));
    std::mt19937 random(5);
    std::vector<media::Frame> frames;
    for (int index = 0; index < 16; ++index) {
        support::Planes planes;
        planes.luma.resize(std::size_t{width} * 576);
        for (auto& sample : planes.luma) sample = static_cast<std::uint16_t>(random() & ((1U << format.bit_depth) - 1));
        frames.push_back(support::make_frame(format, planes, index));
    }
    measure::FeatureExtractor extractor(format);
    std::size_t i = 0;
    for (auto _ : state) benchmark::DoNotOptimize(&extractor.extract(frames[i++ % frames.size()]));
}
BENCHMARK(frame_features)->Arg(8)->Arg(10)->Unit(benchmark::kMicrosecond);

void mark_outstanding(benchmark::State& state) {
    std::mt19937 random(1);
    std::vector<std::uint32_t> numbers(5 * 45);
    for (auto& number : numbers) number = random() % 16384;
    std::vector<std::int8_t> marks(45);
    const auto* n = numbers.data();
    const auto mark = state.range(0) != 0 ? rows::fast_mark_outstanding() : rows::plain_mark_outstanding();
    for (auto _ : state) {
        mark({n, {n + 45, n + 90, n + 135, n + 180}}, 45, {500, 12000, 2000}, marks.data());
        benchmark::DoNotOptimize(marks.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(mark_outstanding)->Arg(0)->Arg(1);

}  // namespace
}  // namespace guardband

BENCHMARK_MAIN();
