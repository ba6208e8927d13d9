#include "testsignal/sound_track_reader.h"

#include <cmath>

namespace guardband::testsignal {
namespace {

void require(bool holds, const Section& s, std::string_view key, const char* what, const char* remedy) {
    if (!holds) s.fail(key, what, remedy);
}

void read_flutter(Section& s, std::vector<SpeedComponent>& out) {
    std::vector<double> hz, percent;
    s.read("flutter_hz", hz);
    s.read("flutter_percent", percent);
    require(hz.size() == percent.size(), s, "flutter_percent", "is not as long as flutter_hz", "give one for each");
    for (std::size_t i = 0; i < hz.size(); ++i) {
        require(hz[i] > 0, s, "flutter_hz", "holds a rate that is not above 0", "leave it out");
        out.push_back({hz[i], percent[i], 0});
    }
}

void read_gaps(Section& s, std::vector<Interval>& out) {
    std::vector<double> starts;
    double length_ms = 50;
    s.read("gap_start_s", starts);
    s.read("gap_ms", length_ms);
    for (const double start : starts) out.push_back({start, length_ms / 1e3});
}

}  // namespace

SoundTrackSettings read_sound_track(Section s) {
    SoundTrackSettings t;
    s.read("sample_rate_hz", t.sample_rate_hz);
    s.read("channels", t.channels);
    s.read("tone_hz", t.tone_hz);
    s.read("tone_db", t.tone_db);
    s.read("programme_db", t.programme_db);
    s.read("bandwidth_khz", t.bandwidth_khz);
    s.read("steady_programme", t.steady_programme);
    s.read("noise_db", t.noise_db);
    s.read("hum_db", t.hum_db);
    s.read("hum_hz", t.hum_hz);
    s.read("whistle_db", t.whistle_db);
    s.read_rate("whistle_hz", t.whistle_hz);
    s.read("speed_error_percent", t.speed_error_percent);
    read_flutter(s, t.flutter);
    s.read("delay_us", t.delay_us);
    read_gaps(s, t.gaps);
    s.read("longer_ms", t.longer_ms);
    const bool whole_rate = t.sample_rate_hz == std::floor(t.sample_rate_hz);
    require(whole_rate && t.sample_rate_hz >= 4000 && t.sample_rate_hz <= 192'000, s, "sample_rate_hz",
            "is none that is made", "give a whole number from 4000 to 192000");
    require(t.channels >= 1 && t.channels <= 8, s, "channels", "is none that is made", "give 1 to 8");
    require(t.bandwidth_khz > 0, s, "bandwidth_khz", "is not above 0", "give some kHz");
    require(std::abs(t.delay_us) * t.sample_rate_hz < 48e6, s, "delay_us", "is more than 48 samples", "give less");
    s.expect_no_more();
    return t;
}

}  // namespace guardband::testsignal
