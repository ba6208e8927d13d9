// Recall and precision of dropouts, by kind and length, over content of several makers. Prints, never fails.
//
//     dropouts_bench [--snr DB] [--seconds N] [--only WORD] [--photographs FOLDER] [--footage FILE]... [--seed N]
//                    [--bits N] [--kind WORD] [--codec FFMPEG_ARGUMENTS]
//
// Losses as `LossSettings` of stage.h makes them: their edges rise within 0.2 µs, their levels scatter.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "measure/pass.h"
#include "stage/acts.h"
#include "stage/backgrounds.h"
#include "stage/command.h"
#include "stage/scenes.h"
#include "support/ffmpeg.h"

namespace guardband {
namespace {

using bench::LostAs;

constexpr double least_change = 0.15;  ///< what is lost has to be seen

const char* word(LostAs as) {
    switch (as) {
        case LostAs::Bright:
            return "bright";
        case LostAs::Dark:
            return "dark";
        case LostAs::Held:
            return "held";
        case LostAs::Grey:
            return "grey";
        case LostAs::Noise:
            break;
    }
    return "noise";
}

struct Score {
    int wanted = 0, hits = 0, found = 0, right = 0;
    double start_off_us = 0, length_off_us = 0;
};

std::string text_of(const Score& s) {
    const auto share = [](int part, int all) {
        return all == 0 ? std::string("  -") : fmt::format("{:.3f}", static_cast<double>(part) / all);
    };
    return fmt::format("{:>6} {:>7} {:>6} {:>9} {:>8.2f} {:>8.2f}", s.wanted, share(s.hits, s.wanted), s.found,
                       share(s.right, s.found), s.start_off_us / std::max(1, s.hits),
                       s.length_off_us / std::max(1, s.hits));
}

bool meet(const quantity::Event& e, const bench::Lost& lost) {
    const double start_us = *e.start_us, end_us = start_us + *e.length_us;
    return e.field == lost.field && e.line == lost.line && start_us < lost.start_us + lost.length_us &&
           end_us > lost.start_us;
}

struct Options {
    double snr_db = 40, duration_s = 6;
    std::string only, kind, photographs, codec;
    std::vector<std::string> footage;
    std::uint64_t seed = 1;
    int bits = 10;
    bool tell = false;
};

using Scores = std::map<std::string, Score>;

void add(const measure::ClipReport& report, const std::vector<bench::Lost>& lost, const std::string& scene,
         const Options& options, Scores& scores) {
    std::vector<const quantity::Event*> events;
    for (const quantity::Event& e : report.events)
        if (e.line && e.length_us) events.push_back(&e);
    for (const bench::Lost& one : lost) {
        const auto at = std::ranges::find_if(events, [&](const auto* e) { return meet(*e, one); });
        const bool hit = at != events.end();
        if (one.change < least_change) {
            ++scores["(all but invisible)"].wanted, scores["(all but invisible)"].hits += hit ? 1 : 0;
            continue;
        }
        for (const std::string& key :
             {std::string("all"), "scene " + scene, std::string("kind ") + word(one.as),
              fmt::format("{} of {:>2.0f} µs", word(one.as), one.length_us),
              fmt::format("{} that changes {:.1f} to {:.1f}", word(one.as), std::floor(one.change * 5) / 5,
                          std::floor(one.change * 5) / 5 + 0.2)}) {
            Score& score = scores[key];
            ++score.wanted, score.hits += hit ? 1 : 0;
            if (hit) score.start_off_us += std::abs(*(*at)->start_us - one.start_us);
            if (hit) score.length_off_us += std::abs(*(*at)->length_us - one.length_us);
        }
        if (!hit && options.tell)
            fmt::print("    missed: {} {}, field {}, line {}, {:.2f} µs from {:.2f}\n", scene, word(one.as), one.field,
                       one.line, one.length_us, one.start_us);
    }
    for (const auto* e : events) {
        const bool right = std::ranges::any_of(lost, [&](const bench::Lost& one) { return meet(*e, one); });
        for (const std::string& key : {std::string("all"), "scene " + scene, "kind " + e->kind})
            ++scores[key].found, scores[key].right += right ? 1 : 0;
        if (!right && options.tell)
            fmt::print("    false: {}, field {}, {} from {:.2f}\n", scene, *e->field, e->what, *e->start_us);
    }
}

/// FFmpeg's arguments; of DV those of the scene's system.
std::string encoder_for(const bench::Scene& scene, const Options& options) {
    if (options.codec != "dv") return options.codec;
    return fmt::format("-vf scale=interl=1,format={},setfield=bff -c:v dvvideo",
                       scene.settings.height == 480 ? "yuv411p" : "yuv420p");
}

void run_scene(const bench::Scene& scene, bench::LossSettings losses, const Options& options, const table::Table& table,
               Scores& scores) {
    bench::StageReader clip(scene.settings, scene.acts(scene.settings), losses);
    if (options.codec.empty()) {
        const auto report = measure::measure_clip(clip, table);
        return add(report, clip.lost(), scene.kind, options, scores);
    }
    const support::TemporaryFolder folder;
    const std::string file = folder.file("scene.dv");
    bench::encode(clip, encoder_for(scene, options) + " '" + file + "'");
    add(measure::measure_clip(*media::open_clip(file), table), clip.lost(), scene.kind, options, scores);
}

void run(const Options& options) {
    const table::Table table = table::load_table();
    std::vector<bench::Scene> scenes = bench::loss_scenes(options.photographs, options.footage, options.duration_s);
    Scores scores;
    const std::vector<double> lengths_us{4, 5, 6, 8, 12, 20, 30};
    std::uint64_t seed = 1000 * options.seed;
    for (bench::Scene& scene : scenes) {
        ++seed;
        if (scene.kind.find(options.only) == std::string::npos) continue;
        scene.settings.snr_db = options.snr_db, scene.settings.bit_depth = options.bits;
        scene.settings.seed = seed;
        if (!options.codec.empty()) scene.settings.bottom_first = true;
        if (options.codec == "dv" && scene.settings.height == 486) scene.settings.height = 480;
        for (const LostAs kind : {LostAs::Bright, LostAs::Dark, LostAs::Held, LostAs::Grey, LostAs::Noise}) {
            scene.settings.seed += 97;
            if (std::string(word(kind)).find(options.kind) == std::string::npos) continue;
            run_scene(scene, {{kind}, lengths_us, 2, 3}, options, table, scores);
        }
    }
    fmt::print("{:<34} {:>6} {:>7} {:>6} {:>9} {:>8} {:>8}\n", "", "lost", "recall", "events", "precision", "start",
               "length");
    for (const auto& [key, score] : scores) fmt::print("{:<34} {}\n", key, text_of(score));
}

void add_options(CLI::App& app, Options& o) {
    app.add_option("--snr", o.snr_db, "dB");
    app.add_option("--seconds", o.duration_s, "of each scene");
    app.add_option("--only", o.only, "part of a scene's kind");
    app.add_option("--kind", o.kind, "part of a loss's kind");
    app.add_option("--photographs", o.photographs, "folder");
    app.add_option("--footage", o.footage, "file")->expected(1);
    app.add_option("--seed", o.seed);
    app.add_option("--bits", o.bits);
    app.add_option("--codec", o.codec, "arguments of the ffmpeg command, or dv");
    app.add_flag("--tell", o.tell, "each that is missed or false");
}

}  // namespace
}  // namespace guardband

int main(int argc, char** argv) {
    guardband::Options options;
    return guardband::bench::run_command(
        argc, argv, "dropouts_bench", "recall and precision of dropouts",
        [&](CLI::App& app) { guardband::add_options(app, options); }, [&] { guardband::run(options); });
}
