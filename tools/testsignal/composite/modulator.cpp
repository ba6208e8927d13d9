#include "testsignal/composite/modulator.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;

/// Of the subcarrier's pre-emphasis, (1 + 16jF)/(1 + 1.26jF) with F = f/f0 − f0/f: ITU-R BT.470-6, from memory.
double bell(double hz, double centre_hz) {
    const double f = hz / centre_hz - centre_hz / hz;
    return std::sqrt((1 + 256 * f * f) / (1 + 1.5876 * f * f));
}

/// Lines on which identification runs in the field interval, per frame: the subcarrier goes to the end of its range
/// and stays. From memory; check at ITU-R BT.470-6.
bool is_identification(int line_number) {
    return (line_number >= 7 && line_number <= 15) || (line_number >= 320 && line_number <= 328);
}

}  // namespace

Modulator::Modulator(const CompositeRecipe& recipe, const ScanPattern& pattern)
    : recipe_(recipe), system_(recipe.system), pattern_(pattern) {
    // Five equal steps up to white become 0.2·(1 + c·(2m − 1)) with m the step's middle: from 1 − 0.8c to 1 + 0.8c.
    const double loss = recipe.distortion.luma_nonlinearity_percent / 100;
    bend_ = loss / (0.8 * (2 - loss));
}

void Modulator::bend(std::span<float> luma) const {
    if (bend_ == 0) return;
    const auto white = static_cast<float>(system_.white_mv), c = static_cast<float>(bend_);
    for (float& sample : luma)
        if (sample > 0) sample += c * sample * (1 - sample / white);  // the steps shrink towards white
}

void Modulator::add_axes(const LineRun& run, const Timeline& timeline, PaintedLine& line) const {
    const double sense = pattern_.v_switch(run.line);
    const std::complex<double> step = std::polar(1.0, turn * timeline.turns_per_sample(run));
    std::complex<double> axis = std::polar(1.0, turn * timeline.subcarrier_turns(run));
    const double gain = 1 + recipe_.distortion.chroma_gain_percent / 100;
    const double gain_slope = recipe_.distortion.differential_gain_percent / 100;
    const double phase_slope = recipe_.distortion.differential_phase_deg / 360 * turn;
    const bool plain = gain_slope == 0 && phase_slope == 0;
    const auto luma = line.luma.samples();
    const auto u = line.u.samples(), v = line.v.samples();
    for (std::size_t n = 0; n < luma.size(); ++n) {
        if (u[n] != 0 || v[n] != 0) {
            const double level = plain ? 0 : std::max(0.0, luma[n] / system_.white_mv);
            const std::complex<double> at =
                plain ? axis : axis * std::polar(1 + gain_slope * level, phase_slope * level);
            luma[n] += static_cast<float>(gain * (u[n] * at.imag() + sense * v[n] * at.real()));
        }
        axis = {axis.real() * step.real() - axis.imag() * step.imag(),
                axis.real() * step.imag() + axis.imag() * step.real()};
    }
}

void Modulator::add_frequency(const LineRun& run, PaintedLine& line) const {
    const FrequencyColour& c = system_.frequency;
    const int number = pattern_.line_number(run.line);
    const bool bottle = is_identification(number);
    if (!bottle && !pattern_.active(2 * run.line) && !pattern_.active(2 * run.line + 1)) return;
    const bool red = ((run.line % 2) + 2) % 2 == 0;
    const double rest_hz = red ? c.red_hz.value() : c.blue_hz.value();
    const double up = red ? c.red_up_hz : c.blue_up_hz, down = red ? c.red_down_hz : c.blue_down_hz;
    const double range = system_.white_mv - system_.black_mv;
    // D'R = −1.902 (R′ − Y′), D'B = 1.505 (B′ − Y′): ITU-R BT.470-6, from memory.
    const double hz_per_mv =
        (red ? -1.902 / 0.877283 * c.red_deviation_hz : 1.505 / 0.492111 * c.blue_deviation_hz) / range;
    const double peak_mv =
        c.rest_mv / 2 / bell(c.blue_hz.value(), c.bell_hz) * (1 + recipe_.distortion.chroma_gain_percent / 100);
    const auto difference = red ? line.v.samples() : line.u.samples();
    const auto luma = line.luma.samples();
    LineCanvas gate, ramp;
    const double begin_us = line.u.us(0);
    gate.begin(run.count, begin_us, run.step_us);
    const bool second = bottle || pattern_.active(2 * run.line + 1), first = bottle || pattern_.active(2 * run.line);
    const double middle_us = system_.line_us / 2;
    gate.add_box(c.start_us + (first ? 0 : middle_us), (second ? system_.line_us : middle_us) - system_.front_porch_us,
                 peak_mv, 0.3);
    // Pre-emphasis of colour, (1 + jf/f1)/(1 + jf/3f1), by the bilinear transform.
    const double k = 2 / (run.step_us * 1e-6) / (turn * c.corner_hz);
    const double b0 = (1 + k) / (1 + k / 3), b1 = (1 - k) / (1 + k / 3), a1 = (1 - k / 3) / (1 + k / 3);
    double in = 0, out = 0;
    // The phase at the start of a line is turned over on every third line and every other field (ITU-R BT.470-6, from
    // memory); at the sync edge the subcarrier is at rest.
    const bool turned = ((run.line % 3) + 3) % 3 == 2;
    const bool odd_field = ((pattern_.field_of(2 * run.line) % 2) + 2) % 2 == 1;
    double turns = (turned != odd_field ? 0.5 : 0.0) + rest_hz * 1e-6 * begin_us;
    for (std::size_t n = 0; n < luma.size(); ++n) {
        double wanted = hz_per_mv * difference[n];
        if (bottle) {
            constexpr double ramp_us = 15;
            const double share = std::clamp(
                (begin_us + run.step_us * static_cast<double>(n) - system_.picture_start_us) / ramp_us, 0.0, 1.0);
            wanted = share * (red ? up : -down);
        } else {
            out = b0 * wanted + b1 * in - a1 * out;
            in = wanted;
            wanted = out;
        }
        const double hz = rest_hz + std::clamp(wanted, -down, up);
        if (gate.samples()[n] != 0)
            luma[n] += static_cast<float>(gate.samples()[n] * bell(hz, c.bell_hz) * std::sin(turn * turns));
        turns += hz * run.step_us * 1e-6;
        turns -= std::floor(turns);
    }
}

void Modulator::modulate(const LineRun& run, const Timeline& timeline, PaintedLine& line) const {
    bend(line.luma.samples());
    if (system_.kind == ColourKind::Frequency)
        add_frequency(run, line);
    else if (system_.kind != ColourKind::None)
        add_axes(run, timeline, line);
}

}  // namespace guardband::testsignal
