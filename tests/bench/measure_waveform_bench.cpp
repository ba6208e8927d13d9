// What measuring composite video costs: 8-bit samples at 16 MS/s, in CPU time against the video's own time, and in
// samples a second against what one core reads from memory. Prints ratios; never passes or fails.
//
//     measure_waveform_bench [SECONDS]      of video, 10 if not given

#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numeric>
#include <vector>

#include "measure/waveform/waveform.h"
#include "testsignal/composite/maker.h"

namespace guardband {
namespace {

constexpr double rate_hz = 16e6;

rusage usage() {
    rusage used{};
    getrusage(RUSAGE_SELF, &used);
    return used;
}

double cpu_s() {
    const rusage used = usage();
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(used.ru_utime) + seconds(used.ru_stime);
}

/// A second of noisy bars, again and again: whole frames, so that nothing jumps.
void make_file(const table::Table& table, const std::string& path, int seconds) {
    testsignal::CompositeRecipe recipe;
    recipe.system = testsignal::composite_system(table, "PAL");
    recipe.duration_s = 1;
    recipe.disturbance.snr_db = 42;
    recipe.insertions = {{17, testsignal::InsertionSignal::BarPulseStaircase}};
    testsignal::CompositeMaker maker(recipe);
    std::vector<float> some;
    std::vector<char> codes;
    while (maker.next(some))
        for (const float s : some)
            codes.push_back(static_cast<char>(static_cast<unsigned char>(std::clamp(128 + 128 * s, 0.0F, 255.0F))));
    std::ofstream stream(path, std::ios::binary);
    for (int i = 0; i < seconds; ++i) stream.write(codes.data(), static_cast<std::streamsize>(codes.size()));
}

/// Bytes a second that one core reads from memory.
double memory_bytes_per_s() {
    const std::vector<std::uint64_t> store(1 << 25, 1);
    const auto start = std::chrono::steady_clock::now();
    volatile std::uint64_t sum = std::accumulate(store.begin(), store.end(), std::uint64_t{0});
    (void)sum;
    return static_cast<double>(store.size() * sizeof(std::uint64_t)) /
           std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

void run(int seconds) {
    const table::Table table = table::load_table();
    const std::string path = (std::filesystem::temp_directory_path() / "guardband_waveform_bench.u8").string();
    make_file(table, path, seconds);
    media::SoundOptions read;
    read.sample_rate_hz = rate_hz;
    const auto open = [&] { return media::open_raw_samples(path, media::SampleFormat::U8, read); };
    const double memory = memory_bytes_per_s();
    fmt::print("{:>8} {:>8} {:>17} {:>20} {:>10}\n", "video s", "CPU s", "times real time", "share of memory rate",
               "peak MB");
    for (int i = 0; i < 3; ++i) {
        const double start = cpu_s();
        (void)measure::measure_waveform(open, {}, table);
        const double cost = cpu_s() - start;
        fmt::print("{:>8} {:>8.3f} {:>17.1f} {:>18.2f} % {:>10.0f}\n", seconds, cost, seconds / cost,
                   100 * seconds * rate_hz / cost / memory, static_cast<double>(usage().ru_maxrss) / 1024);
    }
    std::filesystem::remove(path);
}

}  // namespace
}  // namespace guardband

int main(int count, char** arguments) {
    guardband::run(count > 1 ? std::max(1, std::atoi(arguments[1])) : 10);
    return 0;
}
