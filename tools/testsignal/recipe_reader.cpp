#include "testsignal/recipe_reader.h"

#include <fmt/format.h>
#include <charconv>
#include <fstream>
#include <sstream>
#include <tuple>

#include "quantity/errors.h"
#include "testsignal/section.h"
#include "testsignal/sound_track_reader.h"
#include "testsignal/travel_sections.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

const std::vector<std::pair<std::string, FieldOrder>> field_orders{{"top first", FieldOrder::TopFirst},
                                                                   {"bottom first", FieldOrder::BottomFirst}};
const std::vector<std::pair<std::string, DeclaredOrder>> declared_orders{{"top first", DeclaredOrder::TopFirst},
                                                                         {"bottom first", DeclaredOrder::BottomFirst},
                                                                         {"progressive", DeclaredOrder::Progressive},
                                                                         {"unknown", DeclaredOrder::Unknown}};

/// `720x576`.
std::pair<int, int> read_size(Section& top, const std::string& text) {
    const auto cross = text.find('x');
    const auto part = [&](std::size_t from, std::size_t to) {
        int value = 0;
        const auto [end, error] = std::from_chars(text.data() + from, text.data() + to, value);
        if (error != std::errc{} || end != text.data() + to || value <= 0)
            top.fail("raster", fmt::format("\"{}\" is not a size", text), "write it as \"720x576\"");
        return value;
    };
    if (cross == std::string::npos)
        top.fail("raster", fmt::format("\"{}\" is not a size", text), "write it as \"720x576\"");
    return {part(0, cross), part(cross + 1, text.size())};
}

const table::Raster* raster_of(const table::Table& table, const std::string& scanning, const std::string& size,
                               Codec codec) {
    const table::Raster* found = nullptr;
    for (const auto& raster : table.rasters) {
        if (raster.scanning != scanning || (!size.empty() && raster.id != size)) continue;
        // A system may have a taller raster for tape transfers and a lower one, which is DV's.
        if (!found || (codec == Codec::Dv) == (raster.height() < found->height())) found = &raster;
    }
    return found;
}

/// Takes everything that the system fixes from the table; keys of the recipe may override it afterwards.
void apply_system(Recipe& recipe, Section& top, const table::Table& table, const std::string& size) {
    const table::Scanning* scanning = table.find_scanning(recipe.system);
    if (!scanning)
        top.fail("system", fmt::format("\"{}\" is not in the table", recipe.system),
                 "give 625/50 or 525/60, or raster and frame_rate");
    const table::Raster* raster = raster_of(table, scanning->id, size, recipe.codec);
    if (!raster)
        top.fail(size.empty() ? "system" : "raster", fmt::format("the table has no such raster of {}", scanning->id),
                 "leave system out and give raster and frame_rate");
    recipe.system = scanning->id;
    auto& r = recipe.raster;
    r.width = raster->width(), r.height = raster->height();
    r.frame_rate = scanning->frame_rate();
    r.line_rate_hz = scanning->line_rate().value();
    r.black_code = raster->black_code(), r.white_code = raster->white_code();
    if (const auto* rate = raster->facts.known("sampling_rate")) r.luma_sampling_hz = rate->in("Hz");
    if (const auto* aspect = raster->facts.known("pixel_aspect"); aspect && aspect->exact)
        r.sample_aspect = *aspect->exact;
    if (const auto* order = raster->facts.known("field_order"))
        recipe.field_order = order->printed == "bottom first" ? FieldOrder::BottomFirst : FieldOrder::TopFirst;
}

void read_codec(Recipe& recipe, Section& top) {
    const auto codec = top.choice<Codec>("codec", {{"ffv1", Codec::Ffv1}, {"v210", Codec::V210}, {"dv", Codec::Dv}});
    recipe.codec = codec.value_or(Codec::Ffv1);
    recipe.container = recipe.codec == Codec::Ffv1 ? "mkv" : recipe.codec == Codec::V210 ? "mov" : "dv";
    top.read("container", recipe.container);
}

void read_raster(Recipe& recipe, Section& top, const table::Table& table) {
    std::string size;
    top.read("system", recipe.system);
    top.read("raster", size);
    top.read_rate("frame_rate", recipe.raster.frame_rate);
    if (!recipe.system.empty()) {
        if (top.has("frame_rate")) top.fail("frame_rate", "the system fixes it", "leave it out, or leave system out");
        apply_system(recipe, top, table, size);
    } else {
        if (size.empty() || !top.has("frame_rate"))
            top.fail("raster", "neither a system nor raster and frame_rate are given", "add system = \"625/50\"");
        std::tie(recipe.raster.width, recipe.raster.height) = read_size(top, size);
        recipe.raster.line_rate_hz = recipe.raster.height * recipe.raster.frame_rate.value();  // no field blanking
    }
    top.read_rate("sample_aspect", recipe.raster.sample_aspect);
}

void read_samples(Recipe& recipe, Section& top) {
    if (recipe.codec == Codec::Dv) {
        recipe.bit_depth = 8;
        recipe.chroma = recipe.system == "525/60" ? ChromaSampling::C411 : ChromaSampling::C420;
        recipe.field_order = FieldOrder::BottomFirst;
    }
    top.read("bit_depth", recipe.bit_depth);
    using enum ChromaSampling;
    if (const auto chroma = top.choice<ChromaSampling>("chroma", {{"4:2:2", C422}, {"4:2:0", C420}, {"4:1:1", C411}}))
        recipe.chroma = *chroma;
}

void read_top(Recipe& recipe, Section& top, const table::Table& table) {
    top.read("name", recipe.name);
    top.read("title", recipe.title);
    top.read("invented", recipe.invented);
    read_codec(recipe, top);
    read_raster(recipe, top, table);
    read_samples(recipe, top);
    if (const auto scan =
            top.choice<Scan>("scan", {{"interlaced", Scan::Interlaced}, {"progressive", Scan::Progressive}}))
        recipe.scan = *scan;
    if (const auto order = top.choice<FieldOrder>("field_order", field_orders)) recipe.field_order = *order;
    recipe.declared_order = top.choice<DeclaredOrder>("declared_order", declared_orders);
    top.read("duration_s", recipe.duration_s);
    top.read("seed", recipe.seed);
    top.read("sound", recipe.sound);
    top.read("pulldown", recipe.pulldown);
}

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

/// Line of a dotted key such as `faults.repeated_fields`, or of what stands nearest to it.
int line_of(Section& top, const std::string& key) {
    const auto dot = key.find('.');
    if (dot == std::string::npos) return top.line_of(key);
    const auto inner = top.inner(key.substr(0, dot));
    return inner ? inner->line_of(key.substr(dot + 1)) : top.line_of("");
}

}  // namespace

Recipe parse_recipe(const std::string& file, std::string_view text, const table::Table& table) {
    const table::Document document = table::parse_document(file, text);
    Section top(document, document.root);
    Recipe recipe;
    read_top(recipe, top, table);
    read_sections(recipe, top, table);
    try {
        check(recipe);
        check_file(recipe);
    } catch (const InputError& e) {
        throw table::error_at(document, line_of(top, e.input()), e.input(), e.fault(), e.remedy());
    }
    return recipe;
}

Recipe read_recipe(const std::string& path, const table::Table& table) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    if (!file || !(text << file.rdbuf()))
        throw InputError(path, "can't be read as a recipe", "give the path of a TOML file");
    return parse_recipe(path, text.str(), table);
}

}  // namespace guardband::testsignal
