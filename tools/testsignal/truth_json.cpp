#include "testsignal/truth_json.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "testsignal/clip_writer.h"

namespace guardband::testsignal {
namespace {

using Json = nlohmann::ordered_json;

template <typename T>
Json or_null(const std::optional<T>& value) {
    return value ? Json(*value) : Json(nullptr);
}

const char* word(FieldOrder order) { return order == FieldOrder::TopFirst ? "top first" : "bottom first"; }

const char* word(DeclaredOrder order) {
    switch (order) {
        case DeclaredOrder::TopFirst:
            return "top first";
        case DeclaredOrder::BottomFirst:
            return "bottom first";
        case DeclaredOrder::Progressive:
            return "progressive";
        case DeclaredOrder::Unknown:
            break;
    }
    return "unknown";
}

const char* word(Codec codec) { return codec == Codec::Ffv1 ? "ffv1" : codec == Codec::V210 ? "v210" : "dv"; }

const char* word(ChromaSampling chroma) {
    return chroma == ChromaSampling::C422 ? "4:2:2" : chroma == ChromaSampling::C420 ? "4:2:0" : "4:1:1";
}

/// What the fields of a clip show together: film pulled down two fields to a frame is progressive although it is stored
/// as fields.
const char* seen_scan(const Recipe& r) {
    if (r.scan == Scan::Progressive) return "progressive";
    if (r.picture.still) return "still";
    bool whole_frames = !r.pulldown.empty(), cadence = !r.pulldown.empty();
    for (const int fields : r.pulldown) whole_frames = whole_frames && fields % 2 == 0;
    return whole_frames ? "progressive" : cadence ? "pulldown" : "interlaced";
}

Json format_json(const Recipe& r) {
    const double rate = r.raster.frame_rate.value();
    return {
        {"system", r.system.empty() ? Json(nullptr) : Json(r.system)},
        {"width", r.raster.width},
        {"height", r.raster.height},
        {"frame_rate", quantity::to_string(r.raster.frame_rate)},
        {"frame_rate_hz", rate},
        {"field_rate_hz", r.scan == Scan::Interlaced ? Json(2 * rate) : Json(nullptr)},
        {"codec", word(r.codec)},
        {"container", r.container},
        {"bit_depth", r.bit_depth},
        {"chroma", word(r.chroma)},
        {"sample_aspect", r.codec == Codec::Dv ? Json(nullptr) : Json(quantity::to_string(r.raster.sample_aspect))}};
}

Json scan_json(const Recipe& r) {
    return {{"stored", r.scan == Scan::Interlaced ? "interlaced" : "progressive"},
            {"seen", seen_scan(r)},
            {"field_order", r.scan == Scan::Interlaced ? Json(word(r.field_order)) : Json(nullptr)},
            {"field_order_declared", word(order_to_declare(r))},
            {"pulldown", r.pulldown}};
}

Json motion_json(const Recipe& r) {
    const auto& p = r.picture;
    return {{"still", p.still},
            {"background_px_per_picture", p.still ? 0.0 : p.motion_px},
            {"direction_deg", p.direction_deg},
            {"sway_px", p.still ? 0.0 : p.sway_px},
            {"sway_period_s", p.sway_period_s},
            {"cuts_s", p.cuts_s},
            {"luma_bandwidth_mhz", p.luma_bandwidth_mhz},
            {"chroma_bandwidth_mhz", p.chroma_bandwidth_mhz},
            {"chroma_delay_ns", p.chroma_delay_ns},
            {"chroma_lower_lines", p.chroma_lower_lines}};
}

Json levels_json(const Truth& truth) {
    const auto& t = truth.tally;
    const auto share = [&](std::int64_t count) {
        return t.samples ? static_cast<double>(count) / static_cast<double>(t.samples) : 0.0;
    };
    return {{"black_code", or_null(truth.black_code)},
            {"white_code", or_null(truth.white_code)},
            {"clip_low_code", or_null(truth.recipe.levels.clip_low_code)},
            {"clip_high_code", or_null(truth.recipe.levels.clip_high_code)},
            {"chroma_gain", truth.recipe.levels.chroma_gain},
            {"chroma_phase_deg", truth.recipe.levels.chroma_phase_deg},
            {"luma_samples", t.samples},
            {"clipped_low", t.clipped_low},
            {"clipped_high", t.clipped_high},
            {"clipped_low_share", share(t.clipped_low)},
            {"clipped_high_share", share(t.clipped_high)},
            {"at_low_limit_share", share(t.at_low)},
            {"at_high_limit_share", share(t.at_high)}};
}

Json faults_json(const Truth& truth) {
    Json missing = Json::array();
    for (const auto& m : truth.missing_frames)
        missing.push_back({{"source_frame", m.source_frame}, {"before_frame", m.before_frame}});
    return {{"repeated_fields", truth.repeated_fields},
            {"repeated_frames", truth.repeated_frames},
            {"repeats_are_exact_copies",
             truth.recipe.faults.repeat_stage == RepeatStage::AfterNoise && truth.recipe.pulldown.empty()},
            {"missing_frames", missing},
            {"stamps_keep_gap", truth.recipe.faults.stamps_keep_gap}};
}

Json time_base_json(const Truth& truth) {
    if (!truth.time_base) return nullptr;
    const auto& t = *truth.time_base;
    return {{"time_base_error_rms_ns", t.time_base_error_rms_ns},
            {"time_base_error_peak_ns", t.time_base_error_peak_ns},
            {"line_jitter_rms_ns", t.line_jitter_rms_ns},
            {"flagging_ns", t.flagging_ns},
            {"head_switch_line", or_null(t.head_switch_line)},
            {"head_switch_step_ns", or_null(t.head_switch_step_ns)},
            {"vertical_jitter_rms_lines", t.vertical_jitter_rms_lines}};
}

Json blanking_json(const Recipe& r) {
    if (!r.blanking) return nullptr;
    return {{"left_px", r.blanking->left_px}, {"right_px", r.blanking->right_px}, {"rise_ns", r.blanking->rise_ns}};
}

const char* word(TestPattern pattern) {
    switch (pattern) {
        case TestPattern::Bars100_100:
            return "100/0/100/0";
        case TestPattern::Bars100_75:
            return "100/0/75/0";
        case TestPattern::Bars75_75:
            return "75/0/75/0";
        case TestPattern::SplitBars:
            return "split bars";
        case TestPattern::Multiburst:
            return "multiburst";
        case TestPattern::PulseAndBar:
            return "pulse and bar";
        case TestPattern::Ramp:
            break;
    }
    return "ramp";
}

Json test_picture_json(const Recipe& r) {
    if (!r.test_picture) return nullptr;
    return {{"pattern", word(r.test_picture->pattern)},
            {"from_s", r.test_picture->from_s},
            {"until_s", or_null(r.test_picture->until_s)}};
}

Json padding_json(const Recipe& r) {
    if (!r.padding) return nullptr;
    const auto& p = *r.padding;
    return {
        {"left_px", p.left_px}, {"right_px", p.right_px}, {"top_lines", p.top_lines}, {"bottom_lines", p.bottom_lines}};
}

Json dropouts_json(const Truth& truth) {
    Json out = Json::array();
    for (const Dropout& d : truth.dropouts)
        out.push_back({{"kind", d.held     ? "held"
                                : d.bright ? "bright"
                                           : "dark"},
                       {"field", d.field},
                       {"line", d.line},
                       {"start_us", d.start_us},
                       {"length_us", d.length_us}});
    return out;
}

Json conversion_json(const Recipe& r) {
    if (!r.conversion) return nullptr;
    return {{"from_field_rate_hz", r.conversion->from_field_rate.value()},
            {"method", r.conversion->method == ConversionMethod::Blend ? "blend" : "repeat"},
            {"whole_frames", r.conversion->whole_frames}};
}

Json player_json(const Recipe& r) {
    const auto stretch = [](const FrameStretch& s) { return s ? Json(*s) : Json(nullptr); };
    return {{"black", stretch(r.player.black)},
            {"grey", stretch(r.player.grey)},
            {"blue", stretch(r.player.blue)},
            {"snow", stretch(r.player.snow)},
            {"colourless", stretch(r.player.colourless)},
            {"colour_alternates", stretch(r.player.colour_alternates)}};
}

Json noise_band_json(const Recipe& r) {
    if (!r.noise_band) return nullptr;
    const auto& b = *r.noise_band;
    return {{"top", b.top},          {"height", b.height},         {"drift_per_s", b.drift_per_s},
            {"start_s", b.start_s},  {"duration_s", b.duration_s}, {"bands", b.bands},
            {"spacing", b.spacing},  {"other_head", b.other_head}, {"swing", b.swing},
            {"swing_hz", b.swing_hz}};
}

Json vertical_roll_json(const Recipe& r) {
    if (!r.vertical_roll) return nullptr;
    const auto& v = *r.vertical_roll;
    return {{"lines_per_s", v.lines_per_s},
            {"bar_lines", v.bar_lines},
            {"start_s", v.start_s},
            {"duration_s", v.duration_s}};
}

Json flicker_json(const Truth& truth) {
    if (!truth.flicker) return nullptr;
    const auto& f = *truth.flicker;
    const auto& r = truth.recipe;
    return {{"source", r.screen ? "screen" : "lamp"},
            {"rate_hz", f.rate_hz},
            {"sampling_hz", f.sampling_hz},
            {"apparent_hz", std::abs(f.apparent_signed_hz)},
            {"apparent_signed_hz", f.apparent_signed_hz},
            {"light_depth", f.light_depth},
            {"signal_depth", f.signal_depth},
            {"steady_share", f.steady_share},
            {"bands", f.bands},
            {"exposure_ms", r.camera.exposure_ms},
            {"readout_ms", r.camera.readout_ms},
            {"decay_ms", r.screen ? Json(r.screen->decay_ms) : Json(nullptr)},
            {"gamma", r.camera.gamma}};
}

Json sound_json(const Recipe& r) {
    if (!r.sound_track) return r.sound ? Json({{"tone_hz", tone_hz}}) : Json(nullptr);
    const SoundTrackSettings& t = *r.sound_track;
    const double speed = 1 + t.speed_error_percent / 100;
    return {{"sample_rate_hz", t.sample_rate_hz},
            {"channels", t.channels},
            {"tone_hz", or_null(t.tone_hz)},
            {"programme_db", or_null(t.programme_db)},
            {"bandwidth_khz", t.programme_db ? Json(t.bandwidth_khz) : Json(nullptr)},
            {"noise_db", or_null(t.noise_db)},
            {"hum_hz", t.hum_db ? Json(t.hum_hz * speed) : Json(nullptr)},
            {"hum_db", or_null(t.hum_db)},
            {"whistle_hz", t.whistle_db ? Json(t.whistle_hz * speed) : Json(nullptr)},
            {"whistle_db", or_null(t.whistle_db)},
            {"speed_ratio", speed},
            {"delay_us", t.delay_us},
            {"gaps", t.gaps.size()},
            {"longer_ms", t.longer_ms}};
}

}  // namespace

std::string truth_json(const Truth& truth, const std::string& file) {
    const Recipe& r = truth.recipe;
    Json out = {{"schema", "guardband.testsignal/1"},
                {"invented",
                 r.invented.empty() ? "Drawn by guardband-testsignal: no tape was ever played for this." : r.invented},
                {"name", r.name},
                {"title", r.title},
                {"file", file},
                {"frame_count", truth.frame_count},
                {"duration_s", static_cast<double>(truth.frame_count) / r.raster.frame_rate.value()},
                {"format", format_json(r)},
                {"scan", scan_json(r)},
                {"motion", motion_json(r)},
                {"noise",
                 {{"snr_db", or_null(r.noise.snr_db)},
                  {"chroma_snr_db", or_null(r.noise.chroma_snr_db ? r.noise.chroma_snr_db : r.noise.snr_db)}}},
                {"levels", levels_json(truth)},
                {"faults", faults_json(truth)},
                {"time_base", time_base_json(truth)},
                {"blanking", blanking_json(r)},
                {"test_picture", test_picture_json(r)},
                {"padding", padding_json(r)},
                {"dropouts", dropouts_json(truth)},
                {"conversion", conversion_json(r)},
                {"player", player_json(r)},
                {"noise_band", noise_band_json(r)},
                {"vertical_roll", vertical_roll_json(r)},
                {"stamps", {{"step_s", stamp_step_s(r)}, {"jitter_rms_s", r.stamps.jitter_rms_ms / 1e3}}},
                {"flicker", flicker_json(truth)},
                {"sound", sound_json(r)},
                {"seed", r.seed}};
    return out.dump(2) + "\n";
}

}  // namespace guardband::testsignal
