#include "testsignal/composite/texture.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr int width = 720, taps = 16, phases = 1024;
// Colour difference of ITU-R BT.601 (±0.5) to U and V: 0.492111 · 1.772 and 0.877283 · 1.402.
constexpr double u_of_cb = 0.492111 * 1.772, v_of_cr = 0.877283 * 1.402;

/// Kaiser's window, its Bessel function by its series.
double bessel(double x) {
    double sum = 1, term = 1;
    for (int k = 1; k < 30; ++k) sum += term *= (x / (2 * k)) * (x / (2 * k));
    return sum;
}

std::vector<std::array<float, 16>> make_kernel() {
    std::vector<std::array<float, 16>> kernel(phases + 1);
    constexpr double beta = 6, half = taps / 2.0;
    for (int p = 0; p <= phases; ++p) {
        double sum = 0;
        std::array<double, 16> weight{};
        for (int k = 0; k < taps; ++k) {
            const double x = k - (half - 1) - static_cast<double>(p) / phases;
            const double inside = std::max(0.0, 1 - x * x / (half * half));
            const double sinc = x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x);
            sum += weight[static_cast<std::size_t>(k)] = sinc * bessel(beta * std::sqrt(inside)) / bessel(beta);
        }
        for (std::size_t k = 0; k < taps; ++k)
            kernel[static_cast<std::size_t>(p)][k] = static_cast<float>(weight[k] / sum);
    }
    return kernel;
}

}  // namespace

Texture::Texture(const CompositeRecipe& r, const ScanPattern& pattern)
    : system_(r.system), field_rate_hz_(2 * system_.line_rate_hz.value() / system_.lines), kernel_(make_kernel()) {
    PictureSettings settings;
    settings.motion_px = r.picture.motion_px;
    settings.luma_bandwidth_mhz = r.picture.luma_bandwidth_mhz;
    if (system_.chroma_bandwidth_mhz > 0) settings.chroma_bandwidth_mhz = system_.chroma_bandwidth_mhz;
    Raster raster;
    raster.width = width, raster.height = pattern.picture_rows();
    raster.luma_sampling_hz = 1e6 * width / (system_.line_us - system_.front_porch_us - system_.picture_start_us);
    raster.line_rate_hz = system_.line_rate_hz.value();
    scene_ = std::make_unique<Scene>(settings, raster, 2.0, field_rate_hz_, r.seed);
}

void Texture::render(std::int64_t field, bool top) {
    if (rendered_ == field) return;
    scene_->render(static_cast<double>(field) / field_rate_hz_, top ? Rows::Top : Rows::Bottom, picture_);
    rendered_ = field;
}

void Texture::read_row(const float* row, int row_width, LineCanvas& canvas, double factor) const {
    const double from_us = system_.picture_start_us, to_us = system_.line_us - system_.front_porch_us;
    const double per_us = row_width / (to_us - from_us);
    std::vector<float> padded(static_cast<std::size_t>(row_width + 4 * taps));
    for (int x = 0; x < row_width + 4 * taps; ++x)
        padded[static_cast<std::size_t>(x)] =
            static_cast<float>(factor) * row[std::clamp(x - 2 * taps, 0, row_width - 1)];
    const auto out = canvas.samples();
    // The first colour sample stands at the first luma sample.
    const double first = (canvas.us(0) - from_us) * per_us - 0.5 * row_width / width;
    const double step = (canvas.us(1) - canvas.us(0)) * per_us;
    for (std::size_t n = 0; n < out.size(); ++n) {
        const double at = std::clamp(first + step * static_cast<double>(n), -1.0 * taps, row_width - 1.0 + taps);
        const double whole = std::floor(at);
        const auto& weights = kernel_[static_cast<std::size_t>((at - whole) * phases + 0.5)];
        const float* in = padded.data() + static_cast<std::ptrdiff_t>(whole) + 2 * taps - (taps / 2 - 1);
        std::array<float, 4> sum{};
        for (std::size_t k = 0; k < taps; k += 4)
            for (std::size_t i = 0; i < 4; ++i) sum[i] += weights[k + i] * in[k + i];
        out[n] += (sum[0] + sum[1]) + (sum[2] + sum[3]);
    }
}

void Texture::draw(std::int64_t field, std::int64_t row, LineCanvas& luma, LineCanvas& u, LineCanvas& v) {
    render(field, row % 2 == 0);
    const int y = static_cast<int>(std::clamp<std::int64_t>(row / 2, 0, picture_.luma.height - 1));
    read_row(picture_.luma.row(y), picture_.luma.width, luma, 1);
    if (system_.kind == ColourKind::None) return;
    read_row(picture_.cb.row(y), picture_.cb.width, u, u_of_cb);
    read_row(picture_.cr.row(y), picture_.cr.width, v, v_of_cr);
}

}  // namespace guardband::testsignal
