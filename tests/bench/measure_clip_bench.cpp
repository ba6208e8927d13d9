// What measuring a clip costs beside decoding it: wall time of `measure_clip` over that of reading all frames and doing
// nothing, with the same threads, and our own CPU time per frame. Prints ratios; never passes or fails. With one thread
// our own CPU time is that of the thread that measures, less what it spends inside the reader; with more it is the
// difference of two runs, which for FFV1 is as uncertain as one part in a hundred of its decoding.
//
//     measure_clip_bench [FOLDER [CODEC [SECONDS]]]
//
// FOLDER keeps the clips for the next time; without it they are made anew and removed. CODEC is part of a file's name
// (`ffv1`, `v210`, `dv`; all if empty), SECONDS the part of the 20 s that is measured.
//
// The clips: 20 s of 720 × 576, 25 frames/s, interlaced, a zoom into a fractal with noise of about 3 codes RMS in 10
// bits 4:2:2 (FFV1, uncompressed), and the same as DV. Noise decides the speed of FFV1: cleaner pictures decode several
// times faster.

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "measure/pass.h"
#include "media/clip.h"
#include "support/ffmpeg.h"
#include "table/table.h"

namespace guardband {
namespace {

struct Kind {
    std::string name, file, format, encoder;
};

const std::vector<Kind> kinds = {
    {"FFV1", "ffv1.mkv", "yuv422p10", "-c:v ffv1 -level 3 -slices 16 -slicecrc 1 -g 1 -field_order tt"},
    {"uncompressed v210", "v210.mov", "yuv422p10", "-c:v v210 -field_order tt"},
    {"DV", "dv.dv", "yuv420p", "-c:v dvvideo"},
};

constexpr int runs = 3;

void make_clip(const Kind& kind, const std::string& path) {
    const std::string order = kind.name == "DV" ? "interleave_bottom,setfield=bff" : "interleave_top,setfield=tff";
    support::ffmpeg(
        "-f lavfi -i mandelbrot=s=720x576:r=50:maxiter=300:end_scale=0.003:end_pts=1500,noise=alls=6:allf=t,format=" +
        kind.format + ",tinterlace=mode=" + order + " -t 20 " + kind.encoder + " " + path);
}

struct Cost {
    double wall_s = 0, cpu_s = 0;
    double own_cpu_s = 0;  ///< of the thread that calls, outside the reader; known for one thread alone
    std::int64_t frames = 0;
};

/// @param clock `CLOCK_PROCESS_CPUTIME_ID` for all threads, `CLOCK_THREAD_CPUTIME_ID` for the one that calls
double cpu_s(clockid_t clock) {
    timespec now{};
    clock_gettime(clock, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// Passes all on to a reader and counts the CPU time of the calling thread that goes into its frames.
class CountingReader final : public media::ClipReader {
public:
    explicit CountingReader(media::ClipReader& reader) : reader_(reader) {}

    const media::ClipInfo& info() const override { return reader_.info(); }
    std::optional<media::Frame> next() override {
        const double start_s = cpu_s(CLOCK_THREAD_CPUTIME_ID);
        auto frame = reader_.next();
        inside_s_ += cpu_s(CLOCK_THREAD_CPUTIME_ID) - start_s;
        return frame;
    }
    void listen(const std::function<void(const media::SoundBlock&)>& hear) override { reader_.listen(hear); }
    std::string trouble() const override { return reader_.trouble(); }
    std::uint64_t bytes_read() const override { return reader_.bytes_read(); }

    double inside_s() const { return inside_s_; }

private:
    media::ClipReader& reader_;
    double inside_s_ = 0;
};

Cost cost_of(const std::function<std::int64_t()>& work) {
    const auto start = std::chrono::steady_clock::now();
    const double cpu_start_s = cpu_s(CLOCK_PROCESS_CPUTIME_ID);
    Cost cost;
    cost.frames = work();
    cost.cpu_s = cpu_s(CLOCK_PROCESS_CPUTIME_ID) - cpu_start_s;
    cost.wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    return cost;
}

std::int64_t decode(const std::string& path, const media::ReadOptions& options) {
    const auto clip = media::open_clip(path, options);
    std::int64_t frames = 0;
    while (clip->next()) ++frames;
    return frames;
}

Cost measure(const std::string& path, const media::ReadOptions& options, const table::Table& table) {
    double own_cpu_s = 0;
    Cost cost = cost_of([&] {
        const auto clip = media::open_clip(path, options);
        CountingReader reader(*clip);
        measure::PassOptions pass;
        pass.threads = options.threads;
        const double start_s = cpu_s(CLOCK_THREAD_CPUTIME_ID);
        const auto frames = measure::measure_clip(reader, table, pass).frames;
        own_cpu_s = cpu_s(CLOCK_THREAD_CPUTIME_ID) - start_s - reader.inside_s();
        return frames;
    });
    cost.own_cpu_s = own_cpu_s;
    return cost;
}

Cost median(std::vector<Cost> costs) {
    std::ranges::sort(costs, {}, &Cost::wall_s);
    Cost middle = costs[costs.size() / 2];
    for (double Cost::*cpu : {&Cost::cpu_s, &Cost::own_cpu_s}) {
        std::ranges::sort(costs, {}, cpu);
        middle.*cpu = costs[costs.size() / 2].*cpu;
    }
    return middle;
}

void compare(const Kind& kind, const std::string& path, int threads, double duration_s, const table::Table& table) {
    media::ReadOptions options;
    options.threads = threads, options.duration_s = duration_s;
    decode(path, options);  // warms the file's cache
    std::vector<Cost> decoding, measuring;
    for (int run = 0; run < runs; ++run) {  // in turn, so that a change of the machine's speed hits both
        decoding.push_back(cost_of([&] { return decode(path, options); }));
        measuring.push_back(measure(path, options, table));
    }
    const Cost d = median(decoding), m = median(measuring);
    const auto frames = static_cast<double>(d.frames);
    const double own_cpu_s = threads == 1 ? m.own_cpu_s : m.cpu_s - d.cpu_s;
    fmt::print("{:<18} {:>7} {:>7} {:>12.0f} {:>13.0f} {:>12.3f} {:>17.3f}\n", kind.name, threads, d.frames,
               frames / d.wall_s, frames / m.wall_s, m.wall_s / d.wall_s, 1e3 * own_cpu_s / frames);
    std::fflush(stdout);
}

void run(const std::string& folder, const std::string& codec, double duration_s) {
    const table::Table table = table::load_table();
    fmt::print("{:<18} {:>7} {:>7} {:>12} {:>13} {:>12} {:>17}\n", "clip", "threads", "frames", "decode f/s",
               "measure f/s", "wall ratio", "own CPU ms/frame");
    for (const Kind& kind : kinds) {
        if (kind.file.find(codec) == std::string::npos) continue;
        const std::string path = (std::filesystem::path(folder) / kind.file).string();
        if (!std::filesystem::exists(path)) make_clip(kind, path);
        for (const int threads : {1, 2}) compare(kind, path, threads, duration_s, table);
    }
}

}  // namespace
}  // namespace guardband

int main(int argc, char** argv) {
    if (!guardband::support::has_ffmpeg())
        return fmt::print("skipped: the ffmpeg command is not installed, which makes the clips\n"), 0;
    const std::string codec = argc > 2 ? argv[2] : "";
    const double duration_s = argc > 3 ? std::strtod(argv[3], nullptr) : 20;
    if (argc > 1) return guardband::run(argv[1], codec, duration_s), 0;
    const guardband::support::TemporaryFolder folder;
    guardband::run(folder.file(""), codec, duration_s);
    return 0;
}
