#include "testsignal/test_picture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "testsignal/luma_filter.h"

namespace guardband::testsignal {
namespace {

/// Signals are drawn so many times finer than they are sampled, so that edges may stand anywhere.
constexpr int oversampling = 8;
constexpr double widest = 0.48;  ///< cycles per sample: what a capture lets through
/// Luma of ITU-R BT.601, and colour difference that reaches ±0.5.
constexpr double red_share = 0.299, green_share = 0.587, blue_share = 0.114;
/// Red, green, blue of the bars, from the left.
constexpr std::array<std::array<int, 3>, 8> primaries{
    {{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {0, 1, 0}, {1, 0, 1}, {1, 0, 0}, {0, 0, 1}, {0, 0, 0}}};
constexpr std::array burst_mhz{0.5, 1.0, 2.0, 3.0, 4.0, 5.0};
constexpr double burst_amplitude = 0.25, burst_middle = 0.5;

void limit_band(std::vector<float>& fine, double mhz, double sampling_hz) {
    LowPass(std::min(mhz * 1e6 / sampling_hz, widest) / oversampling).apply(fine);
}

std::vector<float> sampled(const std::vector<float>& fine, std::size_t step) {
    std::vector<float> out(fine.size() / step);
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = fine[i * step];
    return out;
}

}  // namespace

TestPicture::Colour TestPicture::colour(double red, double green, double blue) {
    const double luma = red_share * red + green_share * green + blue_share * blue;
    return {luma, (blue - luma) / (2 - 2 * blue_share), (red - luma) / (2 - 2 * red_share)};
}

TestPicture::Colour TestPicture::bar(int index, double white, double level) {
    const auto& p = primaries[static_cast<std::size_t>(index)];
    const double of = index == 0 ? white : level;
    return colour(of * p[0], of * p[1], of * p[2]);
}

/// @param signal  colour at a place, shares of the raster's width
template <typename Signal>
TestPicture::Line TestPicture::line(const Signal& signal) const {
    const Raster& r = recipe_.raster;
    const auto count = static_cast<std::size_t>(r.width + 2 * margin_px_) * oversampling;
    const double delay_px = recipe_.picture.chroma_delay_ns * r.luma_sampling_hz / 1e9;
    // The mean over a fine sample: a step may lie anywhere within it.
    const auto at = [&](std::size_t i, double late_px) {
        constexpr int parts = 8;
        Colour sum{};
        for (int part = 0; part < parts; ++part) {
            const double fine = static_cast<double>(i) + (part + 0.5) / parts - 0.5;
            const double px = fine / oversampling - margin_px_ - late_px;
            const Colour one = signal(std::clamp(px / (r.width - 1), 0.0, 1.0));
            sum.luma += one.luma / parts, sum.cb += one.cb / parts, sum.cr += one.cr / parts;
        }
        return sum;
    };
    Line out{std::vector<float>(count), std::vector<float>(count), std::vector<float>(count)};
    for (std::size_t i = 0; i < count; ++i) {
        const Colour late = at(i, delay_px);
        out.luma[i] = static_cast<float>(at(i, 0).luma);
        out.cb[i] = static_cast<float>(late.cb), out.cr[i] = static_cast<float>(late.cr);
    }
    limit_band(out.luma, recipe_.picture.luma_bandwidth_mhz, r.luma_sampling_hz);
    limit_band(out.cb, recipe_.picture.chroma_bandwidth_mhz, r.luma_sampling_hz);
    limit_band(out.cr, recipe_.picture.chroma_bandwidth_mhz, r.luma_sampling_hz);
    return {sampled(out.luma, oversampling), sampled(out.cb, 2 * oversampling), sampled(out.cr, 2 * oversampling)};
}

TestPicture::Line TestPicture::stripes(const std::vector<Colour>& colours) const {
    const auto count = static_cast<double>(colours.size());
    return line([&](double share) { return colours[static_cast<std::size_t>(std::min(share * count, count - 1))]; });
}

void TestPicture::draw_split_bars() {
    std::vector<Colour> upper, middle;
    for (int i = 0; i < 7; ++i) upper.push_back(bar(i, 0.75, 0.75));
    for (int i = 6; i >= 0; --i) middle.push_back(i % 2 == 0 ? upper[static_cast<std::size_t>(i)] : Colour{});
    // -I and Q stand at 20 IRE, 33° off the axes of colour difference as the subcarrier carries them.
    const double turn = 33 * std::numbers::pi / 180, u_per_cb = 0.492 * 1.772, v_per_cr = 0.877 * 1.402;
    const Colour minus_i{0, 0.2 * std::sin(turn) / u_per_cb, -0.2 * std::cos(turn) / v_per_cr};
    const Colour q{0, 0.2 * std::cos(turn) / u_per_cb, 0.2 * std::sin(turn) / v_per_cr};
    add(2.0 / 3, stripes(upper));
    add(0.75, stripes(middle));
    add(1, stripes({minus_i, colour(1, 1, 1), q, Colour{}, Colour{}, Colour{}}));
}

TestPicture::Line TestPicture::multiburst() const {
    constexpr double first = 0.12, step = (1 - first) / burst_mhz.size(), gap = 0.015;
    const double width_s = recipe_.raster.width / recipe_.raster.luma_sampling_hz;
    return line([&](double share) {
        if (share < first) return Colour{share < first - gap ? 1.0 : burst_middle, 0, 0};
        const auto packet = std::min(static_cast<std::size_t>((share - first) / step), burst_mhz.size() - 1);
        const double in = share - first - static_cast<double>(packet) * step;
        if (in > step - gap) return Colour{burst_middle, 0, 0};
        const double phase = 2 * std::numbers::pi * burst_mhz[packet] * 1e6 * in * width_s;
        return Colour{burst_middle + burst_amplitude * std::sin(phase), 0, 0};
    });
}

TestPicture::Line TestPicture::pulse_and_bar() const {
    // 2T: half-amplitude duration of 1 / nominal bandwidth of 5 MHz; 625-line practice.
    constexpr double half_width_s = 200e-9;
    const double width_s = recipe_.raster.width / recipe_.raster.luma_sampling_hz;
    return line([&](double share) {
        const double off_s = (share - 0.25) * width_s;
        if (std::abs(off_s) < half_width_s)
            return Colour{0.5 + 0.5 * std::cos(std::numbers::pi * off_s / half_width_s), 0, 0};
        return Colour{share > 0.4 && share < 0.85 ? 1.0 : 0.0, 0, 0};
    });
}

TestPicture::TestPicture(const Recipe& recipe, int margin_px) : recipe_(recipe), margin_px_(margin_px) { draw(); }

void TestPicture::draw() {
    const auto bars = [this](double white, double level) {
        std::vector<Colour> all;
        for (int i = 0; i < 8; ++i) all.push_back(bar(i, white, level));
        add(1, stripes(all));
    };
    switch (recipe_.test_picture->pattern) {
        case TestPattern::Bars100_100:
            return bars(1, 1);
        case TestPattern::Bars100_75:
            return bars(1, 0.75);
        case TestPattern::Bars75_75:
            return bars(0.75, 0.75);
        case TestPattern::SplitBars:
            return draw_split_bars();
        case TestPattern::Multiburst:
            return add(1, multiburst());
        case TestPattern::PulseAndBar:
            return add(1, pulse_and_bar());
        case TestPattern::Ramp:
            return add(1, line([](double share) { return Colour{std::clamp((share - 0.1) / 0.8, 0.0, 1.0), 0, 0}; }));
    }
}

void TestPicture::render(Rows rows, Picture& out) const {
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    const int width = recipe_.raster.width + 2 * margin_px_, count = recipe_.raster.height / step;
    out.luma.resize(width, count);
    out.cb.resize(width / 2, count);
    out.cr.resize(width / 2, count);
    for (int r = 0; r < count; ++r) {
        const double place = (first + r * step + 0.5) / recipe_.raster.height;
        const auto zone = std::ranges::find_if(zones_, [place](const Zone& z) { return place <= z.until; });
        const Line& line = zone == zones_.end() ? zones_.back().line : zone->line;
        std::ranges::copy(line.luma, out.luma.row(r));
        std::ranges::copy(line.cb, out.cb.row(r));
        std::ranges::copy(line.cr, out.cr.row(r));
    }
}

}  // namespace guardband::testsignal
