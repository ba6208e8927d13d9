#include "testsignal/composite/line_canvas.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
/// 10 % to 90 % of the integral of a sine-squared pulse, as a share of the whole edge.
constexpr double rise_share = 0.4821883278;

/// 0 to 1 over a whole edge. @param x  0 at its start, 1 at its end
double edge(double x) { return x <= 0 ? 0 : x >= 1 ? 1 : x - std::sin(turn * x) / turn; }

}  // namespace

void LineCanvas::begin(int count, double first_us, double step_us) {
    samples_.assign(static_cast<std::size_t>(std::max(count, 0)), 0.0F);
    first_us_ = first_us, step_us_ = step_us;
}

int LineCanvas::first_after(double us) const {
    return static_cast<int>(std::clamp<double>(std::ceil((us - first_us_) / step_us_), 0, count()));
}

void LineCanvas::add_level(float level) {
    for (float& sample : samples_) sample += level;
}

void LineCanvas::add_step(double at_us, double height, double rise_us) {
    const double whole_us = rise_us / rise_share, start_us = at_us - whole_us / 2;
    const int begin = first_after(start_us), end = first_after(start_us + whole_us);
    for (int n = begin; n < end; ++n)
        samples_[static_cast<std::size_t>(n)] += static_cast<float>(height * edge((us(n) - start_us) / whole_us));
    const auto level = static_cast<float>(height);
    for (int n = end; n < count(); ++n) samples_[static_cast<std::size_t>(n)] += level;
}

void LineCanvas::add_box(double from_us, double to_us, double height, double rise_us) {
    add_step(from_us, height, rise_us);
    add_step(to_us, -height, rise_us);
}

void LineCanvas::add_pulse(double centre_us, double height, double half_us) {
    const int end = first_after(centre_us + half_us);
    for (int n = first_after(centre_us - half_us); n < end; ++n) {
        const double wave = std::cos(std::numbers::pi / 2 * (us(n) - centre_us) / half_us);
        samples_[static_cast<std::size_t>(n)] += static_cast<float>(height * wave * wave);
    }
}

void LineCanvas::add_wave(double from_us, double to_us, double height, double mhz, double rise_us) {
    const double whole_us = rise_us / rise_share;
    const int end = first_after(to_us + whole_us / 2);
    for (int n = first_after(from_us - whole_us / 2); n < end; ++n) {
        const double gate = edge((us(n) - from_us) / whole_us + 0.5) - edge((us(n) - to_us) / whole_us + 0.5);
        samples_[static_cast<std::size_t>(n)] +=
            static_cast<float>(height * gate * std::sin(turn * mhz * (us(n) - from_us)));
    }
}

void LineCanvas::multiply(const LineCanvas& other) {
    for (std::size_t n = 0; n < samples_.size(); ++n) samples_[n] *= other.samples_[n];
}

void LineCanvas::add(const LineCanvas& other, float factor) {
    for (std::size_t n = 0; n < samples_.size(); ++n) samples_[n] += factor * other.samples_[n];
}

}  // namespace guardband::testsignal
