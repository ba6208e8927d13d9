#include "testsignal/composite/insertion.h"

#include <cmath>

namespace guardband::testsignal {
namespace {

using Kind = InsertionElement::Kind;

// The two families of signals: places in µs from the sync edge, chroma and wave levels as shares of white.
struct Layout {
    double bar_from, bar_to, pulse, composite, composite_width_t, stairs, stair_width, stairs_end, chroma_share;
    double wave_from, wave_width, wave_bar_from, wave_bar_to, wave_share;
    std::vector<double> waves_mhz;
};

/// Of 50 fields: the line is divided into 32 parts of 2 µs. 525 lines: after long-standing broadcasting practice.
Layout layout_of(const CompositeSystem& s) {
    if (s.scanning == "525/60")
        return {12, 30, 34.5, 38, 12.5, 46, 3, 61, 0.4, 20, 6.4, 12, 16, 0.5, {0.5, 1.0, 2.0, 3.0, 3.58, 4.2}};
    return {12, 22, 26, 32, 20, 40, 4, 62, 0.4, 24, 6.2, 12, 18, 0.6, {0.5, 1.0, 2.0, 4.0, 4.8, 5.8}};
}

constexpr int steps = 5;

void add_bar_and_pulses(const CompositeSystem& s, const Layout& at, bool composite,
                        std::vector<InsertionElement>& out) {
    const double t = t_pulse_us(s);
    out.push_back({Kind::Bar, at.bar_from, at.bar_to, s.white_mv});
    out.push_back({Kind::Pulse, at.pulse, at.pulse, s.white_mv, 2 * t});
    if (composite && s.subcarrier_hz)
        out.push_back({Kind::Composite, at.composite, at.composite, s.white_mv, at.composite_width_t * t});
}

void add_staircase(const CompositeSystem& s, const Layout& at, bool modulated, std::vector<InsertionElement>& out) {
    for (int i = 0; i < steps; ++i)
        out.push_back({Kind::Step, at.stairs + i * at.stair_width, at.stairs_end, s.white_mv / steps});
    if (modulated && s.subcarrier_hz)
        out.push_back({Kind::Chroma, at.stairs - at.stair_width, at.stairs_end - 1, at.chroma_share * s.white_mv});
}

void add_multiburst(const CompositeSystem& s, const Layout& at, std::vector<InsertionElement>& out) {
    const double middle = s.white_mv / 2, swing = at.wave_share * s.white_mv;
    out.push_back({Kind::Bar, at.wave_bar_from, at.stairs_end, middle});
    out.push_back({Kind::Bar, at.wave_bar_from, at.wave_bar_from + 2, swing / 2});
    out.push_back({Kind::Bar, at.wave_bar_from + 2, at.wave_bar_to, -swing / 2});
    constexpr double gap_us = 1;
    for (std::size_t i = 0; i < at.waves_mhz.size(); ++i) {
        const double from = at.wave_from + static_cast<double>(i) * at.wave_width;
        out.push_back({Kind::Wave, from, from + at.wave_width - gap_us, swing, 0, at.waves_mhz[i]});
    }
}

void add_chroma_bars(const CompositeSystem& s, const Layout& at, std::vector<InsertionElement>& out) {
    out.push_back({Kind::Bar, at.bar_from, at.stairs_end, s.white_mv / 2});
    if (!s.subcarrier_hz) return;
    constexpr double shares[] = {0.2, 0.6, 1.0};
    constexpr double first_us = 14, width_us = 14;
    for (int i = 0; i < 3; ++i)
        out.push_back({Kind::Chroma, first_us + width_us * i, first_us + width_us * (i + 1), shares[i] * s.white_mv});
}

}  // namespace

std::vector<InsertionElement> insertion_elements(const CompositeSystem& s, InsertionSignal signal) {
    const Layout at = layout_of(s);
    std::vector<InsertionElement> out;
    switch (signal) {
        case InsertionSignal::BarPulseStaircase:
            add_bar_and_pulses(s, at, true, out);
            add_staircase(s, at, false, out);
            break;
        case InsertionSignal::BarPulseModulatedStaircase:
            add_bar_and_pulses(s, at, false, out);
            add_staircase(s, at, true, out);
            break;
        case InsertionSignal::Multiburst:
            add_multiburst(s, at, out);
            break;
        case InsertionSignal::ChromaBars:
            add_chroma_bars(s, at, out);
            break;
    }
    return out;
}

double wave_response_db(std::optional<double> roll_off_mhz, double mhz) {
    if (!roll_off_mhz) return 0;
    return -10 * std::log10(2.0) * (mhz / *roll_off_mhz) * (mhz / *roll_off_mhz);
}

double t_pulse_us(const CompositeSystem& s) { return s.scanning == "525/60" ? 0.125 : 0.100; }

double insertion_chroma_deg(const CompositeSystem& s) { return s.kind == ColourKind::Quadrature ? 180 : 60; }

std::string to_string(InsertionSignal signal) {
    switch (signal) {
        case InsertionSignal::BarPulseStaircase:
            return "bar-pulse-staircase";
        case InsertionSignal::BarPulseModulatedStaircase:
            return "bar-pulse-modulated-staircase";
        case InsertionSignal::Multiburst:
            return "multiburst";
        case InsertionSignal::ChromaBars:
            break;
    }
    return "chroma-bars";
}

std::string to_string(Kind kind) {
    switch (kind) {
        case Kind::Bar:
            return "bar";
        case Kind::Pulse:
            return "pulse";
        case Kind::Composite:
            return "composite pulse";
        case Kind::Step:
            return "step";
        case Kind::Chroma:
            return "chroma";
        case Kind::Wave:
            break;
    }
    return "wave";
}

}  // namespace guardband::testsignal
