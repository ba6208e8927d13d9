#include "testsignal/painting.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace guardband::testsignal {
namespace {

using Image = cv::Mat1f;

constexpr double fwhm_in_sigmas = 2.354820045;  // 2 sqrt(2 ln 2)
constexpr double along_line_sigma =
    0.5;                         // samples: enough for sub-sample shifts to be smooth, little against the luma low-pass
constexpr int oversampling = 4;  // of objects' outlines
constexpr int least_margin = 8;  // samples around an object that interpolation needs, and some

FloatPlane to_plane(const Image& image) {
    FloatPlane plane(image.cols, image.rows);
    for (int y = 0; y < image.rows; ++y) std::copy_n(image[y], image.cols, plane.row(y));
    return plane;
}

/// Gaussian blur of an image that repeats.
Image blurred(const Image& image, double sigma_x, double sigma_y) {
    const int border = static_cast<int>(std::ceil(4 * std::max(sigma_x, sigma_y))) + 1;
    Image wide, soft;
    cv::copyMakeBorder(image, wide, border, border, border, border, cv::BORDER_WRAP);
    const auto size = [](double sigma) { return 2 * static_cast<int>(std::ceil(4 * sigma)) + 1; };
    cv::GaussianBlur(wide, soft, {size(sigma_x), size(sigma_y)}, std::max(sigma_x, 1e-3), std::max(sigma_y, 1e-3));
    return soft(cv::Rect(border, border, image.cols, image.rows)).clone();
}

double aperture_sigma(const Softness& softness) { return softness.aperture_lines / fwhm_in_sigmas; }

Image seen_luma(const Image& image, const Softness& softness) {
    return blurred(image, along_line_sigma, aperture_sigma(softness));
}

/// Spread of the colour low-pass, luma samples: exp(-2 pi² sigma² f²) = 1/2 at the cut-off, and two luma samples to a
/// colour sample.
double chroma_sigma(const Softness& softness) {
    return 2 * std::sqrt(std::numbers::ln2 / 2) / (std::numbers::pi * softness.chroma_cutoff);
}

/// Halved along the row, sample c standing at luma sample 2c, and limited to the colour bandwidth.
Image seen_chroma(const Image& image, const Softness& softness) {
    const Image soft = blurred(image, chroma_sigma(softness), aperture_sigma(softness));
    Image half(image.rows, image.cols / 2);
    for (int y = 0; y < half.rows; ++y)
        for (int c = 0; c < half.cols; ++c) half(y, c) = soft(y, 2 * c);
    return half;
}

/// Noise of unit variance that repeats, limited to the scale of `sigma` samples.
Image cloud(Random& random, cv::Size size, double sigma_x, double sigma_y) {
    Image white(size);
    for (int y = 0; y < size.height; ++y) random.fill_gaussian({white[y], static_cast<std::size_t>(size.width)});
    Image soft = blurred(white, sigma_x, sigma_y);
    cv::Scalar mean, deviation;
    cv::meanStdDev(soft, mean, deviation);
    soft.convertTo(soft, CV_32F, 1 / deviation[0], -mean[0] / deviation[0]);
    return soft;
}

float step(float x, float width) { return 0.5F + 0.5F * std::tanh(x / width); }

/// Stones with dark joints over the lower part of the background.
void add_quay_wall(Random& random, Image& luma) {
    const int top = luma.rows * 11 / 20, course = std::max(9, luma.rows / 28), stone = 2 * course + 5;
    for (int y = top; y < luma.rows; ++y) {
        const int row = (y - top) / course, shift = row % 2 * stone / 2 + static_cast<int>(random.uniform() * 2);
        const bool joint_row = (y - top) % course < 2;
        for (int x = 0; x < luma.cols; ++x)
            if (joint_row || (x + shift) % stone < 2) luma(y, x) -= 0.22F;
    }
}

/// Bright posts and two rails across the upper part.
void add_railings(Image& luma) {
    const int top = luma.rows / 5, bottom = luma.rows * 2 / 5, gap = std::max(14, luma.cols / 24);
    for (int y = top; y < bottom; ++y)
        for (int x = 0; x < luma.cols; ++x)
            if (x % gap < 3 || (y - top) % (bottom - top - 3) < 2) luma(y, x) += 0.25F;
}

/// Keeps texture clear of true black and true white.
void squash(Image& luma) {
    constexpr float centre = 0.48F, reach = 0.40F;
    for (float& v : luma) v = centre + reach * std::tanh((v - centre) / reach);
}

/// @param rocks  filled: 0 between them, 1 on them
Image background_luma(Random& random, cv::Size size, Image& rocks) {
    Image luma(size, 0.46F);
    // Amplitudes rise with scale roughly as 1/f, as in natural pictures; the finest is near the band limit.
    luma +=
        0.05 * cloud(random, size, 0.9, 0.9) + 0.06 * cloud(random, size, 2.5, 2.0) + 0.07 * cloud(random, size, 7, 5);
    luma += 0.09 * cloud(random, size, 22, 14);
    rocks = cloud(random, size, 9, 7);
    for (int y = 0; y < size.height; ++y)
        for (int x = 0; x < size.width; ++x) {
            rocks(y, x) = step(rocks(y, x) - 0.5F, 0.08F);
            luma(y, x) += 0.22F * (rocks(y, x) - 0.3F);
        }
    add_quay_wall(random, luma);
    add_railings(luma);
    squash(luma);
    return luma;
}

Image background_chroma(Random& random, cv::Size size, float upper, float lower) {
    Image chroma = cloud(random, size, 14, 10);
    chroma *= 0.025;
    for (int y = 0; y < size.height; ++y) {
        // round the cylinder once, so that the tint repeats with the background
        const float turn =
            std::cos(2 * std::numbers::pi_v<float> * static_cast<float>(y) / static_cast<float>(size.height));
        for (int x = 0; x < size.width; ++x) chroma(y, x) += upper * (1 + turn) / 2 + lower * (1 - turn) / 2;
    }
    return chroma;
}

/// An object while it is painted, oversampled, margin included.
class Canvas {
public:
    Canvas(int width, int height, const Softness& softness)
        : softness_(softness),
          margin_(least_margin + 2 * static_cast<int>(std::ceil(
                                         std::max(3 * chroma_sigma(softness), 4 * aperture_sigma(softness)) / 2))),
          size_(width + width % 2 + 2 * margin_, height + 2 * margin_),
          luma_(size_ * oversampling, 0.0F),
          cb_(luma_.clone()),
          cr_(luma_.clone()),
          cover_(luma_.clone()) {}

    struct Colour {
        double luma, cb = 0, cr = 0;
    };

    /// Fills a polygon given in samples from the object's top left corner.
    void fill(const std::vector<cv::Point2d>& corners, Colour colour) {
        std::vector<cv::Point> at;
        at.reserve(corners.size());
        for (const auto& c : corners)
            at.emplace_back(cvRound((c.x + margin_) * oversampling), cvRound((c.y + margin_) * oversampling));
        cv::fillConvexPoly(luma_, at, colour.luma);
        cv::fillConvexPoly(cb_, at, colour.cb);
        cv::fillConvexPoly(cr_, at, colour.cr);
        cv::fillConvexPoly(cover_, at, 1.0);
    }
    void fill_box(double x, double y, double width, double height, Colour colour) {
        fill({{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}, colour);
    }

    Layer seen() const {
        Layer layer;
        layer.margin = margin_;
        layer.luma = to_plane(seen_luma(reduced(luma_), softness_));
        layer.cb = to_plane(seen_chroma(reduced(cb_), softness_));
        layer.cr = to_plane(seen_chroma(reduced(cr_), softness_));
        layer.cover = to_plane(seen_luma(reduced(cover_), softness_));
        layer.cover_half = to_plane(seen_chroma(reduced(cover_), softness_));
        return layer;
    }

private:
    Image reduced(const Image& image) const {
        Image out;
        cv::resize(image, out, size_, 0, 0, cv::INTER_AREA);
        return out;
    }

    Softness softness_;
    int margin_;
    cv::Size size_;
    Image luma_, cb_, cr_, cover_;
};

/// One sign of an invented script: strokes on a grid of 2 × 3 cells.
void write_sign(Random& random, Canvas& canvas, double x, double y, double width, double height) {
    const double pen = std::max(2.0, width / 5), dark = 0.12;
    for (int stroke = 0; stroke < 4; ++stroke) {
        const double cell_x = std::floor(random.uniform(0, 2)) * width / 2,
                     cell_y = std::floor(random.uniform(0, 3)) * height / 3;
        if (random.uniform() < 0.5)
            canvas.fill_box(x, y + cell_y, width, pen, {dark});
        else
            canvas.fill_box(x + cell_x, y, pen, height, {dark});
    }
}

}  // namespace

Layer paint_background(Random& random, int width, int height, const Softness& softness, double tint) {
    const cv::Size size(width, height);
    Layer layer;
    Image rocks;
    layer.luma = to_plane(seen_luma(background_luma(random, size, rocks), softness));
    Image cb = background_chroma(random, size, 0.10F, -0.06F), cr = background_chroma(random, size, -0.07F, 0.05F);
    cb -= 0.6 * tint * rocks;
    cr += tint * rocks;
    layer.cb = to_plane(seen_chroma(cb, softness));
    layer.cr = to_plane(seen_chroma(cr, softness));
    return layer;
}

Layer paint_doorway(int width, int height, const Softness& softness) {
    Canvas canvas(width, height, softness);
    const double frame = std::max(3.0, width / 14.0);
    canvas.fill_box(0, 0, width, height, {0.55, -0.02, 0.03});
    canvas.fill_box(frame, frame, width - 2 * frame, height - 2 * frame, {0.0});
    return canvas.seen();
}

Layer paint_board(Random& random, int width, int height, const Softness& softness) {
    Canvas canvas(width, height, softness);
    canvas.fill_box(0, 0, width, height, {1.0});
    const double sign_height = height * 0.12, sign_width = sign_height * 0.7;
    for (const double y : {0.68, 0.84})
        for (double x = sign_width / 2; x + 1.5 * sign_width < width; x += 1.4 * sign_width)
            write_sign(random, canvas, x, y * height, sign_width, sign_height);
    return canvas.seen();
}

Layer paint_tower(int width, int height, const Softness& softness) {
    Canvas canvas(width, height, softness);
    constexpr int bands = 7;
    const double slant = width * 0.18 / bands, band = height * 0.84 / bands, base = height * 0.16;
    for (int i = 0; i < bands; ++i) {
        const double left = (bands - i) * slant, next = left - slant;
        const Canvas::Colour colour = i % 2 == 0 ? Canvas::Colour{0.34, -0.10, 0.30} : Canvas::Colour{0.84, 0, 0.01};
        canvas.fill({{left, base + i * band},
                     {width - left, base + i * band},
                     {width - next, base + (i + 1) * band},
                     {next, base + (i + 1) * band}},
                    colour);
    }
    canvas.fill_box(width * 0.2, base * 0.3, width * 0.6, base * 0.7, {0.78, -0.15, 0.06});
    canvas.fill({{width * 0.15, base * 0.3}, {width * 0.5, 0}, {width * 0.85, base * 0.3}}, {0.2, -0.03, 0.12});
    return canvas.seen();
}

Layer paint_boat(int width, int height, const Softness& softness) {
    Canvas canvas(width, height, softness);
    const double w = width, h = height;
    canvas.fill_box(w * 0.48, 0, std::max(2.0, w * 0.03), h * 0.75, {0.25, -0.04, 0.05});
    canvas.fill({{w * 0.54, h * 0.05}, {w * 0.54, h * 0.65}, {w * 0.9, h * 0.65}}, {0.8, -0.04, 0.04});
    canvas.fill({{0, h * 0.72}, {w, h * 0.72}, {w * 0.82, h}, {w * 0.16, h}}, {0.3, 0.14, -0.08});
    return canvas.seen();
}

}  // namespace guardband::testsignal
