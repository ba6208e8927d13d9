#include "testsignal/recipe_sections.h"

#include <fmt/format.h>
#include <string>
#include <utility>
#include <vector>

#include "testsignal/sound_track_reader.h"

namespace guardband::testsignal {
namespace {

void read_picture(PictureSettings& p, Section s) {
    s.read("motion_px", p.motion_px);
    s.read("direction_deg", p.direction_deg);
    s.read("sway_px", p.sway_px);
    s.read("sway_period_s", p.sway_period_s);
    s.read("still", p.still);
    s.read("objects", p.objects);
    s.read("cuts_s", p.cuts_s);
    s.read("luma_bandwidth_mhz", p.luma_bandwidth_mhz);
    s.read("chroma_bandwidth_mhz", p.chroma_bandwidth_mhz);
    s.read("aperture_lines", p.aperture_lines);
    s.read("tint", p.tint);
    s.read("chroma_delay_ns", p.chroma_delay_ns);
    s.read("chroma_lower_lines", p.chroma_lower_lines);
    s.expect_no_more();
}

void read_noise(NoiseSettings& n, Section s) {
    s.read("snr_db", n.snr_db);
    s.read("chroma_snr_db", n.chroma_snr_db);
    s.expect_no_more();
}

/// Set-up that was not removed lifts black by its share of the range from black to white.
void add_setup(Recipe& recipe, Section& s, const std::string& colour_name, const table::Table& table) {
    const auto* colour = table.find_colour(colour_name);
    const auto* setup = colour ? colour->facts.known("setup_level") : nullptr;
    if (!setup)
        s.fail("setup_of", fmt::format("the table has no set-up of \"{}\"", colour_name),
               "give a colour system such as NTSC");
    recipe.levels.black_code += setup->in("IRE") / 100 * (recipe.levels.white_code - recipe.levels.black_code);
}

void read_levels(Recipe& recipe, Section s, const table::Table& table) {
    auto& l = recipe.levels;
    std::string setup_of;
    s.read("black_code", l.black_code);
    s.read("white_code", l.white_code);
    s.read("setup_of", setup_of);
    s.read("clip_low_code", l.clip_low_code);
    s.read("clip_high_code", l.clip_high_code);
    s.read("chroma_gain", l.chroma_gain);
    s.read("chroma_phase_deg", l.chroma_phase_deg);
    s.expect_no_more();
    if (!setup_of.empty()) add_setup(recipe, s, setup_of, table);
}

void read_faults(FaultSettings& f, Section s) {
    s.read("repeated_fields", f.repeated_fields);
    s.read("repeated_frames", f.repeated_frames);
    if (const auto stage = s.choice<RepeatStage>(
            "repeats", {{"before noise", RepeatStage::BeforeNoise}, {"after noise", RepeatStage::AfterNoise}}))
        f.repeat_stage = *stage;
    s.read("missing_frames", f.missing_frames);
    s.read("stamps_keep_gap", f.stamps_keep_gap);
    s.expect_no_more();
}

void read_test_picture(TestPictureSettings& t, Section s) {
    using enum TestPattern;
    const std::vector<std::pair<std::string, TestPattern>> words{{"100/0/100/0", Bars100_100},
                                                                 {"100/0/75/0", Bars100_75},
                                                                 {"75/0/75/0", Bars75_75},
                                                                 {"split bars", SplitBars},
                                                                 {"multiburst", Multiburst},
                                                                 {"pulse and bar", PulseAndBar},
                                                                 {"ramp", Ramp}};
    if (const auto pattern = s.choice<TestPattern>("pattern", words)) t.pattern = *pattern;
    s.read("from_s", t.from_s);
    s.read("until_s", t.until_s);
    s.expect_no_more();
}

void read_padding(PaddingSettings& p, Section s) {
    s.read("left_px", p.left_px);
    s.read("right_px", p.right_px);
    s.read("top_lines", p.top_lines);
    s.read("bottom_lines", p.bottom_lines);
    s.expect_no_more();
}

void read_time_base(TimeBaseSettings& t, Section s) {
    s.read("sine_ns", t.sine_ns);
    s.read("sine_hz", t.sine_hz);
    s.read("random_ns", t.random_ns);
    s.read("flagging_ns", t.flagging_ns);
    s.read("flagging_lines", t.flagging_lines);
    int line = 0;
    s.read("head_switch_line", line);
    if (s.has("head_switch_line")) t.head_switch_line = line;
    s.read("head_switch_steps_ns", t.head_switch_steps_ns);
    s.read("vertical_rms_lines", t.vertical_rms_lines);
    s.expect_no_more();
}

void read_blanking(BlankingSettings& b, Section s) {
    s.read("left_px", b.left_px);
    s.read("right_px", b.right_px);
    s.read("rise_ns", b.rise_ns);
    s.expect_no_more();
}

void read_dropouts(DropoutSettings& d, Section s) {
    s.read("per_minute", d.per_minute);
    s.read("length_us", d.length_us);
    s.read("bright", d.bright);
    s.read("dark", d.dark);
    s.read("held", d.held);
    s.read("held_snr_db", d.held_snr_db);
    s.read("lines", d.lines);
    int line = 0;
    s.read("at_line", line);
    if (s.has("at_line")) d.at_line = line;
    s.expect_no_more();
}

void read_stamps(StampSettings& t, Section s) {
    s.read("rounding_ms", t.rounding_ms);
    s.read("jitter_rms_ms", t.jitter_rms_ms);
    s.expect_no_more();
}

void read_screen(ScreenSettings& screen, Section s) {
    s.read_rate("rate_hz", screen.rate_hz);
    s.read("decay_ms", screen.decay_ms);
    s.read("scan_share", screen.scan_share);
    s.read("phase", screen.phase);
    s.read("left", screen.left);
    s.read("top", screen.top);
    s.read("width", screen.width);
    s.read("height", screen.height);
    s.read("depth", screen.depth);
    s.expect_no_more();
}

void read_lamp(LampSettings& lamp, Section s) {
    s.read_rate("rate_hz", lamp.rate_hz);
    s.read("ripple", lamp.ripple);
    s.read("phase", lamp.phase);
    s.read("depth", lamp.depth);
    s.expect_no_more();
}

void read_camera(CameraSettings& camera, Section s) {
    s.read("exposure_ms", camera.exposure_ms);
    s.read("readout_ms", camera.readout_ms);
    s.read("gamma", camera.gamma);
    s.expect_no_more();
}

void read_conversion(ConversionSettings& c, Section s) {
    s.read_rate("from_field_rate", c.from_field_rate);
    if (const auto method = s.choice<ConversionMethod>(
            "method", {{"repeat", ConversionMethod::Repeat}, {"blend", ConversionMethod::Blend}}))
        c.method = *method;
    s.read("whole_frames", c.whole_frames);
    s.expect_no_more();
}

void read_stretch(Section& s, std::string_view key, FrameStretch& out) {
    std::vector<std::int64_t> numbers;
    s.read(key, numbers);
    if (!s.has(key)) return;
    if (numbers.size() != 2) s.fail(key, "isn't a stretch of frames", "give the first frame and how many: [100, 10]");
    out = {numbers[0], numbers[1]};
}

void read_player(PlayerSettings& p, Section s) {
    read_stretch(s, "black", p.black);
    read_stretch(s, "grey", p.grey);
    read_stretch(s, "blue", p.blue);
    read_stretch(s, "snow", p.snow);
    read_stretch(s, "colourless", p.colourless);
    read_stretch(s, "colour_alternates", p.colour_alternates);
    s.expect_no_more();
}

void read_noise_band(NoiseBandSettings& b, Section s) {
    s.read("top", b.top);
    s.read("height", b.height);
    s.read("drift_per_s", b.drift_per_s);
    s.read("start_s", b.start_s);
    s.read("duration_s", b.duration_s);
    s.read("bands", b.bands);
    s.read("spacing", b.spacing);
    s.read("other_head", b.other_head);
    s.read("swing", b.swing);
    s.read("swing_hz", b.swing_hz);
    s.expect_no_more();
}

void read_vertical_roll(VerticalRollSettings& v, Section s) {
    s.read("lines_per_s", v.lines_per_s);
    s.read("bar_lines", v.bar_lines);
    s.read("start_s", v.start_s);
    s.read("duration_s", v.duration_s);
    s.expect_no_more();
}

}  // namespace

void read_sections(Recipe& recipe, Section& top, const table::Table& table) {
    recipe.levels.black_code = recipe.raster.black_code, recipe.levels.white_code = recipe.raster.white_code;
    if (auto s = top.inner("picture")) read_picture(recipe.picture, *s);
    if (auto s = top.inner("noise")) read_noise(recipe.noise, *s);
    if (auto s = top.inner("levels")) read_levels(recipe, *s, table);
    if (auto s = top.inner("faults")) read_faults(recipe.faults, *s);
    if (auto s = top.inner("test_picture")) read_test_picture(recipe.test_picture.emplace(), *s);
    if (auto s = top.inner("padding")) read_padding(recipe.padding.emplace(), *s);
    if (auto s = top.inner("time_base")) read_time_base(recipe.time_base.emplace(), *s);
    if (auto s = top.inner("blanking")) read_blanking(recipe.blanking.emplace(), *s);
    if (auto s = top.inner("dropouts")) read_dropouts(recipe.dropouts.emplace(), *s);
    if (auto s = top.inner("sound_track")) recipe.sound_track = read_sound_track(*s);
    if (auto s = top.inner("conversion")) read_conversion(recipe.conversion.emplace(), *s);
    if (auto s = top.inner("player")) read_player(recipe.player, *s);
    if (auto s = top.inner("noise_band")) read_noise_band(recipe.noise_band.emplace(), *s);
    if (auto s = top.inner("vertical_roll")) read_vertical_roll(recipe.vertical_roll.emplace(), *s);
    if (auto s = top.inner("stamps")) read_stamps(recipe.stamps, *s);
    if (auto s = top.inner("screen")) read_screen(recipe.screen.emplace(), *s);
    if (auto s = top.inner("lamp")) read_lamp(recipe.lamp.emplace(), *s);
    if (auto s = top.inner("camera")) read_camera(recipe.camera, *s);
    top.expect_no_more();
}

}  // namespace guardband::testsignal
