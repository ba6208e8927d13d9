#include "measure/clip/flicker.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "calc/beat.h"
#include "measure/clip/luma_range.h"
#include "measure/interlace_evidence.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Fewer bands than this to the height: the picture brightens all at once.
constexpr double at_once_bands = 0.3;
/// What a codec that foretells pictures does to the brightness, at most, and how often, cycles per frame.
constexpr double most_of_codec = 0.01;
constexpr std::array codec_cycles{1.0 / 3, 1.0 / 2};
constexpr double stretch_s = 128;
constexpr double fewest_stretch_frames = 512, most_stretch_frames = 8192;
// After 36 hours of clip, later stretches add nothing.
constexpr std::size_t most_stretches = 1024;
constexpr double rate_if_unknown = 25;
/// As far as panning is followed, samples per frame.
constexpr int longest_pan = 96;
/// Shallower than this, what no known light explains is taken for the picture's own doing: things that move at a steady
/// pace, cells that live and die, change all of it by 0.3 to 0.5 %.
constexpr double unexplained_depth = 0.007;

/// Of its depth, what that of a screen or lamp is uncertain by at most: seldom by chance (13 % at the least contrast,
/// 13.6 % of flashes in a clip of two seconds), by more where it shows for part of the time alone. A flame's depth
/// changes all the time: 14.4 % and more of forty.
constexpr double most_uneven = 0.14, most_uneven_if_known = 0.25;

// Time stamps leave room for frames when a step is this close to a whole number of periods, and the next step is one
// period.
constexpr double step_tolerance = 0.3;
constexpr double longest_gap_frames = 512;

// Stretches show the same flicker when their frequencies agree within so many standard uncertainties and Hz.
constexpr double same_deviations = 5, same_hz = 0.01;
// Frequency and depth are not known better than this from one clip: what the picture does is not quite noise.
constexpr double least_resolution_share = 1e-3;  // of one cycle over the stretch
constexpr double least_depth_share = 0.03;

// Screens of these rates are named when they would stand still: those that a clip may well show.
constexpr double named_below_hz = 130;

BrightnessGrid grid_for(const ClipContext& context) {
    const auto& picture = context.info.picture;
    const LumaRange range = luma_range(picture, context.table);
    return BrightnessGrid(picture.width / FrameFeatures::segment, picture.height, range.black,
                          range.white - range.black);
}

std::size_t stretch_frames(const media::ClipInfo& info) {
    const double rate = info.declared_frame_rate ? info.declared_frame_rate->value() : rate_if_unknown;
    return static_cast<std::size_t>(std::clamp(stretch_s * rate, fewest_stretch_frames, most_stretch_frames));
}

std::string percent(double share) { return fmt::format("{:.2g} %", 100 * share); }

}  // namespace

Flicker::Flicker(const ClipContext& context)
    : context_(context),
      lights_(screen_lights(context.table)),
      grid_(grid_for(context)),
      track_(context.info.picture.width / FrameFeatures::segment, context.info.picture.height),
      matcher_(longest_pan),
      series_(stretch_frames(context.info)),
      light_(BrightnessGrid::cells) {}

double Flicker::frames_per_s() const {
    if (const auto rate = context_.stamps.frame_rate()) return rate->hz;
    return context_.info.declared_frame_rate ? context_.info.declared_frame_rate->value() : rate_if_unknown;
}

void Flicker::see(const media::Frame& frame, const FrameFeatures& features) {
    if (grid_.is_too_small() || stretches_.size() >= most_stretches) return;
    fill_gap(frame);
    grid_.read(features, light_);
    series_.add(light_, features.identical[0] && features.identical[1], track_.see(features), pan_px(features));
    if (series_.is_full()) end_stretch();
}

/// How far the top field moved to the right since the frame before, samples; 0 where that can't be told.
double Flicker::pan_px(const FrameFeatures& features) {
    const Grid<std::uint32_t>& sums = features.column_sums[0];
    profile_.assign(static_cast<std::size_t>(sums.width), 0.0F);
    const float scale = 1.0F / static_cast<float>(std::max(1, sums.height) * FrameFeatures::column_rows);
    for (int band = 0; band < sums.height; ++band) {
        const std::uint32_t* row = &sums.at(0, band);
        for (std::size_t x = 0; x < profile_.size(); ++x)
            profile_[x] += scale * static_cast<float>(static_cast<std::int32_t>(row[x]));
    }
    std::swap(columns_, columns_before_);
    ProfileMatcher::prepare(profile_, columns_);
    // Without the slope that all of the picture has in common, which fits everywhere.
    const float slope = std::accumulate(columns_.begin(), columns_.end(), 0.0F) /
                        static_cast<float>(std::max<std::size_t>(1, columns_.size()));
    for (float& column : columns_) column -= slope;
    if (columns_before_.size() != columns_.size()) return 0;
    const auto shift = matcher_.shift(columns_before_, columns_);
    return shift ? shift->samples : 0;
}

/// Leaves room for frames that are missing, so that the flicker stays in step. The step after a gap must be whole, or
/// else it was one wrong stamp; so the room comes one frame late, which matters nothing.
void Flicker::fill_gap(const media::Frame& frame) {
    const auto before = std::exchange(last_pts_, frame.pts);
    const std::int64_t pending = std::exchange(pending_gap_, 0);
    if (!before || !frame.pts || !context_.info.declared_frame_rate) return;
    const double step_s =
        (static_cast<double>(*frame.pts) - static_cast<double>(*before)) * context_.info.time_base.value();
    const double periods = step_s * context_.info.declared_frame_rate->value();
    const double whole = std::round(periods);
    if (std::abs(periods - whole) > step_tolerance) return;
    if (whole == 1) {
        for (std::int64_t i = 0; i < pending; ++i) {
            series_.add_gap();
            if (series_.is_full()) return end_stretch();
        }
    } else if (whole > 1 && whole <= longest_gap_frames) {
        pending_gap_ = static_cast<std::int64_t>(whole) - 1;
    }
}

std::vector<FieldTiming> Flicker::timings() const {
    using Scan = InterlaceEvidence::Scan;
    using Order = InterlaceEvidence::Order;
    const Scan scan = context_.interlace.scan();
    const Order order = context_.interlace.order();
    if (scan == Scan::Progressive) return {FieldTiming::progressive()};
    if (order == Order::TopFirst) return {FieldTiming::top_first()};
    if (order == Order::BottomFirst) return {FieldTiming::bottom_first()};
    if (scan == Scan::Interlaced) return {FieldTiming::top_first(), FieldTiming::bottom_first()};
    // A picture too still to show how it was scanned: the flicker itself, which comes later in the second field, shows
    // it.
    return {FieldTiming::progressive(), FieldTiming::top_first(), FieldTiming::bottom_first()};
}

Flicker::Stretch Flicker::search(const FieldTiming& timing) const {
    return {search_flicker(series_, grid_, timing), timing.is_interlaced(), series_.length()};
}

void Flicker::end_stretch() {
    std::optional<Stretch> best;
    for (const FieldTiming& timing : timings()) {
        const Stretch stretch = search(timing);
        const auto contrast = [](const Stretch& s) { return s.search.line ? s.search.line->contrast : 0; };
        if (!best || contrast(stretch) > contrast(*best)) best = stretch;
    }
    stretches_.push_back(*best);
    series_.clear();
}

/// The strongest flicker, averaged over the stretches that show it.
std::optional<Flicker::Found> Flicker::found() const {
    const Stretch* strongest = nullptr;
    for (const Stretch& s : stretches_) {
        if (s.search.line && (strongest == nullptr || s.search.line->contrast > strongest->search.line->contrast))
            strongest = &s;
    }
    if (strongest == nullptr) return std::nullopt;
    const FlickerLine& reference = *strongest->search.line;
    Found result{reference, strongest->interlaced, 0, 0};
    double weights = 0, cycles = 0, contrasts = 0, depth = 0, bands = 0;
    for (const Stretch& s : stretches_) {
        if (!s.search.line || s.interlaced != strongest->interlaced) continue;
        const FlickerLine& line = *s.search.line;
        const double apart = std::abs(line.cycles_per_frame - reference.cycles_per_frame);
        const double sigma = std::hypot(line.cycles_uncertainty, reference.cycles_uncertainty);
        if (apart > same_deviations * sigma && apart * frames_per_s() > same_hz) continue;
        const double weight = 1 / (line.cycles_uncertainty * line.cycles_uncertainty);
        weights += weight, cycles += weight * line.cycles_per_frame;
        contrasts += line.contrast, depth += line.contrast * line.depth, bands += line.contrast * line.bands;
        result.frames += s.frames, ++result.stretches;
    }
    result.line.cycles_per_frame = cycles / weights;
    result.line.depth = depth / contrasts, result.line.bands = bands / contrasts;
    result.line.cycles_uncertainty =
        std::hypot(std::sqrt(1 / weights), least_resolution_share / static_cast<double>(result.frames));
    result.line.depth_uncertainty = std::hypot(reference.depth_uncertainty, least_depth_share * result.line.depth);
    return result;
}

std::string Flicker::reason() const {
    if (grid_.is_too_small()) return "the picture is too small";
    Sensitivity worst{0, 0};
    bool any = false;
    for (const Stretch& s : stretches_) {
        const Sensitivity& seen = s.search.sensitivity;
        if (seen.depth >= 1) continue;
        worst.depth = std::max(worst.depth, seen.depth),
        worst.slowest_cycles = std::max(worst.slowest_cycles, seen.slowest_cycles);
        any = true;
    }
    if (!any) return "too few frames, or too dark, to show flicker";
    const double rate = frames_per_s(), slowest_hz = worst.slowest_cycles * rate;
    const bool interlaced = stretches_.front().interlaced;
    std::string text =
        fmt::format("no flicker: {} deep it would have been seen at most frequencies, {} deep from {:.2g} Hz up",
                    percent(std::max(worst.depth, least_flicker_depth)), percent(slow_depth), slowest_hz);
    std::vector<std::string> still;
    for (const ScreenLight& light : lights_) {
        const double beat_hz = calc::apparent_flicker_hz(light.rate_hz, interlaced ? 2 * rate : rate);
        const bool hidden = beat_hz < slowest_hz || (interlaced && beat_hz > rate - slowest_hz);
        std::string name = fmt::format("{:.4g}", light.rate_hz);
        if (hidden && light.rate_hz < named_below_hz && std::ranges::find(still, name) == still.end())
            still.push_back(std::move(name));
    }
    if (!still.empty())
        text += fmt::format("; light of {} Hz stands (almost) still before this camera", fmt::join(still, ", "));
    return text;
}

Figure Flicker::screen_figure(const Found& found) const {
    const double rate = frames_per_s();
    const auto stamps = context_.stamps.frame_rate();
    SeenFlicker seen;
    seen.frequency_hz = found.line.cycles_per_frame * rate;
    seen.uncertainty_hz = found.line.cycles_uncertainty * rate;
    seen.bands = found.line.bands, seen.bands_uncertainty = found.line.bands_uncertainty;
    seen.resolution_hz = 2 * rate * static_cast<double>(found.stretches) / static_cast<double>(found.frames);
    seen.camera_hz = found.interlaced ? 2 * rate : rate;
    seen.camera_uncertainty_hz = stamps ? stamps->uncertainty_hz * (found.interlaced ? 2 : 1) : 0;
    const auto choices = explain_flicker(seen, lights_);
    if (choices.empty()) {
        std::vector<std::string> rates;
        const double apparent_hz = std::min(seen.frequency_hz, seen.camera_hz / 2);
        for (const auto& alias : calc::aliases(apparent_hz, seen.camera_hz, 0, named_below_hz))
            rates.push_back(fmt::format("{:.2f}", alias.rate_hz));
        return Figure::unknown(
            fmt::format("no screen or lamp of the table beats so with this camera; a light of {} Hz would",
                        fmt::join(rates, ", ")));
    }
    const double best_hz = choices.front().rate_hz, beat_hz = calc::beat_hz(best_hz, seen.camera_hz);
    const double multiple = (best_hz - beat_hz) / seen.camera_hz;
    const double measured_hz = multiple * seen.camera_hz + (beat_hz < 0 ? -1 : 1) * seen.frequency_hz;
    Figure figure =
        Figure::measured(best_hz, std::hypot(seen.uncertainty_hz, multiple * seen.camera_uncertainty_hz), "Hz");
    std::vector<double> others;
    for (std::size_t i = 1; i < choices.size(); ++i) others.push_back(choices[i].rate_hz);
    return figure.with_alternatives(std::move(others)).with_note(fmt::format("measured as {:.4f} Hz", measured_hz));
}

void Flicker::add_figures(const Found& found, quantity::Figures& figures) const {
    const double rate = frames_per_s();
    const auto stamps = context_.stamps.frame_rate();
    const double frequency_hz = found.line.cycles_per_frame * rate;
    const double of_rate = stamps ? stamps->uncertainty_hz / rate : 0;
    Figure frequency =
        Figure::measured(frequency_hz, std::hypot(found.line.cycles_uncertainty * rate, frequency_hz * of_rate), "Hz");
    std::string note = std::abs(found.line.bands) < at_once_bands
                           ? "the whole picture at once"
                           : fmt::format("bands roll {}, {:.2f} to the picture's height",
                                         found.line.bands < 0 ? "down" : "up", std::abs(found.line.bands));
    if (found.stretches < stretches_.size()) {
        note += fmt::format("; in {} of {} stretches of the clip", found.stretches, stretches_.size());
    }
    figures.add("flicker_frequency", frequency.with_note(note));
    figures.add("flicker_depth", Figure::measured(found.line.depth, found.line.depth_uncertainty, "share"));
    figures.add("screen_rate", screen_figure(found));
}

/// Codecs that foretell pictures from others treat every second or third alike, and get its brightness a little wrong.
bool Flicker::is_of_codec(const Found& found) const {
    if (!context_.info.is_lossy || found.line.depth > most_of_codec || std::abs(found.line.bands) >= at_once_bands)
        return false;
    const double reach = same_deviations * found.line.cycles_uncertainty;
    return std::ranges::any_of(codec_cycles,
                               [&](double cycles) { return std::abs(found.line.cycles_per_frame - cycles) <= reach; });
}

/// Why what was found is not told as flicker; empty if it is.
std::string Flicker::objection(const Found& found) const {
    if (is_of_codec(found))
        return fmt::format("the picture pumps by {} from one picture to the next, as the clip's codec makes it",
                           percent(found.line.depth));
    if (found.line.depth < unexplained_depth && !screen_figure(found).is_known())
        return fmt::format(
            "no light of a known screen or lamp; what moves in the picture makes it {} brighter and darker at {:.2f} "
            "Hz",
            percent(found.line.depth), found.line.cycles_per_frame * frames_per_s());
    const double most = screen_figure(found).is_known() ? most_uneven_if_known : most_uneven;
    if (found.line.depth_uncertainty > most * found.line.depth)
        return fmt::format(
            "no steady light of a screen or lamp; what burns or moves makes the picture brighter and darker by about "
            "{}, now more and now less, about {:.1f} times a second",
            percent(found.line.depth), found.line.cycles_per_frame * frames_per_s());
    return {};
}

void Flicker::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    if (series_.length() > 0) end_stretch();
    const auto flicker = found();
    const std::string why = flicker ? objection(*flicker) : reason();
    if (why.empty()) return add_figures(*flicker, figures);
    for (const char* id : {"flicker_frequency", "flicker_depth", "screen_rate"}) figures.add(id, Figure::unknown(why));
}

}  // namespace guardband::measure
