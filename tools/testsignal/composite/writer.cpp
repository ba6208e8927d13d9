#include "testsignal/composite/writer.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "quantity/errors.h"
#include "testsignal/composite/sample_file.h"

namespace guardband::testsignal {
namespace {

using Json = nlohmann::ordered_json;

Json signal_json(const CompositeRecipe& r, const CompositeTruth& t) {
    const CompositeSystem& s = r.system;
    const double seen = r.sampling.rate_hz.value() / t.true_rate_hz;
    Json json = {{"scanning", s.scanning},
                 {"colour", s.colour.empty() ? "none" : s.colour},
                 {"lines_per_frame", s.lines},
                 {"line_rate_hz", t.line_rate_hz},
                 {"line_rate_seen_hz", t.line_rate_hz * seen},
                 {"field_rate_hz", t.field_rate_hz},
                 {"sync_amplitude_mv", -s.sync_mv},
                 {"black_mv", s.black_mv},
                 {"white_mv", s.white_mv},
                 {"sync_width_us", s.sync_us},
                 {"sync_rise_us", s.sync_rise_us},
                 {"front_porch_us", s.front_porch_us},
                 {"picture_start_us", s.picture_start_us}};
    if (s.subcarrier_hz) {
        json["subcarrier_hz"] = t.subcarrier_hz;
        json["subcarrier_seen_hz"] = t.subcarrier_hz * seen;
        json["burst_start_us"] = s.burst_start_us;
        json["burst_cycles"] = s.burst_cycles;
        json["burst_amplitude_mv"] = s.burst_mv * (1 + r.distortion.chroma_gain_percent / 100);
        json["u_axis_at_first_sync_deg"] = r.subcarrier_phase_deg;
        json["burst_assumed_from"] = s.burst_of.empty() ? Json(nullptr) : Json(s.burst_of);
    }
    if (s.kind == ColourKind::Frequency) {
        json["rest_red_hz"] = s.frequency.red_hz.value();
        json["rest_blue_hz"] = s.frequency.blue_hz.value();
    }
    return json;
}

Json time_base_json(const CompositeRecipe& r, const CompositeTruth& t) {
    Json json = {{"time_base_error_rms_ns", t.time_base_error_rms_ns},
                 {"line_jitter_rms_ns", t.line_jitter_rms_ns},
                 {"counted_lines", t.counted_lines},
                 {"skews_us", t.skews_us},
                 {"stable_subcarrier", r.time_base.stable_subcarrier}};
    json["head_switch_line"] = r.time_base.head_switch_line ? Json(*r.time_base.head_switch_line) : Json(nullptr);
    return json;
}

/// Largest part of the 2T mask's K that an echo takes: 4K at 2T from the pulse, 2K at 4T, K from 8T on (ITU-T J.61
/// and CCIR 567, from memory), straight on logarithmic time between.
double k_factor_percent(const CompositeRecipe& r) {
    const double t = r.distortion.echo_delay_ns / 1e3 / t_pulse_us(r.system);
    return std::abs(r.distortion.echo_percent) / std::clamp(8 / std::max(t, 1e-3), 1.0, 4.0);
}

/// Of the chroma on a staircase, whose law is straight from blanking to white: (largest − smallest)/largest.
double differential_gain_percent(const CompositeRecipe& r) {
    const double at_white = 1 + r.distortion.differential_gain_percent / 100;
    return 100 * (std::max(1.0, at_white) - std::min(1.0, at_white)) / std::max(1.0, at_white);
}

Json distortion_json(const CompositeRecipe& r) {
    const CompositeDistortion& d = r.distortion;
    return {{"differential_gain_percent", differential_gain_percent(r)},
            {"differential_phase_deg", std::abs(d.differential_phase_deg)},
            {"luma_nonlinearity_percent", d.luma_nonlinearity_percent},
            {"chroma_gain_percent", d.chroma_gain_percent},
            {"chroma_delay_ns", d.chroma_delay_ns},
            {"echo_percent", d.echo_percent},
            {"echo_delay_ns", d.echo_delay_ns},
            {"k_factor_2t_percent", k_factor_percent(r)}};
}

Json insertions_json(const CompositeRecipe& r) {
    Json list = Json::array();
    for (const Insertion& one : r.insertions) {
        Json parts = Json::array();
        for (const InsertionElement& e : insertion_elements(r.system, one.signal)) {
            parts.push_back({{"kind", to_string(e.kind)},
                             {"from_us", e.from_us},
                             {"to_us", e.to_us},
                             {"height_mv", e.height_mv},
                             {"width_us", e.width_us},
                             {"mhz", e.mhz}});
            if (e.kind == InsertionElement::Kind::Wave)
                parts.back()["response_db"] = wave_response_db(r.distortion.roll_off_mhz, e.mhz);
        }
        list.push_back({{"line", one.line}, {"signal", to_string(one.signal)}, {"elements", parts}});
    }
    return list;
}

/// What each service says; null where it is not sent.
Json data_lines_json(const CompositeRecipe& r) {
    const DataLines& d = r.data;
    const MadeTimeCode& start = d.time_code_start;
    Json json = Json::object();
    if (!d.teletext.empty()) json["teletext"] = {{"lines", d.teletext}, {"page", d.page}, {"header", d.page_header}};
    if (!d.captions.empty()) json["captions"] = {{"lines", d.captions}, {"text", d.caption_text}};
    if (!d.wide_screen.empty()) json["wide_screen"] = {{"lines", d.wide_screen}, {"word", d.wide_screen_word}};
    if (!d.label.empty())
        json["label"] = {{"lines", d.label},
                         {"network", d.label_network},
                         {"time", {d.label_day, d.label_month, d.label_hour, d.label_minute}}};
    if (!d.time_code.empty())
        json["time_code"] = {{"lines", d.time_code},
                             {"start", {start.hours, start.minutes, start.seconds, start.frames}},
                             {"drop_frame", d.drop_frame},
                             {"jump_at_frame", d.jump_at_frame},
                             {"jump_by_frames", d.jump_by_frames}};
    if (d.any()) json["level_percent"] = d.level_percent;
    return json;
}

Json dropouts_json(const CompositeTruth& t) {
    Json list = Json::array();
    for (const CompositeDropout& d : t.dropouts) list.push_back({{"start_s", d.start_s}, {"length_us", d.length_us}});
    return list;
}

Json sampling_json(const CompositeRecipe& r, const CompositeTruth& t) {
    return {{"rate_hz", r.sampling.rate_hz.value()},
            {"true_rate_hz", t.true_rate_hz},
            {"clock_error_ppm", r.sampling.clock_error_ppm},
            {"samples", t.samples},
            {"gain_per_volt", r.sampling.gain_per_volt},
            {"offset", r.sampling.offset},
            {"inverted", r.sampling.inverted}};
}

}  // namespace

std::string composite_extension(const CompositeRecipe& recipe) {
    switch (recipe.sampling.file) {
        case SampleFile::Wav:
            return "wav";
        case SampleFile::Flac:
            return "flac";
        case SampleFile::Raw:
            break;
    }
    return to_string(recipe.sampling.format);
}

std::string write_composite(const CompositeRecipe& recipe, const std::string& path) {
    CompositeMaker maker(recipe);
    const auto file = open_sample_file(recipe.sampling, maker.timeline().sample_count(), path);
    std::vector<float> samples;
    while (maker.next(samples)) file->put(samples);
    file->finish();
    const CompositeTruth truth = maker.truth();
    const CompositeDisturbance& d = recipe.disturbance;
    const Json json = {
        {"schema", "guardband.testsignal-composite/1"},
        {"invented",
         recipe.invented.empty() ? "Drawn by guardband-testsignal: no machine ever played this." : recipe.invented},
        {"name", recipe.name},
        {"title", recipe.title},
        {"file", std::filesystem::path(path).filename().string()},
        {"signal", signal_json(recipe, truth)},
        {"sampling", sampling_json(recipe, truth)},
        {"time_base", time_base_json(recipe, truth)},
        {"distortion", distortion_json(recipe)},
        {"insertions", insertions_json(recipe)},
        {"data_lines", data_lines_json(recipe)},
        {"noise", {{"snr_db", d.snr_db ? Json(*d.snr_db) : Json(nullptr)}, {"noise_mv", truth.noise_mv}}},
        {"hum", {{"hz", d.hum_hz}, {"mv", d.hum_mv}}},
        {"coupling_hz", d.coupling_hz},
        {"dropouts", dropouts_json(truth)},
        {"seed", recipe.seed}};
    return json.dump(2) + "\n";
}

}  // namespace guardband::testsignal
