#include "testsignal/composite/line_painter.h"

#include <array>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr double radians = std::numbers::pi / 180;

struct BarColour {
    double r, g, b;
};
constexpr std::array<BarColour, 8> bars{
    {{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {0, 1, 0}, {1, 0, 1}, {1, 0, 0}, {0, 0, 1}, {0, 0, 0}}};

/// Luma, U and V of a colour: the weights of ITU-R BT.470-6, from memory.
std::array<double, 3> encoded(const BarColour& c) {
    const double y = 0.299 * c.r + 0.587 * c.g + 0.114 * c.b;
    return {y, 0.492111 * (c.b - y), 0.877283 * (c.r - y)};
}

}  // namespace

LinePainter::LinePainter(const CompositeRecipe& recipe, const ScanPattern& pattern)
    : recipe_(recipe), system_(recipe.system), pattern_(pattern), data_(recipe.data, recipe.system) {
    if (recipe.picture.kind == CompositePicture::Texture) texture_ = std::make_unique<Texture>(recipe, pattern);
    if (recipe.picture.kind == CompositePicture::Insertion)
        full_field_ = insertion_elements(system_, recipe.picture.signal);
    for (const Insertion& one : recipe.insertions) insertions_.push_back(insertion_elements(system_, one.signal));
}

void LinePainter::draw_sync(const LineRun& run, LineCanvas& luma) const {
    for (int half = 0; half < 2; ++half) {
        const double at = half * system_.line_us / 2;
        double width = 0;
        switch (pattern_.pulse(2 * run.line + half)) {
            case SyncPulse::None:
                continue;
            case SyncPulse::Line:
                width = system_.sync_us;
                break;
            case SyncPulse::Equalising:
                width = system_.equalising_us;
                break;
            case SyncPulse::Broad:
                width = system_.broad_us;
                break;
        }
        luma.add_box(at, at + width, system_.sync_mv, system_.sync_rise_us);
    }
}

void LinePainter::draw_burst(const LineRun& run, PaintedLine& out) const {
    if (!pattern_.burst(run.line)) return;
    const double from = system_.burst_start_us;
    const double to = from + system_.burst_cycles / (system_.subcarrier_hz->value() / 1e6);
    const double peak = system_.burst_mv / 2;
    const double angle = (system_.kind == ColourKind::Alternating ? 135 : 180) * radians;
    out.u.add_box(from, to, peak * std::cos(angle), system_.burst_rise_us);
    out.v.add_box(from, to, peak * std::sin(angle), system_.burst_rise_us);
}

void LinePainter::draw_bars(PaintedLine& out) const {
    const double from = system_.picture_start_us, to = system_.line_us - system_.front_porch_us;
    const double width = (to - from) / static_cast<double>(bars.size());
    const double range = system_.white_mv - system_.black_mv;
    const double luma_rise = recipe_.picture.rise_ns / 1e3;
    const double chroma_rise = system_.chroma_bandwidth_mhz > 0 ? 0.45 / system_.chroma_bandwidth_mhz : luma_rise;
    std::array<double, 3> before{};
    for (std::size_t i = 0; i < bars.size(); ++i) {
        std::array<double, 3> here = encoded(bars[i]);
        const double share = i == 0 ? 1 : recipe_.picture.bars_percent / 100;
        for (double& one : here) one *= share * range;
        // The first bar begins before the picture, where the window is still shut.
        const double at = i == 0 ? from - 3 : from + static_cast<double>(i) * width;
        out.luma.add_step(at, here[0] - before[0], luma_rise);
        if (system_.kind != ColourKind::None) {
            out.u.add_step(at, here[1] - before[1], chroma_rise);
            out.v.add_step(at, here[2] - before[2], chroma_rise);
        }
        before = here;
    }
}

void LinePainter::draw_flat(PaintedLine& out) const {
    const double range = system_.white_mv - system_.black_mv;
    out.luma.add_level(static_cast<float>(recipe_.picture.level_percent / 100 * range));
    if (system_.kind == ColourKind::None) return;
    const double peak = recipe_.picture.chroma_mv / 2, angle = recipe_.picture.chroma_deg * radians;
    out.u.add_level(static_cast<float>(peak * std::cos(angle)));
    out.v.add_level(static_cast<float>(peak * std::sin(angle)));
}

void LinePainter::draw_texture(const LineRun& run, PaintedLine& out) {
    texture_->draw(pattern_.field_of(2 * run.line), pattern_.picture_row(run.line), out.luma, out.u, out.v);
    const auto range = static_cast<float>(system_.white_mv - system_.black_mv);
    for (LineCanvas* canvas : {&out.luma, &out.u, &out.v})
        for (float& sample : canvas->samples()) sample *= range;
}

/// The active picture, shut out by blanking. Half lines show their half.
void LinePainter::draw_picture(const LineRun& run, PaintedLine& out) {
    const bool first = pattern_.active(2 * run.line), second = pattern_.active(2 * run.line + 1);
    const double middle = system_.line_us / 2;
    const double from = (first ? 0 : middle) + system_.picture_start_us;
    const double to = (second ? system_.line_us : middle) - system_.front_porch_us;
    switch (recipe_.picture.kind) {
        case CompositePicture::Bars:
            draw_bars(out);
            break;
        case CompositePicture::Flat:
            draw_flat(out);
            break;
        case CompositePicture::Texture:
            draw_texture(run, out);
            break;
        case CompositePicture::Insertion:
            return draw_elements(full_field_, run, out);
    }
    out.luma.add_level(static_cast<float>(system_.black_mv));
    window_.begin(out.luma.count(), out.luma.us(0), run.step_us);
    window_.add_box(from, to, 1, system_.blanking_rise_us);
    out.luma.multiply(window_);
    if (system_.kind == ColourKind::None) return;
    chroma_window_.begin(out.u.count(), out.u.us(0), run.step_us);
    chroma_window_.add_box(from, to, 1, system_.blanking_rise_us);
    out.u.multiply(chroma_window_);
    out.v.multiply(chroma_window_);
}

void LinePainter::draw_elements(const std::vector<InsertionElement>& elements, const LineRun& run,
                                PaintedLine& out) const {
    using Kind = InsertionElement::Kind;
    const double rise = 0.4821883278 * 4 * t_pulse_us(system_);  // the integral of a 2T pulse
    const double angle = insertion_chroma_deg(system_) * radians;
    const double along_u = std::cos(angle), along_v = std::sin(angle) * pattern_.v_switch(run.line);
    for (const InsertionElement& e : elements) {
        switch (e.kind) {
            case Kind::Bar:
            case Kind::Step:
                out.luma.add_box(e.from_us, e.to_us, e.height_mv, rise);
                break;
            case Kind::Pulse:
                out.luma.add_pulse(e.from_us, e.height_mv, e.width_us);
                break;
            case Kind::Wave:
                out.luma.add_wave(
                    e.from_us, e.to_us,
                    e.height_mv / 2 * std::pow(10, wave_response_db(recipe_.distortion.roll_off_mhz, e.mhz) / 20),
                    e.mhz, rise);
                break;
            case Kind::Composite:
                out.luma.add_pulse(e.from_us, e.height_mv / 2, e.width_us);
                out.u.add_pulse(e.from_us, along_u * e.height_mv / 2, e.width_us);
                out.v.add_pulse(e.from_us, along_v * e.height_mv / 2, e.width_us);
                break;
            case Kind::Chroma:
                out.u.add_box(e.from_us, e.to_us, along_u * e.height_mv / 2, 1.0);
                out.v.add_box(e.from_us, e.to_us, along_v * e.height_mv / 2, 1.0);
                break;
        }
    }
}

const std::vector<InsertionElement>* LinePainter::inserted(const LineRun& run) const {
    const int number = pattern_.line_number(run.line);
    for (std::size_t i = 0; i < insertions_.size(); ++i)
        if (recipe_.insertions[i].line == number) return &insertions_[i];
    return nullptr;
}

void LinePainter::paint(const LineRun& run, PaintedLine& out) {
    const double chroma_us = run.first_us - recipe_.distortion.chroma_delay_ns / 1e3;
    out.luma.begin(run.count, run.first_us, run.step_us);
    out.u.begin(run.count, chroma_us, run.step_us);
    out.v.begin(run.count, chroma_us, run.step_us);
    const bool has_picture = pattern_.active(2 * run.line) || pattern_.active(2 * run.line + 1);
    if (const auto* elements = inserted(run))
        draw_elements(*elements, run, out);
    else if (!data_.draw(run.line, pattern_.line_number(run.line), out.luma) && has_picture)
        draw_picture(run, out);
    draw_sync(run, out.luma);
    draw_burst(run, out);
}

}  // namespace guardband::testsignal
