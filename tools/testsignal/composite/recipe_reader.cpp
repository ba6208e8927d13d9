#include "testsignal/composite/recipe_reader.h"

#include <algorithm>
#include <fstream>
#include <sstream>

#include "quantity/errors.h"
#include "testsignal/composite/data_lines_reader.h"
#include "testsignal/composite/insertion.h"
#include "testsignal/section.h"

namespace guardband::testsignal {
namespace {

constexpr double longest_s = 7200;
constexpr double lowest_rate_hz = 5e6, highest_rate_hz = 100e6;
constexpr double largest_error_ppm = 100'000;

using Signals = std::vector<std::pair<std::string, InsertionSignal>>;

const Signals& signals() {
    static const Signals all = [] {
        Signals list;
        for (const auto signal : {InsertionSignal::BarPulseStaircase, InsertionSignal::BarPulseModulatedStaircase,
                                  InsertionSignal::Multiburst, InsertionSignal::ChromaBars})
            list.emplace_back(to_string(signal), signal);
        return list;
    }();
    return all;
}

void require(bool holds, const Section& s, std::string_view key, const char* what, const char* remedy) {
    if (!holds) s.fail(key, what, remedy);
}

/// A whole number, or a text with an exact ratio.
void read_exact_rate(Section& s, quantity::Rational& out) {
    std::uint64_t whole = 0;
    if (s.is_text("rate_hz")) return s.read_rate("rate_hz", out);
    s.read("rate_hz", whole);
    if (whole > 0) out = static_cast<std::int64_t>(whole);
}

void read_signal(Section s, const table::Table& table, CompositeRecipe& r) {
    std::string system = "PAL";
    s.read("system", system);
    try {
        r.system = composite_system(table, system);
    } catch (const quantity::InputError& error) {
        s.fail("system", error.what(), "`guardband systems` lists them");
    }
    std::optional<double> sync_rise_ns;
    s.read("sync_rise_ns", sync_rise_ns);
    if (sync_rise_ns) r.system.sync_rise_us = *sync_rise_ns / 1e3;
    s.read("duration_s", r.duration_s);
    s.read("start_line", r.start_line);
    int frame = 0;
    s.read("start_frame", frame);
    r.start_frame = frame;
    s.read("line_rate_error_ppm", r.line_rate_error_ppm);
    s.read("subcarrier_error_ppm", r.subcarrier_error_ppm);
    s.read("subcarrier_phase_deg", r.subcarrier_phase_deg);
    require(r.duration_s > 0 && r.duration_s <= longest_s, s, "duration_s", "is none that is made", "give up to 7200");
    require(r.start_line >= 1 && r.start_line < r.system.lines + 1, s, "start_line", "is no line of the frame",
            "count from 1");
    require(r.start_frame >= 0, s, "start_frame", "is negative", "give 0 or more");
    require(std::abs(r.line_rate_error_ppm) <= largest_error_ppm, s, "line_rate_error_ppm", "is too much",
            "give up to 100000");
    require(r.system.sync_rise_us > 0.01 && r.system.sync_rise_us < 0.3, s, "sync_rise_ns", "is none that is made",
            "give 10 to 300");
    s.expect_no_more();
}

void read_picture(Section s, CompositePictureSettings& p) {
    const std::vector<std::pair<std::string, CompositePicture>> kinds{{"bars", CompositePicture::Bars},
                                                                      {"flat", CompositePicture::Flat},
                                                                      {"texture", CompositePicture::Texture},
                                                                      {"insertion", CompositePicture::Insertion}};
    p.kind = s.choice("kind", kinds).value_or(p.kind);
    p.signal = s.choice("signal", signals()).value_or(p.signal);
    s.read("level_percent", p.level_percent);
    s.read("chroma_mv", p.chroma_mv);
    s.read("chroma_deg", p.chroma_deg);
    s.read("bars_percent", p.bars_percent);
    s.read("rise_ns", p.rise_ns);
    s.read("motion_px", p.motion_px);
    s.read("luma_bandwidth_mhz", p.luma_bandwidth_mhz);
    require(p.rise_ns >= 10 && p.rise_ns <= 1000, s, "rise_ns", "is none that is made", "give 10 to 1000");
    s.expect_no_more();
}

void read_insertions(Section s, const CompositeSystem& system, std::vector<Insertion>& out) {
    for (const auto& [name, signal] : signals()) {
        std::vector<int> lines;
        s.read(name, lines);
        for (const int line : lines) {
            require(line >= 1 && line <= system.lines, s, name, "holds no line of the frame", "count from 1");
            out.push_back({line, signal});
        }
    }
    s.expect_no_more();
}

void read_time_base(Section s, CompositeTimeBase& t) {
    s.read("sine_ns", t.sine_ns);
    s.read("sine_hz", t.sine_hz);
    s.read("random_ns", t.random_ns);
    s.read("flagging_ns", t.flagging_ns);
    s.read("flagging_lines", t.flagging_lines);
    s.read("head_switch_line", t.head_switch_line);
    s.read("head_switch_steps_us", t.head_switch_steps_us);
    s.read("stable_subcarrier", t.stable_subcarrier);
    require(t.sine_ns.size() == t.sine_hz.size(), s, "sine_hz", "is not as long as sine_ns", "give one for each");
    require(t.flagging_lines > 0, s, "flagging_lines", "is not above 0", "give some lines");
    require(!t.head_switch_line || (*t.head_switch_line >= 0 && *t.head_switch_line <= 100), s, "head_switch_line",
            "is none that is made", "give 0 to 100");
    require(t.head_switch_steps_us.empty() || t.head_switch_line, s, "head_switch_steps_us", "needs head_switch_line",
            "say where the switch is, as 6.5");
    for (const double step : t.head_switch_steps_us)
        require(std::abs(step) < 40, s, "head_switch_steps_us", "holds more than most of a line", "give up to 40");
    s.expect_no_more();
}

void read_distortion(Section s, CompositeDistortion& d) {
    s.read("differential_gain_percent", d.differential_gain_percent);
    s.read("differential_phase_deg", d.differential_phase_deg);
    s.read("luma_nonlinearity_percent", d.luma_nonlinearity_percent);
    s.read("chroma_gain_percent", d.chroma_gain_percent);
    s.read("chroma_delay_ns", d.chroma_delay_ns);
    s.read("echo_percent", d.echo_percent);
    s.read("echo_delay_ns", d.echo_delay_ns);
    s.read("roll_off_mhz", d.roll_off_mhz);
    require(!d.roll_off_mhz || *d.roll_off_mhz >= 0.5, s, "roll_off_mhz", "is none that is made", "give 0.5 or more");
    require(std::abs(d.luma_nonlinearity_percent) <= 50, s, "luma_nonlinearity_percent", "is too much",
            "give up to 50");
    require(d.echo_delay_ns >= 0 && d.echo_delay_ns <= 20'000, s, "echo_delay_ns", "is none that is made",
            "give 0 to 20000");
    s.expect_no_more();
}

void read_disturbance(Section s, CompositeDisturbance& d) {
    s.read("snr_db", d.snr_db);
    s.read("hum_mv", d.hum_mv);
    s.read("hum_hz", d.hum_hz);
    s.read("coupling_hz", d.coupling_hz);
    s.expect_no_more();
}

void read_dropouts(Section s, CompositeDropouts& d) {
    s.read("per_minute", d.per_minute);
    s.read("at_s", d.at_s);
    s.read("length_us", d.length_us);
    s.read("level_mv", d.level_mv);
    s.read("noise_mv", d.noise_mv);
    require(d.per_minute >= 0 && d.per_minute <= 1e5, s, "per_minute", "is none that is made", "give up to 100000");
    require(d.length_us > 0 && d.length_us <= 1e5, s, "length_us", "is none that is made", "give up to 100000");
    s.expect_no_more();
}

void read_sampling(Section s, CompositeSampling& m) {
    const std::vector<std::pair<std::string, SampleFile>> files{
        {"wav", SampleFile::Wav}, {"flac", SampleFile::Flac}, {"raw", SampleFile::Raw}};
    const std::vector<std::pair<std::string, SampleFormat>> formats{{"u8", SampleFormat::U8},
                                                                    {"s8", SampleFormat::S8},
                                                                    {"u16", SampleFormat::U16},
                                                                    {"s16", SampleFormat::S16},
                                                                    {"f32", SampleFormat::F32}};
    read_exact_rate(s, m.rate_hz);
    s.read("clock_error_ppm", m.clock_error_ppm);
    m.file = s.choice("file", files).value_or(m.file);
    m.format = s.choice("samples", formats).value_or(m.format);
    int header = 0;
    s.read("header_rate_hz", header);
    if (header > 0) m.header_rate_hz = static_cast<std::uint32_t>(header);
    s.read("gain_per_volt", m.gain_per_volt);
    s.read("offset", m.offset);
    s.read("inverted", m.inverted);
    require(m.rate_hz.value() >= lowest_rate_hz && m.rate_hz.value() <= highest_rate_hz, s, "rate_hz",
            "is none that is made", "give 5000000 to 100000000");
    require(std::abs(m.clock_error_ppm) <= 1000, s, "clock_error_ppm", "is too much", "give up to 1000");
    const bool fits = m.file == SampleFile::Raw || m.format == SampleFormat::S16 ||
                      (m.file == SampleFile::Wav && m.format != SampleFormat::S8 && m.format != SampleFormat::U16);
    require(fits, s, "samples", "does not go into such a file", "WAV takes u8, s16, f32, FLAC s16, raw all");
    s.expect_no_more();
}

}  // namespace

std::optional<CompositeRecipe> parse_composite_recipe(const std::string& file, std::string_view text,
                                                      const table::Table& table) {
    const table::Document document = table::parse_document(file, text);
    Section top(document, document.root);
    if (!top.has("composite")) return std::nullopt;
    CompositeRecipe r;
    top.read("name", r.name);
    top.read("title", r.title);
    top.read("invented", r.invented);
    top.read("seed", r.seed);
    read_signal(*top.inner("composite"), table, r);
    if (auto s = top.inner("picture")) read_picture(*s, r.picture);
    if (auto s = top.inner("insertions")) read_insertions(*s, r.system, r.insertions);
    if (auto s = top.inner("data_lines")) r.data = read_data_lines(*s, r.system);
    if (auto s = top.inner("time_base")) read_time_base(*s, r.time_base);
    if (auto s = top.inner("distortion")) read_distortion(*s, r.distortion);
    if (auto s = top.inner("disturbance")) read_disturbance(*s, r.disturbance);
    if (auto s = top.inner("dropouts")) read_dropouts(*s, r.dropouts);
    if (auto s = top.inner("sampling")) read_sampling(*s, r.sampling);
    require(!r.name.empty() && r.name.find('/') == std::string::npos, top, "name", "names no file",
            "give a name without strokes");
    top.expect_no_more();
    return r;
}

std::optional<CompositeRecipe> read_composite_recipe(const std::string& path, const table::Table& table) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    if (!file || !(text << file.rdbuf())) return std::nullopt;
    return parse_composite_recipe(path, text.str(), table);
}

}  // namespace guardband::testsignal
