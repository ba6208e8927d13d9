// What an identification costs: ten observations over the whole table, with and without the next measurements. Prints
// times; passes or fails nothing.
#include <benchmark/benchmark.h>

#include "identify/answer.h"

namespace guardband {
namespace {

const table::Table& built_in() {
    static const table::Table table = table::load_table();
    return table;
}

const identify::Models& models() {
    static const identify::Models all(built_in());
    return all;
}

/// Ten kinds, what a tape of VHS at long play shows.
std::vector<identify::Observation> ten() {
    std::vector<identify::Observation> observations;
    for (const char* text :
         {"tape_width=12.65", "shell=vhs", "label=E-180", "pack_outer=84.2", "pack_hub=26.0", "tracks_per_mm=4.28",
          "track_pitch=24.5", "control_track_rate=50.0@vhs:625/50:SP", "field_rate=50.0", "luma_bandwidth=2.4"})
        observations.push_back(identify::parse_observation(built_in(), text));
    return observations;
}

void expectations_of_all_modes(benchmark::State& state) {
    for ([[maybe_unused]] auto turn : state) benchmark::DoNotOptimize(identify::Models(built_in()));
}

void ten_observations(benchmark::State& state) {
    const identify::Prior prior(models());
    for ([[maybe_unused]] auto turn : state)
        benchmark::DoNotOptimize(answer_of(models(), prior, ten(), state.range(0) != 0));
}

void no_observation_with_ranking(benchmark::State& state) {
    const identify::Prior prior(models());
    for ([[maybe_unused]] auto turn : state) benchmark::DoNotOptimize(answer_of(models(), prior, {}));
}

void whole_command(benchmark::State& state) {
    for ([[maybe_unused]] auto turn : state) {
        const table::Table table = table::load_table();
        const identify::Models all(table);
        benchmark::DoNotOptimize(answer_of(all, identify::Prior(all), ten()));
    }
}

BENCHMARK(expectations_of_all_modes)->Unit(benchmark::kMillisecond);
BENCHMARK(ten_observations)->Arg(0)->Arg(1)->ArgName("with next")->Unit(benchmark::kMillisecond);
BENCHMARK(no_observation_with_ranking)->Unit(benchmark::kMillisecond);
BENCHMARK(whole_command)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace guardband

BENCHMARK_MAIN();
