// How many events a minute `measure clip` tells of clips that have no fault, per kind of scene. Prints, never fails.
//
//     false_events_bench [--seconds N] [--only WORD] [--photographs FOLDER] [--footage FILE]... [--tell]
//
// Each scene is N (30) seconds long; WORD is part of a kind's name. Without photographs the camera looks at fractals.
// --tell prints each event. Events that are rightly told, as that frames were left out, show in the list too: read it.

#include <fmt/format.h>

#include <map>

#include "measure/pass.h"
#include "stage/command.h"
#include "stage/scenes.h"
#include "support/ffmpeg.h"

namespace guardband {
namespace {

using bench::Scene;

struct Options {
    double duration_s = 30;
    std::string only, photographs;
    std::vector<std::string> footage;
    bool tell = false;
};

void add_options(CLI::App& app, Options& o) {
    app.add_option("--seconds", o.duration_s, "of each scene");
    app.add_option("--only", o.only, "part of a scene's kind");
    app.add_option("--photographs", o.photographs, "folder");
    app.add_option("--footage", o.footage, "file")->expected(1);
    app.add_flag("--tell", o.tell, "each event");
}

struct Tally {
    double minutes = 0;
    std::map<std::string, int> events;
};

measure::ClipReport report_of(const Scene& scene, const table::Table& table) {
    bench::StageReader clip(scene.settings, scene.acts(scene.settings));
    if (scene.encoder.empty()) return measure::measure_clip(clip, table);
    const support::TemporaryFolder folder;
    const std::string file = folder.file("scene.dv");
    bench::encode(clip, scene.encoder + " '" + file + "'");
    return measure::measure_clip(*media::open_clip(file), table);
}

void add(const Scene& scene, const measure::ClipReport& report, bool tell, Tally& tally) {
    tally.minutes += static_cast<double>(report.frames) / scene.settings.frame_rate.value() / 60;
    for (const quantity::Event& event : report.events) {
        if (event.kind == "cadence" && scene.has_cadence) continue;
        ++tally.events[event.kind];
        if (tell)
            fmt::print("    {} {}: frame {}, {}\n", scene.kind, scene.settings.seed, event.frame.value_or(-1),
                       event.what + (event.start_us ? fmt::format(", from {:.1f} µs", *event.start_us) : ""));
    }
}

void print(const std::string& kind, const Tally& tally) {
    int all = 0;
    std::string kinds;
    for (const auto& [name, count] : tally.events)
        all += count, kinds += fmt::format("{}{} {}", kinds.empty() ? "" : ", ", count, name);
    fmt::print("{:<28} {:>7.2f} {:>7} {:>11.2f}  {}\n", kind, tally.minutes, all, all / tally.minutes, kinds);
    std::fflush(stdout);
}

void run(const Options& options) {
    const table::Table table = table::load_table();
    Tally sum;
    std::map<std::string, Tally> tallies;
    fmt::print("{:<28} {:>7} {:>7} {:>11}\n", "kind of scene", "minutes", "events", "per minute");
    for (const Scene& scene : bench::clean_scenes(options.photographs, options.footage, options.duration_s)) {
        if (scene.kind.find(options.only) == std::string::npos) continue;
        Tally one;
        add(scene, report_of(scene, table), options.tell, one);
        print(fmt::format("{} {}", scene.kind, scene.settings.seed), one);
        for (Tally* tally : {&sum, &tallies[scene.kind]}) {
            tally->minutes += one.minutes;
            for (const auto& [name, count] : one.events) tally->events[name] += count;
        }
    }
    fmt::print("\n");
    for (const auto& [kind, tally] : tallies) print(kind, tally);
    print("all", sum);
}

}  // namespace
}  // namespace guardband

int main(int argc, char** argv) {
    guardband::Options options;
    return guardband::bench::run_command(
        argc, argv, "false_events_bench", "events that clean clips are told of",
        [&](CLI::App& app) { guardband::add_options(app, options); }, [&] { guardband::run(options); });
}
