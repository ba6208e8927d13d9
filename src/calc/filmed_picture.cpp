#include "calc/filmed_picture.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/beat.h"
#include "calc/screen_light.h"

namespace guardband::calc {
namespace {

constexpr int strip_height = 288;      // a field's lines, near enough
constexpr int widest_picture = 96;     // a grey picture says no more when wider
constexpr int strip_width = 960;       // fits most screens
constexpr int gap = 2;                 // black between pictures that are wide enough to be told apart
constexpr int fewest_pictures = 8;     // fewer show no movement
constexpr int widest_without_gap = 6;  // narrower pictures stand side by side as columns of time
constexpr double mid_grey = 128, white = 255;
constexpr double camera_exponent = 0.45;

double lamp_light(const Filming& filming, double start_s) {
    const double rate = filming.screen.value(), exposure = filming.exposure_s.value;
    const double x = std::numbers::pi * rate * exposure;
    return 1 + (x == 0 ? 1 : std::sin(x) / x) * std::cos(2 * std::numbers::pi * rate * (start_s + exposure / 2));
}

/// How many pictures, and how wide.
FilmStrip laid_out(const Filming& filming) {
    FilmStrip strip;
    const double off = std::abs(beat(filming.screen, filming.camera).value());
    const double in_a_beat = off == 0 ? 1 : filming.camera.value() / off;
    const double wanted = std::max<double>(fewest_pictures, std::ceil(in_a_beat - 1e-9));
    strip.step = static_cast<int>(std::ceil(wanted / strip_width));
    strip.pictures = static_cast<int>(std::ceil(wanted / strip.step));
    strip.beat_periods = off == 0 ? 0 : static_cast<double>(strip.pictures) * strip.step / in_a_beat;
    const int room = std::min(strip_width / strip.pictures, widest_picture + gap);
    strip.picture_width = room > widest_without_gap ? room - gap : std::max(1, room);
    const int pitch = room > widest_without_gap ? room : strip.picture_width;
    strip.picture.width = strip.pictures * pitch - (pitch - strip.picture_width);
    strip.picture.height = strip_height;
    strip.picture.samples.assign(static_cast<std::size_t>(strip.picture.width) * strip_height, 0);
    return strip;
}

/// Light of every row of every picture shown, picture by picture.
std::vector<double> light_of(const Filming& filming, const FilmStrip& strip) {
    std::vector<double> light;
    for (int i = 0; i < strip.pictures; ++i)
        for (int y = 0; y < strip_height; ++y)
            light.push_back(
                light_in_picture(filming, static_cast<std::int64_t>(i) * strip.step, (y + 0.5) / strip_height));
    return light;
}

}  // namespace

double light_in_picture(const Filming& filming, std::int64_t index, double height) {
    // Whole refreshes between pictures leave no trace, so the beat alone counts them: small numbers even in a slow
    // beat.
    const double turns = static_cast<double>(index) * (beat(filming.screen, filming.camera) / filming.camera).value();
    const double turn = turns - std::floor(turns);
    const double start_s = turn / filming.screen.value() + filming.readout_s.value * height;
    if (filming.is_lamp) return lamp_light(filming, start_s);
    const double flash_s = filming.scan_share * height / filming.screen.value();
    return exposed_light({filming.screen.value(), filming.decay_s.value}, start_s - flash_s, filming.exposure_s.value);
}

FilmStrip film_strip(const Filming& filming) {
    FilmStrip strip = laid_out(filming);
    const std::vector<double> light = light_of(filming, strip);
    const double brightest = std::pow(*std::ranges::max_element(light), camera_exponent);
    const double gain = std::min(mid_grey, white / std::max(brightest, 1e-9));
    const int pitch =
        strip.pictures == 1 ? strip.picture_width : (strip.picture.width - strip.picture_width) / (strip.pictures - 1);
    for (int i = 0; i < strip.pictures; ++i)
        for (int y = 0; y < strip_height; ++y) {
            const double signal =
                gain * std::pow(std::max(0.0, light[static_cast<std::size_t>(i * strip_height + y)]), camera_exponent);
            const auto code = static_cast<std::uint8_t>(std::lround(std::min(white, signal)));
            const auto row = strip.picture.samples.begin() + static_cast<std::ptrdiff_t>(y) * strip.picture.width;
            std::fill_n(row + i * pitch, strip.picture_width, code);
        }
    return strip;
}

}  // namespace guardband::calc
