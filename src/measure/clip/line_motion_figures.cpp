#include "measure/clip/line_motion_figures.h"

#include <fmt/format.h>

#include <optional>
#include <utility>
#include <vector>

#include "measure/clip/displacement_spectrum.h"
#include "measure/clip/flagging.h"
#include "measure/clip/scanning_match.h"
#include "measure/field_order.h"
#include "measure/stamp_evidence.h"
#include "measure/time_base_components.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Slow courses of the picture under the edges feign this much.
constexpr double least_ns = 5;

std::optional<LineTiming> timing_of(const ClipContext& context) {
    double frame_hz = 0;
    if (const auto rate = context.stamps.frame_rate())
        frame_hz = rate->hz;
    else if (context.info.declared_frame_rate)
        frame_hz = context.info.declared_frame_rate->value();
    const ScanningMatch match = match_scanning(context.table, context.info.picture.height, frame_hz);
    if (match.scanning == nullptr || match.frame_per_field) return std::nullopt;
    return LineTiming{frame_hz, frame_hz * match.scanning->lines().value(), bottom_comes_first(context)};
}

void add_unknown(quantity::Figures& figures, const char* reason) {
    for (const char* id : {"time_base_error_fixed", "time_base_components"}) figures.add(id, Figure::unknown(reason));
}

Figure fixed_figure(const FixedDisplacement& fixed, double ns_per_px) {
    if (!fixed.fixed_px) return Figure::unknown("too few frames whose lines could be placed");
    return Figure::measured(fixed.fixed_px->value * ns_per_px, fixed.fixed_px->error * ns_per_px, "ns")
        .with_note(fmt::format("what returns at the same line in every frame, {:.0f} % of its square in both fields "
                               "alike; the rest of the displacement, {:.3g} ns, moves",
                               100 * fixed.alike_share, fixed.moving_px * ns_per_px));
}

Figure components_figure(const DisplacementSpectrum& spectrum, double ns_per_px) {
    if (spectrum.seconds < least_spectrum_s)
        return Figure::unknown(
            fmt::format("a spectrum takes {:g} s of lines that could be placed or more", least_spectrum_s));
    std::vector<quantity::Component> components;
    for (const LineMotion& motion : spectrum.motions)
        components.push_back(time_base_component(motion.hz, motion.amplitude_px * ns_per_px, motion.frame_harmonic));
    auto figure = Figure::components(std::move(components));
    figure.with_note(fmt::format("by {:.1f} s of lines, the chance of a false one is 0.2 %", spectrum.seconds));
    return figure;
}

}  // namespace

std::optional<Estimated> add_motion_figures(quantity::Figures& figures, const DisplacementSeries& series,
                                            std::size_t end, std::int64_t frames, const ClipContext& context,
                                            double ns_per_px, const char* without_edges) {
    if (series.frames().empty()) {
        add_unknown(figures, without_edges);
        return std::nullopt;
    }
    const auto timing = timing_of(context);
    if (!timing) {
        add_unknown(figures, "when the lines were scanned is not known without a TV system");
        return std::nullopt;
    }
    const DisplacementSpectrum spectrum = displacement_spectrum(series, end, *timing, least_ns / ns_per_px);
    figures.add("time_base_error_fixed",
                fixed_figure(fixed_displacement(series, end, *timing, spectrum.sines), ns_per_px));
    figures.add("time_base_components", components_figure(spectrum, ns_per_px));
    if (spectrum.sines.empty() || frames - series.frames().front().index > series.most_frames()) return std::nullopt;
    return flagging_beside_sines(series, frames, *timing, spectrum.sines);
}

}  // namespace guardband::measure
