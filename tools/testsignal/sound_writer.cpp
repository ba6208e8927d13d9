#include "testsignal/sound_writer.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <span>

#include "quantity/errors.h"

namespace guardband::testsignal {
namespace {

using Json = nlohmann::ordered_json;

constexpr int bytes_per_sample = 3;
constexpr double full_scale = 8'388'607;
constexpr std::uint32_t header_bytes = 44;

/// RIFF WAVE of whole numbers. The two lengths in its header are filled in at the end.
class WavFile {
public:
    WavFile(const std::string& path, double sample_rate_hz)
        : path_(path), part_(path + ".part"), file_(part_, std::ios::binary), rate_hz_(std::lround(sample_rate_hz)) {
        header();
    }

    void put(std::span<const float> samples) {
        for (const float sample : samples) {
            const auto code = std::lround(std::clamp(static_cast<double>(sample), -1.0, 1.0) * full_scale);
            number(static_cast<std::uint32_t>(code), bytes_per_sample);
        }
        samples_ += samples.size();
    }

    void finish() {
        file_.seekp(0);
        header();
        file_.close();
        if (!file_) {
            std::error_code ignored;
            std::filesystem::remove(part_, ignored);
            throw quantity::InputError(path_, "can't be written", "check the folder and the space in it");
        }
        std::filesystem::rename(part_, path_);
    }

    std::uint64_t samples() const { return samples_; }

private:
    void number(std::uint32_t value, int bytes) {
        for (int i = 0; i < bytes; ++i) file_.put(static_cast<char>(value >> (8 * i)));
    }

    void header() {
        const auto bytes = static_cast<std::uint32_t>(samples_ * bytes_per_sample);
        const auto rate = static_cast<std::uint32_t>(rate_hz_);
        file_ << "RIFF";
        number(header_bytes - 8 + bytes, 4);
        file_ << "WAVEfmt ";
        number(16, 4), number(1, 2), number(1, 2);  // of whole numbers, one channel
        number(rate, 4), number(rate * bytes_per_sample, 4);
        number(bytes_per_sample, 2), number(8 * bytes_per_sample, 2);
        file_ << "data";
        number(bytes, 4);
    }

    std::string path_, part_;
    std::ofstream file_;
    long rate_hz_;
    std::uint64_t samples_ = 0;
};

Json json_of(const std::vector<SpeedComponent>& components) {
    Json list = Json::array();
    for (const SpeedComponent& c : components)
        list.push_back({{"hz", c.hz}, {"depth_percent", c.depth_percent}, {"phase", c.phase_turns}});
    return list;
}

Json make(const ToneRecipe& r, WavFile& file) {
    make_tone(r, [&](std::span<const float> samples) { file.put(samples); });
    const double speed = 1 + r.speed_error_percent / 100;
    return {{"signal", "tone"},
            {"recorded_hz", r.tone_hz},
            {"played_hz", r.tone_hz * speed},
            {"seen_hz", r.tone_hz * speed / (1 + r.clock_error_ppm * 1e-6)},
            {"speed_ratio", speed},
            {"drift_percent", r.drift_percent},
            {"components", json_of(r.components)},
            {"dropouts", r.dropouts.size()}};
}

Json make(const PulseRecipe& r, WavFile& file) {
    const PulseTruth truth = make_pulses(r);
    file.put(truth.samples);
    Json runs = Json::array();
    for (const PulseRun& run : r.runs) runs.push_back({{"rate_hz", run.rate_hz}, {"count", run.count}});
    return {{"signal", "pulses"},
            {"runs", runs},
            {"pulses", truth.times_s.size()},
            {"missing", r.missing},
            {"extra", r.extra},
            {"jitter_us", r.jitter_us},
            {"components", json_of(r.components)},
            {"times_s", truth.times_s}};
}

}  // namespace

std::string write_sound(const SoundRecipe& recipe, const std::string& path) {
    WavFile file(path, recipe.sample_rate_hz());
    Json truth = {{"schema", "guardband.testsignal-sound/1"},
                  {"file", std::filesystem::path(path).filename().string()},
                  {"title", recipe.title},
                  {"invented", recipe.invented}};
    truth.update(std::visit([&](const auto& signal) { return make(signal, file); }, recipe.signal));
    file.finish();
    truth["sample_rate_hz"] = recipe.sample_rate_hz();
    truth["samples"] = file.samples();
    return truth.dump(2) + "\n";
}

}  // namespace guardband::testsignal
