#include "calc/beat.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Rational;

void require(bool condition, const char* what) {
    if (!condition) throw quantity::DomainError(what);
}

/// The whole number below or at a positive ratio.
std::int64_t whole_part(const Rational& ratio) { return ratio.numerator() / ratio.denominator(); }

constexpr double most_multiples = 10'000;

}  // namespace

Rational beat(const Rational& screen, const Rational& camera) {
    require(screen.numerator() > 0 && camera.numerator() > 0, "a screen's and a camera's rate must be above 0");
    const Rational above = screen - Rational(whole_part(screen / camera)) * camera;
    return (above + above - camera).numerator() > 0 ? above - camera : above;
}

double beat_hz(double screen_hz, double camera_hz) {
    require(camera_hz > 0 && std::isfinite(screen_hz), "a camera's rate must be above 0");
    const double rest = std::remainder(screen_hz, camera_hz);
    return rest == -camera_hz / 2 ? camera_hz / 2 : rest;
}

double apparent_flicker_hz(double screen_hz, double camera_hz) { return std::abs(beat_hz(screen_hz, camera_hz)); }

std::vector<Alias> aliases(double apparent_hz, double camera_hz, double lowest_hz, double highest_hz) {
    require(camera_hz > 0 && apparent_hz >= 0 && apparent_hz <= camera_hz / 2,
            "an apparent frequency lies between 0 and half the camera's rate");
    require(highest_hz - lowest_hz <= most_multiples * camera_hz,
            "the bounds lie too far apart for this camera's rate");
    std::vector<Alias> found;
    const bool one_sided = apparent_hz == 0 || apparent_hz == camera_hz / 2;  // k − ½ and k + ½ meet
    for (double k = std::floor(lowest_hz / camera_hz); (k - 1) * camera_hz <= highest_hz; ++k) {
        found.push_back({k * camera_hz + apparent_hz, apparent_hz});
        if (!one_sided) found.push_back({k * camera_hz - apparent_hz, -apparent_hz});
    }
    std::erase_if(found,
                  [&](const Alias& a) { return a.rate_hz < lowest_hz || a.rate_hz > highest_hz || a.rate_hz <= 0; });
    std::ranges::sort(found, {}, &Alias::rate_hz);
    return found;
}

double exposure_gain(double frequency_hz, double exposure_s) {
    require(exposure_s >= 0, "an exposure can't be shorter than 0");
    const double x = std::numbers::pi * frequency_hz * exposure_s;
    return x == 0 ? 1 : std::abs(std::sin(x) / x);
}

double bands_per_height(double screen_hz, double readout_s, double picture_share) {
    return screen_hz * readout_s - picture_share;
}

}  // namespace guardband::calc
