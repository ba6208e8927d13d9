#include "testsignal/sound_recipe.h"

#include <cmath>
#include <fstream>
#include <sstream>

#include "testsignal/section.h"

namespace guardband::testsignal {
namespace {

constexpr double longest_s = 7200;
constexpr double highest_rate_hz = 1e6;
constexpr double most_pulses = 2e6;

void require(bool holds, const Section& s, std::string_view key, const char* what, const char* remedy) {
    if (!holds) s.fail(key, what, remedy);
}

std::vector<SpeedComponent> read_components(Section& s) {
    std::vector<double> hz, depths, phases;
    s.read("component_hz", hz);
    s.read("component_percent", depths);
    s.read("component_phase", phases);
    require(hz.size() == depths.size(), s, "component_percent", "is not as long as component_hz", "give one for each");
    require(phases.empty() || phases.size() == hz.size(), s, "component_phase", "is not as long as component_hz",
            "give one for each, or none");
    std::vector<SpeedComponent> components;
    for (std::size_t i = 0; i < hz.size(); ++i) {
        require(hz[i] > 0, s, "component_hz", "holds a rate that is not above 0", "leave it out");
        components.push_back({hz[i], depths[i], phases.empty() ? 0.0 : phases[i]});
    }
    return components;
}

void read_rate_and_amplitude(Section& s, double& rate_hz, double& amplitude) {
    s.read("sample_rate_hz", rate_hz);
    s.read("amplitude", amplitude);
    require(rate_hz >= 1000 && rate_hz <= highest_rate_hz, s, "sample_rate_hz", "is none that is made",
            "give 1000 to 1000000");
    require(amplitude > 0 && amplitude <= 1, s, "amplitude", "is not above 0 and up to 1",
            "give a share of full scale");
}

ToneRecipe read_tone(Section s) {
    ToneRecipe r;
    read_rate_and_amplitude(s, r.sample_rate_hz, r.amplitude);
    s.read("hz", r.tone_hz);
    s.read("duration_s", r.duration_s);
    s.read("clock_error_ppm", r.clock_error_ppm);
    s.read("speed_error_percent", r.speed_error_percent);
    s.read("drift_percent", r.drift_percent);
    r.components = read_components(s);
    s.read("noise_db", r.noise_db);
    s.read("hum_hz", r.hum_hz);
    s.read("hum_db", r.hum_db);
    std::vector<double> starts, lengths;
    s.read("dropout_start_s", starts);
    s.read("dropout_length_s", lengths);
    require(starts.size() == lengths.size(), s, "dropout_length_s", "is not as long as dropout_start_s",
            "give one for each");
    for (std::size_t i = 0; i < starts.size(); ++i) r.dropouts.push_back({starts[i], lengths[i]});
    require(r.tone_hz > 0 && r.tone_hz < r.sample_rate_hz / 2, s, "hz", "is not below half of the sampling rate",
            "give a frequency that the samples can hold");
    require(r.duration_s > 0 && r.duration_s <= longest_s, s, "duration_s", "is none that is made", "give up to 7200");
    s.expect_no_more();
    return r;
}

PulseRecipe read_pulses(Section s) {
    PulseRecipe r;
    read_rate_and_amplitude(s, r.sample_rate_hz, r.amplitude);
    const std::vector<std::pair<std::string, PulseKind>> kinds{
        {"bumps", PulseKind::Bumps}, {"square", PulseKind::Square}, {"logic", PulseKind::Logic}};
    r.kind = s.choice("kind", kinds).value_or(r.kind);
    std::vector<double> rates{25};
    std::vector<std::int64_t> counts{100};
    s.read("rate_hz", rates);
    s.read("count", counts);
    require(!rates.empty() && rates.size() == counts.size(), s, "count", "is not as long as rate_hz",
            "give one for each");
    r.runs.clear();
    double pulses = 0, seconds = 0;
    for (std::size_t i = 0; i < rates.size(); ++i) {
        require(rates[i] > 0 && rates[i] < r.sample_rate_hz / 8 && counts[i] > 0, s, "rate_hz",
                "holds a rate or count that can't be made", "give rates below an eighth of the sampling rate");
        r.runs.push_back({rates[i], counts[i]});
        pulses += static_cast<double>(counts[i]);
        seconds += static_cast<double>(counts[i]) / rates[i];
    }
    require(pulses <= most_pulses && seconds <= longest_s, s, "count", "makes more than two hours",
            "make a shorter recording");
    s.read("lead_s", r.lead_s);
    s.read("duty", r.duty);
    s.read("bump_ms", r.bump_ms);
    s.read("inverted", r.inverted);
    s.read("jitter_us", r.jitter_us);
    r.components = read_components(s);
    s.read("noise_db", r.noise_db);
    s.read("missing", r.missing);
    s.read("extra", r.extra);
    require(r.duty > 0 && r.duty < 1, s, "duty", "is not between 0 and 1", "give a share of the period");
    require(r.bump_ms > 0 && r.bump_ms < 100, s, "bump_ms", "is no width that is made", "give up to 100");
    require(r.lead_s >= 0 && r.lead_s <= 60, s, "lead_s", "is none that is made", "give up to 60");
    s.expect_no_more();
    return r;
}

}  // namespace

double SoundRecipe::sample_rate_hz() const {
    return std::visit([](const auto& made) { return made.sample_rate_hz; }, signal);
}

std::optional<SoundRecipe> parse_sound_recipe(const std::string& file, std::string_view text) {
    const table::Document document = table::parse_document(file, text);
    Section top(document, document.root);
    if (!top.has("tone") && !top.has("pulses")) return std::nullopt;
    if (top.has("tone") && top.has("pulses"))
        top.fail("pulses", "stands beside [tone]", "make two recipes of it: a file holds one signal");
    SoundRecipe recipe;
    std::uint64_t seed = 1;
    top.read("name", recipe.name);
    top.read("title", recipe.title);
    top.read("invented", recipe.invented);
    top.read("seed", seed);
    if (auto s = top.inner("tone"))
        recipe.signal = read_tone(*s);
    else
        recipe.signal = read_pulses(*top.inner("pulses"));
    std::visit([&](auto& made) { made.seed = seed; }, recipe.signal);
    require(!recipe.name.empty() && recipe.name.find('/') == std::string::npos, top, "name", "names no file",
            "give a name without strokes");
    top.expect_no_more();
    return recipe;
}

std::optional<SoundRecipe> read_sound_recipe(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    if (!file || !(text << file.rdbuf())) return std::nullopt;
    return parse_sound_recipe(path, text.str());
}

}  // namespace guardband::testsignal
