#include "testsignal/recipe.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "quantity/errors.h"
#include "testsignal/filmed_light.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

void require(bool holds, std::string_view key, std::string what, std::string remedy) {
    if (!holds) throw InputError(std::string(key), std::move(what), std::move(remedy));
}

void require_range(double value, double low, double high, std::string_view key) {
    require(std::isfinite(value) && low <= value && value <= high, key, fmt::format("{:g} is out of range", value),
            fmt::format("give {:g} to {:g}", low, high));
}

void check_raster(const Recipe& r) {
    require(!r.name.empty() &&
                r.name.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") ==
                    std::string::npos &&
                r.name[0] != '.',
            "name", fmt::format("'{}' does not do as the name of a file", r.name),
            "use letters, digits, '-', '_' and '.'");
    require_range(r.raster.width, 16, 8192, "raster");
    require_range(r.raster.height, 16, 8192, "raster");
    const int width_step = r.chroma == ChromaSampling::C411 ? 4 : 2;
    const int height_step = (r.scan == Scan::Interlaced ? 2 : 1) * (r.chroma == ChromaSampling::C420 ? 2 : 1);
    require(r.raster.width % width_step == 0, "raster",
            fmt::format("width {} is not a multiple of {}", r.raster.width, width_step),
            "this scan and colour sampling need that");
    require(r.raster.height % height_step == 0, "raster",
            fmt::format("height {} is not a multiple of {}", r.raster.height, height_step),
            "this scan and colour sampling need that");
    require_range(r.raster.frame_rate.value(), 1, 1000, "frame_rate");
    require_range(r.raster.luma_sampling_hz, 1e6, 1e9, "luma_sampling_mhz");
    require(r.raster.sample_aspect.numerator() > 0, "sample_aspect", "must be above 0", "give a ratio such as 16/15");
}

void check_picture(const Recipe& r) {
    const auto& p = r.picture;
    require_range(p.motion_px, -100, 100, "picture.motion_px");
    require_range(p.direction_deg, -360, 360, "picture.direction_deg");
    require_range(p.sway_px, 0, 1000, "picture.sway_px");
    require_range(p.sway_period_s, 0.1, 3600, "picture.sway_period_s");
    require_range(p.luma_bandwidth_mhz, 0.2, 1000, "picture.luma_bandwidth_mhz");
    require_range(p.chroma_bandwidth_mhz, 0.1, 1000, "picture.chroma_bandwidth_mhz");
    require_range(p.tint, -0.3, 0.3, "picture.tint");
    require_range(p.chroma_delay_ns * r.raster.luma_sampling_hz / 1e9, -8, 8, "picture.chroma_delay_ns");
    require_range(p.chroma_lower_lines, -8, 8, "picture.chroma_lower_lines");
    if (p.aperture_lines) require_range(*p.aperture_lines, 0, 20, "picture.aperture_lines");
    for (std::size_t i = 0; i < p.cuts_s.size(); ++i)
        require(p.cuts_s[i] > (i == 0 ? 0 : p.cuts_s[i - 1]), "picture.cuts_s", "cuts must rise and lie after 0",
                "put them in order");
}

void check_levels(const Recipe& r) {
    const double scale = 1 << (r.bit_depth - 8);
    require_range(r.levels.black_code, 1, 254, "levels.black_code");
    require_range(r.levels.white_code, r.levels.black_code + 1, 300, "levels.white_code");
    require_range(r.levels.chroma_gain, 0, 2, "levels.chroma_gain");
    require_range(r.levels.chroma_phase_deg, -180, 180, "levels.chroma_phase_deg");
    const auto require_code = [&](std::optional<double> code, std::string_view key) {
        if (!code) return;
        require_range(*code, 1, 254.75, key);
        require(*code * scale == std::round(*code * scale), key,
                fmt::format("{:g} is not a code of {} bits", *code, r.bit_depth),
                fmt::format("give a multiple of {:g}", 1 / scale));
    };
    require_code(r.levels.clip_low_code, "levels.clip_low_code");
    require_code(r.levels.clip_high_code, "levels.clip_high_code");
    require(r.levels.clip_low_code.value_or(1) < r.levels.clip_high_code.value_or(255), "levels.clip_high_code",
            "must lie above clip_low_code", "exchange them");
    if (r.noise.snr_db) require_range(*r.noise.snr_db, 0, 120, "noise.snr_db");
    if (r.noise.chroma_snr_db) require_range(*r.noise.chroma_snr_db, 0, 120, "noise.chroma_snr_db");
}

void check_faults(const Recipe& r) {
    const std::int64_t frames = source_frame_count(r);
    const auto require_numbers = [](const std::vector<std::int64_t>& numbers, std::int64_t low, std::int64_t end,
                                    std::string_view key) {
        for (const std::int64_t n : numbers)
            require(low <= n && n < end, key, fmt::format("{} does not exist or has none before it", n),
                    fmt::format("give {} to {}", low, end - 1));
    };
    require_numbers(r.faults.repeated_fields, 2, 2 * frames, "faults.repeated_fields");
    require_numbers(r.faults.repeated_frames, 1, frames, "faults.repeated_frames");
    require_numbers(r.faults.missing_frames, 0, frames, "faults.missing_frames");
    require(r.faults.repeated_fields.empty() || r.scan == Scan::Interlaced, "faults.repeated_fields",
            "a progressive clip has no fields", "use repeated_frames");
    require(static_cast<std::int64_t>(r.faults.missing_frames.size()) < frames, "faults.missing_frames",
            "no frame would be left", "list fewer");
    require_range(r.stamps.rounding_ms, 0, 1000, "stamps.rounding_ms");
    require(r.stamps.rounding_ms / 1e3 * r.raster.frame_rate.value() < 1, "stamps.rounding_ms",
            "two frames would get the same stamp", "round to less than a frame");
    require_range(r.stamps.jitter_rms_ms, 0, 1000, "stamps.jitter_rms_ms");
    require(r.stamps.jitter_rms_ms == 0 || r.stamps.rounding_ms / 1e3 * r.raster.frame_rate.value() < 0.1,
            "stamps.jitter_rms_ms", "with this rounding stamps could fall together",
            "round to less than a tenth of a frame");
    require(r.pulldown.empty() || r.scan == Scan::Interlaced, "pulldown", "film is pulled down to fields",
            "set scan to interlaced");
    for (const int fields : r.pulldown) require_range(fields, 1, 100, "pulldown");
}

void check_time_base(const Recipe& r) {
    require(r.scan == Scan::Interlaced || (!r.time_base && !r.blanking && !r.dropouts), "scan",
            "lines are displaced, blanked and lost field by field", "set it to interlaced");
    if (r.blanking) {
        require_range(r.blanking->left_px, 0, r.raster.width / 4.0, "blanking.left_px");
        require_range(r.blanking->right_px, 0, r.raster.width / 4.0, "blanking.right_px");
        require_range(r.blanking->rise_ns, 50, 2000, "blanking.rise_ns");
    }
    if (r.dropouts) {
        require_range(r.dropouts->per_minute, 0, 1e6, "dropouts.per_minute");
        require_range(r.dropouts->length_us, 0.2, 50, "dropouts.length_us");
        require(r.dropouts->bright || r.dropouts->dark || r.dropouts->held, "dropouts.dark", "no kind is asked for",
                "allow one");
        require_range(r.dropouts->lines, 1, 20, "dropouts.lines");
        const int last_line = r.raster.height / 2 - 1;
        require_range(r.dropouts->at_line.value_or(0), 0, last_line, "dropouts.at_line");
        require_range(r.dropouts->held_snr_db.value_or(50), 20, 90, "dropouts.held_snr_db");
    }
    if (!r.time_base) return;
    const auto& t = *r.time_base;
    require(t.sine_ns.size() == t.sine_hz.size(), "time_base.sine_hz", "there must be one for each of sine_ns",
            "give lists of the same length");
    double sum_ns = 6 * t.random_ns + std::abs(t.flagging_ns);
    for (const double amplitude : t.sine_ns) sum_ns += std::abs(amplitude);
    for (const double step : t.head_switch_steps_ns) sum_ns += std::abs(step);
    require_range(sum_ns * r.raster.luma_sampling_hz / 1e9, 0, r.raster.width / 1.5, "time_base");
    for (const double rate : t.sine_hz) require_range(rate, 0, 1e5, "time_base.sine_hz");
    require_range(t.random_ns, 0, 1e5, "time_base.random_ns");
    require_range(t.flagging_lines, 0.1, 1000, "time_base.flagging_lines");
    require_range(t.vertical_rms_lines, 0, 100, "time_base.vertical_rms_lines");
    require(t.head_switch_line.has_value() == !t.head_switch_steps_ns.empty(), "time_base.head_switch_steps_ns",
            "a switch needs its line and its steps", "give both or neither");
    if (t.head_switch_line) require_range(*t.head_switch_line, 1, r.raster.height / 4.0, "time_base.head_switch_line");
}

void check_test_picture(const Recipe& r) {
    if (r.padding) {
        const auto& p = *r.padding;
        const int most_px = r.raster.width / 4, most_lines = r.raster.height / 4;
        require_range(p.left_px, 0, most_px, "padding.left_px");
        require_range(p.right_px, 0, most_px, "padding.right_px");
        require_range(p.top_lines, 0, most_lines, "padding.top_lines");
        require_range(p.bottom_lines, 0, most_lines, "padding.bottom_lines");
    }
    if (!r.test_picture) return;
    require_range(r.test_picture->from_s, 0, 1e6, "test_picture.from_s");
    if (r.test_picture->until_s)
        require_range(*r.test_picture->until_s, r.test_picture->from_s, 1e6, "test_picture.until_s");
}

void check_stretch(const FrameStretch& stretch, std::int64_t frames, std::string_view key) {
    if (!stretch) return;
    const auto [first, count] = *stretch;
    require(0 <= first && 0 < count && count <= frames && first <= frames - count, key,
            fmt::format("there are no {} frames from {} on", count, first),
            "give the first frame and how many, within the clip");
}

void check_player(const Recipe& r) {
    if (r.conversion) {
        require_range(r.conversion->from_field_rate.value(), 1, 1000, "conversion.from_field_rate");
        require(r.scan == Scan::Interlaced && r.pulldown.empty(), "conversion", "fields of video are converted",
                "set scan to interlaced and leave pulldown out");
    }
    const std::int64_t frames = source_frame_count(r);
    check_stretch(r.player.black, frames, "player.black");
    check_stretch(r.player.grey, frames, "player.grey");
    check_stretch(r.player.blue, frames, "player.blue");
    check_stretch(r.player.snow, frames, "player.snow");
    check_stretch(r.player.colourless, frames, "player.colourless");
    check_stretch(r.player.colour_alternates, frames, "player.colour_alternates");
    if (r.vertical_roll) {
        require(r.scan == Scan::Interlaced, "scan", "fields roll", "set it to interlaced");
        require_range(r.vertical_roll->lines_per_s, -1e5, 1e5, "vertical_roll.lines_per_s");
        require_range(r.vertical_roll->bar_lines, 0, 200, "vertical_roll.bar_lines");
        require_range(r.vertical_roll->start_s, 0, 36000, "vertical_roll.start_s");
        require_range(r.vertical_roll->duration_s, 0, 36000, "vertical_roll.duration_s");
    }
    if (!r.noise_band) return;
    require(r.scan == Scan::Interlaced, "scan", "a band of noise lies on fields", "set it to interlaced");
    require_range(r.noise_band->height, 0, 1, "noise_band.height");
    require_range(r.noise_band->top, -1, 1, "noise_band.top");
    require_range(r.noise_band->drift_per_s, -50, 50, "noise_band.drift_per_s");
    require_range(r.noise_band->start_s, 0, 36000, "noise_band.start_s");
    require_range(r.noise_band->duration_s, 0, 36000, "noise_band.duration_s");
    require_range(r.noise_band->bands, 1, 50, "noise_band.bands");
    require_range(r.noise_band->spacing, 0, 1, "noise_band.spacing");
    require_range(r.noise_band->other_head, -1, 1, "noise_band.other_head");
    require_range(r.noise_band->swing, 0, 1, "noise_band.swing");
    require_range(r.noise_band->swing_hz, 0, 25, "noise_band.swing_hz");
}

void check_light(const Recipe& r) {
    require(!(r.screen && r.lamp), "lamp", "there is a screen already", "give one of the two");
    require_range(r.camera.exposure_ms, 1e-3, 1e3, "camera.exposure_ms");
    require_range(r.camera.readout_ms, 0, 1e3, "camera.readout_ms");
    require_range(r.camera.gamma, 0.1, 2, "camera.gamma");
    if (r.screen) {
        const auto& s = *r.screen;
        require_range(s.rate_hz, 1, 1000, "screen.rate_hz");
        require_range(s.decay_ms, 1e-3, 1e3, "screen.decay_ms");
        require_range(s.scan_share, 0, 1, "screen.scan_share");
        require_range(s.left, 0, 1, "screen.left");
        require_range(s.top, 0, 1, "screen.top");
        require_range(s.width, 0.01, 1, "screen.width");
        require_range(s.height, 0.01, 1, "screen.height");
        if (s.depth) require_range(*s.depth, 0, 2, "screen.depth");
    }
    if (r.lamp) {
        require_range(r.lamp->rate_hz, 1, 1000, "lamp.rate_hz");
        require_range(r.lamp->ripple, 1e-6, 1, "lamp.ripple");
        if (r.lamp->depth) require_range(*r.lamp->depth, 0, 1, "lamp.depth");
    }
    if (r.screen || r.lamp) FilmedLight{r};  // knows what depth this light can give
}

bool holds(Codec codec, std::string_view container) {
    static constexpr std::string_view ffv1[] = {"mkv", "mov", "nut", "avi"}, v210[] = {"mov", "avi"},
                                      dv[] = {"dv", "avi", "mov"};
    const auto in = [&](const auto& list) { return std::ranges::find(list, container) != std::end(list); };
    return codec == Codec::Ffv1 ? in(ffv1) : codec == Codec::V210 ? in(v210) : in(dv);
}

void check_codec(const Recipe& r) {
    require(holds(r.codec, r.container), "container", fmt::format("\"{}\" does not take this codec", r.container),
            "ffv1 goes into mkv, mov, nut or avi, v210 into mov or avi, dv into dv, avi or mov");
    if (r.codec == Codec::V210)
        require(r.bit_depth == 10 && r.chroma == ChromaSampling::C422, "codec", "v210 holds 4:2:2 of 10 bits only",
                "leave bit_depth and chroma out");
    if (r.codec != Codec::Dv) return;
    require(!r.system.empty(), "system", "DV is made for 625/50 and 525/60 only", "name one of them");
    const auto needed = r.system == "625/50" ? ChromaSampling::C420 : ChromaSampling::C411;
    require(r.bit_depth == 8 && r.chroma == needed, "codec", "DV holds 8 bits, 4:2:0 in 625/50 and 4:1:1 in 525/60",
            "leave bit_depth and chroma out");
    require(!r.declared_order, "declared_order", "DV can't but declare bottom first", "leave it out");
}

}  // namespace

Recipe::Recipe() = default;
Recipe::Recipe(const Recipe&) = default;
Recipe::Recipe(Recipe&&) noexcept = default;
Recipe& Recipe::operator=(const Recipe&) = default;
Recipe& Recipe::operator=(Recipe&&) noexcept = default;
Recipe::~Recipe() = default;

quantity::Rational picture_rate(const Recipe& recipe) {
    return recipe.scan == Scan::Interlaced ? recipe.raster.frame_rate * quantity::Rational(2)
                                           : recipe.raster.frame_rate;
}

std::int64_t source_frame_count(const Recipe& recipe) {
    return std::max<std::int64_t>(1, std::llround(recipe.duration_s * recipe.raster.frame_rate.value()));
}

DeclaredOrder order_to_declare(const Recipe& recipe) {
    if (recipe.codec == Codec::Dv) return DeclaredOrder::BottomFirst;
    if (recipe.declared_order) return *recipe.declared_order;
    if (recipe.scan == Scan::Progressive) return DeclaredOrder::Progressive;
    return recipe.field_order == FieldOrder::TopFirst ? DeclaredOrder::TopFirst : DeclaredOrder::BottomFirst;
}

void check(const Recipe& recipe) {
    require(recipe.bit_depth == 8 || recipe.bit_depth == 10, "bit_depth",
            fmt::format("{} bits can't be made", recipe.bit_depth), "give 8 or 10");
    require_range(recipe.duration_s, 1e-3, 36000, "duration_s");
    check_raster(recipe);
    check_picture(recipe);
    check_levels(recipe);
    check_faults(recipe);
    check_time_base(recipe);
    check_player(recipe);
    check_light(recipe);
    check_test_picture(recipe);
}

void check_file(const Recipe& r) {
    check_codec(r);
    if (r.container != "avi" && r.container != "dv") return;
    const bool plain = r.stamps.rounding_ms == 0 && r.stamps.jitter_rms_ms == 0;
    require(plain, "stamps", fmt::format("{} has no time stamps to change", r.container), "choose mkv, mov or nut");
    require(r.faults.missing_frames.empty() || !r.faults.stamps_keep_gap, "faults.stamps_keep_gap",
            fmt::format("{} has no time stamps that could keep a gap", r.container),
            "set it to false, or choose mkv, mov or nut");
}

}  // namespace guardband::testsignal
