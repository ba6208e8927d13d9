#include "stage/scenes.h"

#include <fmt/format.h>

#include "stage/acts.h"
#include "stage/backgrounds.h"

namespace guardband::bench {
namespace {

using Stills = std::vector<std::shared_ptr<const Still>>;
using Change = std::function<void(StageSettings&)>;

void american(StageSettings& s) {
    s.height = 486, s.frame_rate = quantity::Rational(30000, 1001), s.bottom_first = true;
}
void eight_bits(StageSettings& s) { s.bit_depth = 8; }
void progressive(StageSettings& s) { s.progressive = true; }
Change noise(double snr_db) {
    return [snr_db](StageSettings& s) { s.snr_db = snr_db; };
}
void no_noise(StageSettings& s) { s.snr_db.reset(), s.bit_depth = 8; }

const char* const dv_625 = "-vf scale=interl=1,format=yuv420p,setfield=bff -c:v dvvideo";

class List {
public:
    List(Stills stills, double duration_s) : stills_(std::move(stills)), duration_s_(duration_s) {}

    void add(std::string kind, std::vector<Act> before, Move move = {}, const std::vector<Change>& changes = {},
             std::string encoder = {}) {
        Scene scene = empty(std::move(kind), changes, std::move(encoder));
        move.cut_s = std::min(move.cut_s, 6.0);
        // Each scene begins at another still.
        Stills turned = stills_;
        std::rotate(turned.begin(), turned.begin() + static_cast<std::ptrdiff_t>(scenes_.size() * 3 % turned.size()),
                    turned.end());
        before.insert(before.begin(), look_at(std::move(turned), move));
        scene.acts = [before](const StageSettings&) { return before; };
        scenes_.push_back(std::move(scene));
    }

    /// @param source  FFmpeg's arguments; {w}, {h} and {r} are replaced by the stage's size and rate
    void add_piped(std::string kind, const std::string& source, const std::vector<Change>& changes = {}, int held = 1,
                   std::string encoder = {}) {
        Scene scene = empty(std::move(kind), changes, std::move(encoder));
        scene.acts = [source, held](const StageSettings& s) {
            const double rate = s.frame_rate.value() * (s.progressive ? 1 : 2) / held;
            return std::vector<Act>{piped(
                fmt::format(fmt::runtime(source), fmt::arg("w", s.width), fmt::arg("h", s.height), fmt::arg("r", rate)),
                s.width, s.height, held)};
        };
        scenes_.push_back(std::move(scene));
    }

    /// Of the scene that was added last.
    void has_cadence() { scenes_.back().has_cadence = true; }

    std::vector<Scene> take() { return std::move(scenes_); }

private:
    Scene empty(std::string kind, const std::vector<Change>& changes, std::string encoder) const {
        Scene scene;
        scene.kind = std::move(kind), scene.encoder = std::move(encoder);
        scene.settings.seed = scenes_.size() + 1, scene.settings.duration_s = duration_s_;
        for (const Change& change : changes) change(scene.settings);
        return scene;
    }

    Stills stills_;
    double duration_s_;
    std::vector<Scene> scenes_;
};

void add_photographs(List& list) {
    list.add("pans and zooms", {}, {600, 20}, {});
    list.add("pans and zooms", {}, {-90, 45, 1.3}, {american, eight_bits});
    list.add("pans and zooms", {}, {30, -200, 0.8}, {});
    list.add("pans and zooms", {}, {0, 0, 0.9, 1.25, 0.1}, {progressive});
    list.add("pans and zooms", {}, {15, 3, 1, 1, 0, 6, 5}, {noise(36)});
    list.add("whip pans", {}, {3500, 300, 1, 1, 0, 0, 0, 0.8}, {});
    list.add("stills, noise", {}, {}, {noise(28)});
    list.add("stills, noise", {}, {}, {no_noise});
    list.add("film grain", {grain(0.04, 2, 5)}, {50, 10}, {noise(46)});
    list.add("film grain", {grain(0.06, 1, 6)}, {50, 10}, {noise(46), progressive});
}

void add_weather(List& list) {
    list.add("rain", {falling({400, 300, 5200, 0.3, 0.006, 0.8, 1.0F, 8}, 11)}, {10, 0});
    list.add("rain", {falling({900, -500, 2600, 0.4, 0.012, 0.7, 0.9F, 6}, 12)}, {40, 0}, {american});
    list.add("snow", {falling({500, 1500, 200, 0.4, 0.008, 1.6, 1.0F, 2}, 13)}, {});
    list.add("snow", {falling({300, 900, 60, 0.3, 0.02, 2.2, 1.05F, 4}, 14)}, {}, {eight_bits});
    list.add("water glitter", {glitter(600, 14, 0.03, 15)}, {8, 0});
    list.add("water glitter", {glitter(900, 24, 0.02, 16)}, {}, {american, eight_bits});
    list.add("lightning", {lightning(2, 17)}, {});
}

void add_light(List& list) {
    list.add("flashes", {camera_flashes(4, 21)}, {20, 0});
    list.add("flashes", {camera_flashes(9, 22), crowd(200, 23)}, {}, {american});
    list.add("strobe", {strobe(9, 0.12), crowd(150, 24)}, {60, 0});
    list.add("strobe", {strobe(24.7, 0.4), confetti(200, 12, 9, 25)}, {});
    list.add("fireworks", {sparks(3, 120, 900, 0.02, 26)}, {0, 0, 3});
    list.add("fireworks", {sparks(5, 90, 2500, 0.016, 27)}, {}, {american});
}

void add_people(List& list) {
    list.add("crowd", {crowd(900, 31)}, {60, 5});
    list.add("confetti", {confetti(350, 14, 9, 32)}, {10, 0});
    list.add("confetti", {confetti(250, 22, 14, 33)}, {}, {eight_bits});
    list.add("flags", {flags(14, 0.8)}, {30, 0});
    list.add("flags", {flags(5, 1.5)}, {}, {american});
    list.add("sport", {pitch(700, 34)}, {500, 0});
    list.add("sport", {pitch(1200, 35), crowd(200, 36)}, {1200, 0}, {american});
    list.add("train at night", {train(2400)}, {0, 0, 4});
}

void add_graphics(List& list) {
    list.add("titles", {titles(75, 0, true, 41)}, {10, 0});
    list.add("titles", {titles(50, 0, false, 42)}, {}, {eight_bits});
    list.add("titles", {titles(113, 0, false, 46)}, {}, {});
    list.add("titles", {titles(0, 250, false, 43)}, {80, 0});
    list.add("gauges, traces, blinds", {gauges(44)}, {5, 0});
    list.add("gauges, traces, blinds", {trace(2.3)}, {0, 0, 5});
    list.add("gauges, traces, blinds", {blind(12, 20, true)}, {});
    list.add("gauges, traces, blinds", {blind(8, 30, false)}, {}, {american});
}

void add_made(List& list) {
    list.add_piped("fractals, cells, patterns",
                   "-f lavfi -i mandelbrot=s={w}x{h}:r={r}:maxiter=300:end_scale=0.01:end_pts=1500");
    list.add_piped("fractals, cells, patterns", "-f lavfi -i testsrc2=s={w}x{h}:r={r}", {no_noise});
    list.add_piped(
        "fractals, cells, patterns",
        "-f lavfi -i life=s=180x144:r=12.5:mold=10:ratio=0.3:stitch=1:death_color=#303080:life_color=#ffffff:"
        "seed=7 -vf fps={r},scale={w}:{h}:flags=neighbor");
    list.has_cadence();
    list.add_piped("fractals, cells, patterns",
                   "-f lavfi -i cellauto=s=360x288:r={r}:rule=110:seed=3 -vf scale={w}:{h}:flags=neighbor", {american});
    list.add_piped("fractals, cells, patterns", "-f lavfi -i gradients=s={w}x{h}:r={r}:n=5:speed=0.05:seed=9");
    list.add_piped("fractals, cells, patterns", "-f lavfi -i sierpinski=s={w}x{h}:r={r}:seed=4:jump=60", {eight_bits});
}

void add_dv(List& list) {
    const std::vector<Change> dv{[](StageSettings& s) { s.bottom_first = true, s.bit_depth = 8; }};
    list.add("DV", {}, {300, 10}, dv, dv_625);
    list.add("DV", {glitter(500, 18, 0.03, 51), titles(0, 200, true, 52)}, {20, 0}, dv, dv_625);
    list.add("DV", {pitch(900, 53), camera_flashes(3, 54)}, {300, 0}, dv, dv_625);
}

}  // namespace

std::vector<Scene> clean_scenes(const std::string& photographs, const std::vector<std::string>& footage,
                                double duration_s) {
    List list(stills_of(photographs), duration_s);
    add_photographs(list), add_weather(list), add_light(list), add_people(list), add_graphics(list), add_made(list),
        add_dv(list);
    for (const std::string& clip : footage) {
        const std::string size = "scale={w}:{h}:force_original_aspect_ratio=increase,crop={w}:{h}";
        list.add_piped("footage", "-stream_loop -1 -i '" + clip + "' -vf fps={r}," + size, {noise(44)}, 2);
        // Faster than life, so that each field is another moment.
        list.add_piped("footage", "-stream_loop -1 -i '" + clip + "' -vf setpts=PTS/2,fps={r}," + size, {american});
    }
    return list.take();
}

std::vector<Scene> loss_scenes(const std::string& photographs, const std::vector<std::string>& footage,
                               double duration_s) {
    List list(stills_of(photographs), duration_s);
    list.add("photographs, slow", {}, {60, 10, 1, 1, 0, 0, 0, 2});
    list.add("photographs, fast", {}, {500, 60, 1.2, 1, 0, 0, 0, 2});
    list.add("photographs, zoom", {}, {0, 0, 0.9, 1.3, 0.1, 0, 0, 2}, {american});
    list.add("photographs, still", {}, {0, 0, 1, 1, 0, 0, 0, 2});
    list.add("crowd", {crowd(500, 61)}, {60, 5});
    list.add("titles", {titles(75, 0, true, 62)}, {30, 0});
    list.add_piped("fractal", "-f lavfi -i mandelbrot=s={w}x{h}:r={r}:maxiter=300:end_scale=0.02:end_pts=300");
    list.add_piped("pattern", "-f lavfi -i testsrc2=s={w}x{h}:r={r}");
    list.add_piped("cells",
                   "-f lavfi -i life=s=90x72:r=12.5:mold=10:ratio=0.2:stitch=1:death_color=#303080:life_color=#d0d0d0:"
                   "seed=5 -vf fps={r},scale={w}:{h}");
    list.add_piped("gradients", "-f lavfi -i gradients=s={w}x{h}:r={r}:n=5:speed=0.05:seed=8");
    // What deceives.
    list.add("titles, sharp", {titles(50, 0, false, 63)});
    list.add("titles, crawling", {titles(0, 250, true, 64)}, {80, 0});
    list.add("whip pan", {}, {3500, 300, 1, 1, 0, 0, 0, 0.8});
    list.add("sport", {pitch(700, 65)}, {500, 0});
    list.add("sport, crowd", {pitch(1200, 66), crowd(200, 67)}, {1200, 0}, {american});
    list.add("rain", {falling({400, 300, 5200, 0.3, 0.006, 0.8, 1.0F, 8}, 68)}, {10, 0});
    list.add("confetti", {confetti(350, 14, 9, 69)}, {10, 0});
    list.add("flashes", {camera_flashes(4, 70)}, {20, 0});
    list.add("strobe", {strobe(9, 0.12), crowd(150, 71)}, {60, 0});
    for (const std::string& clip : footage)
        list.add_piped(
            "footage",
            "-stream_loop -1 -i '" + clip +
                "' -vf setpts=PTS/2,fps={r},scale={w}:{h}:force_original_aspect_ratio=increase,crop={w}:{h}");
    return list.take();
}

}  // namespace guardband::bench
