#include "measure/time_base_components.h"

#include <cmath>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

#include "measure/mains.h"

namespace guardband::measure {
namespace {

using quantity::Component;

/// Rates that the same crystal gives: as far as a few seconds tell them apart.
constexpr double locked_hz = 0.02;
/// By how far mains run off in ordinary service; common practice, no source.
constexpr double mains_off_hz = 0.25;
constexpr double every_other_line_off_hz = 0.5;
constexpr int most_harmonics = 8;

/// Which multiple of a rate another one is; 0 if none up to `most`.
int multiple_of(double hz, double rate_hz, double off_hz, int most) {
    const double times = std::round(hz / rate_hz);
    return times >= 1 && times <= most && std::abs(hz - times * rate_hz) <= off_hz ? static_cast<int>(times) : 0;
}

void name(Component& component, std::string_view part, int harmonic) {
    component.part = part, component.harmonic = harmonic;
}

void name_locked(Component& component, int frame_harmonic) {
    if (frame_harmonic % 2 == 0)
        name(component, field_rate_part, frame_harmonic / 2);
    else
        name(component, frame_rate_part, frame_harmonic);
}

void name_by_rate(Component& component, const table::Scanning* scanning, const std::vector<double>& mains_hz) {
    if (scanning != nullptr) {
        if (const int k = multiple_of(component.hz, scanning->frame_rate().value(), locked_hz, 2 * most_harmonics))
            return name_locked(component, k);
        if (std::abs(component.hz - scanning->line_rate().value() / 2) <= every_other_line_off_hz)
            return name(component, "every other line", 1);
    }
    for (const double mains : mains_hz)
        if (const int k = multiple_of(component.hz, mains, 2 * mains_off_hz, 2);
            k > 0 && std::abs(component.hz - k * mains) <= k * mains_off_hz)
            return name(component, "mains", k);
}

/// The drum's rate in a mode; nothing where the heads stand still or nobody says.
std::optional<double> drum_hz(const table::Table& table, std::string_view address) {
    if (address.empty()) return std::nullopt;
    const auto [format, mode] = table.at(address, "--address");
    const table::Fact* speed = format->fact_in(*mode, "drum_speed");
    return speed == nullptr ? std::nullopt : std::optional(speed->in("rev/s"));
}

/// What the fields do is not the drum's alone, unless it turns with them.
void name_drum(Component& component, double rate_hz) {
    const int k = multiple_of(component.hz, rate_hz, locked_hz, most_harmonics);
    if (k == 1 || (k > 1 && component.part != field_rate_part)) name(component, "drum", k);
}

}  // namespace

Component time_base_component(double hz, double amplitude_ns, int frame_harmonic) {
    Component out;
    out.hz = hz, out.amplitude_ns = amplitude_ns;
    out.depth_percent = 100 * 2 * std::numbers::pi * hz * amplitude_ns * 1e-9;
    if (frame_harmonic > 0) name_locked(out, frame_harmonic);
    return out;
}

void name_time_base_components(quantity::Figures& figures, const table::Table& table, std::string_view scanning,
                               std::string_view address) {
    quantity::Figure* figure = figures.find("time_base_components");
    if (figure == nullptr || !figure->is_known()) return;
    auto components = std::get<std::vector<Component>>(figure->value());
    const auto drum = drum_hz(table, address);
    const table::Scanning* standard = scanning.empty() ? nullptr : table.find_scanning(scanning);
    const std::vector<double> mains_hz = mains_rates_hz(table);
    for (Component& component : components) {
        if (component.part.empty()) name_by_rate(component, standard, mains_hz);
        if (drum) name_drum(component, *drum);
    }
    figure->replace_components(std::move(components));
}

}  // namespace guardband::measure
