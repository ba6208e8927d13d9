#include "testsignal/filmed_light.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::testsignal {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;
constexpr int phase_steps = 4096;  // over one period, for the iris and for the depth after gamma

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

double flash_integral(double t_s, double period_s, double decay_s) {
    const double whole = std::floor(t_s / period_s), rest = t_s - whole * period_s;
    return period_s * (whole + std::expm1(-rest / decay_s) / std::expm1(-period_s / decay_s));
}

}  // namespace

double flash_exposure(double start_s, double exposure_s, double period_s, double decay_s) {
    const double from =
        start_s - std::floor(start_s / period_s) * period_s;  // keeps the difference below precise late in a clip
    return (flash_integral(from + exposure_s, period_s, decay_s) - flash_integral(from, period_s, decay_s)) /
           exposure_s;
}

double ripple_exposure(double start_s, double exposure_s, double rate_hz, double ripple, double phase) {
    return 1 + ripple * sinc(rate_hz * exposure_s) * std::cos(two_pi * (rate_hz * (start_s + exposure_s / 2) + phase));
}

FilmedLight::FilmedLight(const Recipe& recipe)
    : recipe_(recipe),
      rate_hz_(recipe.screen ? recipe.screen->rate_hz : recipe.lamp->rate_hz),
      exposure_s_(recipe.camera.exposure_ms / 1e3) {
    const auto asked = recipe.screen ? recipe.screen->depth : recipe.lamp->depth;
    if (asked) {
        const double own = own_depth();
        if (*asked > own)
            throw quantity::InputError(
                recipe.screen ? "screen.depth" : "lamp.depth",
                fmt::format("{:g} is more than the {:.4g} that this light and exposure give", *asked, own),
                "ask for less or change the exposure");
        moving_share_ = *asked / own;
    }
    set_iris();
}

// Fourier series of the exposed light: 2 / |1 + 2 pi i rate decay| for the exponential train, sinc for the exposure.
double FilmedLight::own_depth() const {
    const double exposed = std::abs(sinc(rate_hz_ * exposure_s_));
    if (recipe_.lamp) return recipe_.lamp->ripple * exposed;
    return 2 * exposed / std::hypot(1, two_pi * rate_hz_ * recipe_.screen->decay_ms / 1e3);
}

double FilmedLight::light(double start_s, double height) const {
    double own = 0;
    if (recipe_.lamp) {
        own = ripple_exposure(start_s, exposure_s_, rate_hz_, recipe_.lamp->ripple, recipe_.lamp->phase);
    } else {
        const auto& screen = *recipe_.screen;
        const double flash_s = (screen.phase + screen.scan_share * height) / screen.rate_hz;
        own = flash_exposure(start_s - flash_s, exposure_s_, 1 / screen.rate_hz, screen.decay_ms / 1e3);
    }
    return 1 + moving_share_ * (own - 1);
}

double FilmedLight::signal_gain(double start_s, double height) const {
    return iris_ * std::pow(light(start_s, height), recipe_.camera.gamma);
}

void FilmedLight::set_iris() {
    double brightest = 1;
    for (int i = 0; i < phase_steps; ++i) brightest = std::max(brightest, light(i / (phase_steps * rate_hz_), 0));
    iris_ = std::pow(brightest, -recipe_.camera.gamma);
}

double FilmedLight::frame_height_of_row(int frame_row) const { return (frame_row + 0.5) / recipe_.raster.height; }

double FilmedLight::screen_height_of_row(int frame_row) const {
    if (recipe_.lamp) return 0;
    return (frame_height_of_row(frame_row) - recipe_.screen->top) / recipe_.screen->height;
}

void FilmedLight::apply(double time_s, Rows rows, Picture& picture) {
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    const double left = recipe_.screen ? recipe_.screen->left : 0, width = recipe_.screen ? recipe_.screen->width : 1;
    const int colour_width = picture.cb.width;
    const int from = static_cast<int>(std::lround(left * colour_width)),
              to = static_cast<int>(std::lround((left + width) * colour_width));
    for (int r = 0; r < picture.luma.height; ++r) {
        const int frame_row = first + r * step;
        const double height = screen_height_of_row(frame_row);
        const double start_s = time_s + recipe_.camera.readout_ms / 1e3 * frame_row / recipe_.raster.height;
        const auto lit = static_cast<float>(height >= 0 && height <= 1 ? signal_gain(start_s, height) : iris_),
                   room = static_cast<float>(iris_);
        float *luma = picture.luma.row(r), *cb = picture.cb.row(r), *cr = picture.cr.row(r);
        for (int x = 0; x < colour_width; ++x) {
            const float gain = x >= from && x < to ? lit : room;
            luma[2 * x] *= gain, luma[2 * x + 1] *= gain, cb[x] *= gain, cr[x] *= gain;
        }
    }
}

FlickerTruth FilmedLight::truth() const {
    FlickerTruth t{};
    t.rate_hz = rate_hz_;
    t.sampling_hz = picture_rate(recipe_).value();
    t.apparent_signed_hz = std::remainder(rate_hz_, t.sampling_hz);
    t.light_depth = moving_share_ * own_depth();
    t.steady_share = 1 - moving_share_;
    std::complex<double> fundamental = 0;
    double mean = 0;
    for (int i = 0; i < phase_steps; ++i) {
        const double turn = static_cast<double>(i) / phase_steps, signal = signal_gain(turn / rate_hz_, 0);
        fundamental += std::polar(signal, -two_pi * turn);
        mean += signal;
    }
    t.signal_depth = 2 * std::abs(fundamental) / mean;
    const double readout_turns = recipe_.camera.readout_ms / 1e3 * rate_hz_;
    t.bands = readout_turns - (recipe_.screen ? recipe_.screen->scan_share / recipe_.screen->height : 0);
    return t;
}

}  // namespace guardband::testsignal
