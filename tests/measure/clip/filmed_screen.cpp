#include "filmed_screen.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace guardband::measure {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;

/// Sum of octaves of bilinear noise: a spectrum that falls as in real pictures.
std::vector<float> make_texture(int width, int height, std::mt19937& random) {
    std::vector<float> picture(static_cast<std::size_t>(width) * height, 0.0F);
    std::uniform_real_distribution<float> uniform(-1, 1);
    float amplitude = 1;
    for (int cell = 128; cell >= 4; cell /= 2, amplitude *= 0.62F) {
        const int nx = width / cell, ny = height / cell;
        std::vector<float> knots(static_cast<std::size_t>(nx) * ny);
        for (float& k : knots) k = uniform(random);
        for (int y = 0; y < height; ++y) {
            const int j = y / cell;
            const float fy = static_cast<float>(y % cell) / static_cast<float>(cell);
            for (int x = 0; x < width; ++x) {
                const int i = x / cell;
                const float fx = static_cast<float>(x % cell) / static_cast<float>(cell);
                const auto knot = [&](int a, int b) { return knots[static_cast<std::size_t>(b % ny) * nx + a % nx]; };
                picture[static_cast<std::size_t>(y) * width + x] +=
                    amplitude * ((1 - fy) * ((1 - fx) * knot(i, j) + fx * knot(i + 1, j)) +
                                 fy * ((1 - fx) * knot(i, j + 1) + fx * knot(i + 1, j + 1)));
            }
        }
    }
    for (float& v : picture) v = std::clamp(0.45F + 0.35F * v, 0.03F, 1.0F);  // shares of black to white
    return picture;
}

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

}  // namespace

FilmedScene::FilmedScene(const SceneSettings& settings) : s_(settings), random_(settings.seed) {
    static const std::vector<float> texture = [] {
        std::mt19937 fixed(99);
        return make_texture(1024, 512, fixed);
    }();
    prefix_.resize(static_cast<std::size_t>(world_width_ + 1) * world_height_);
    for (int y = 0; y < world_height_; ++y) {
        float* p = &prefix_[static_cast<std::size_t>(y) * (world_width_ + 1)];
        p[0] = 0;
        for (int x = 0; x < world_width_; ++x)
            p[x + 1] = p[x] + texture[static_cast<std::size_t>(y) * world_width_ + x];
    }
    std::uniform_real_distribution<double> u(0, 1);
    x_ = u(random_) * world_width_, y_ = u(random_) * world_height_;
    for (int i = 0; i < s_.objects; ++i) {
        objects_.push_back({u(random_) * s_.width, u(random_) * s_.height, (u(random_) - 0.5) * 4,
                            (u(random_) - 0.5) * 3, s_.width * (0.1 + 0.2 * u(random_)),
                            s_.height * (0.1 + 0.3 * u(random_)), u(random_) * world_width_,
                            u(random_) * world_height_});
    }
    if (s_.screen_hz > 0) {
        double own =
            2 * std::abs(sinc(s_.screen_hz * s_.exposure_s)) / std::hypot(1, two_pi * s_.screen_hz * s_.decay_s);
        steady_ = 1 - s_.depth / own;
    }
    features_.segment_sums.reset(s_.width / FrameFeatures::segment, s_.height);
}

double FilmedScene::world(int row, double from, double to) const {
    const float* p = &prefix_[static_cast<std::size_t>(row) * (world_width_ + 1)];
    const auto at = [&](double x) {
        const double turns = std::floor(x / world_width_);
        const double r = x - turns * world_width_;
        const int i = static_cast<int>(r);
        const double f = r - i;
        const double v = p[i] + f * (p[std::min(i + 1, world_width_)] - p[i]);
        return turns * p[world_width_] + v;
    };
    return at(to) - at(from);
}

double FilmedScene::window_sum(int row, double x, double width, double world_x, double world_y) const {
    double wy = world_y + row;
    wy -= std::floor(wy / world_height_) * world_height_;
    const int j = static_cast<int>(wy);
    const double f = wy - j;
    return (1 - f) * world(j, world_x + x, world_x + x + width) +
           f * world((j + 1) % world_height_, world_x + x, world_x + x + width);
}

double FilmedScene::light(double start_s, double height) const {
    if (s_.screen_hz == 0) return 1;
    const double period = 1 / s_.screen_hz, decay = s_.decay_s;
    const auto integral = [&](double t) {
        const double whole = std::floor(t / period), rest = t - whole * period;
        return period * (whole + std::expm1(-rest / decay) / std::expm1(-period / decay));
    };
    double from = start_s - (s_.phase + s_.scan_share * height) * period;
    from -= std::floor(from / period) * period;
    const double own = (integral(from + s_.exposure_s) - integral(from)) / s_.exposure_s;
    return steady_ + (1 - steady_) * own;
}

void FilmedScene::row(int frame_row, double time_s) {
    const double start = time_s + s_.readout_s * frame_row / s_.height;
    double gain =
        std::pow(std::max(0.05, 1 + s_.flame_depth * flame_.real()) * light(start, (frame_row + 0.5) / s_.height),
                 0.45) *
        gain_;
    for (double f : s_.flashes_s)
        if (time_s >= f && time_s < f + 0.09) gain *= 1.8;
    for (double f : s_.fades_s) gain *= std::min(1.0, std::abs(time_s - f) / 1.0);
    std::normal_distribution<double> normal;
    const double sigma = 219 * std::pow(10, -s_.noise_db / 20) * std::sqrt(16.0);
    for (int i = 0; i < features_.segment_sums.width; ++i) {
        const double x = 16.0 * i;
        double sum = window_sum(frame_row, x, 16, x_, y_);
        for (const Object& o : objects_) {
            // A vertical aperture of two lines: the edges of an object come and go smoothly.
            const double inside = std::min(frame_row - o.y, o.y + o.h - frame_row),
                         cover = std::clamp(0.5 + inside / 2, 0.0, 1.0);
            const double soft = cover * cover * (3 - 2 * cover);
            const double from = std::max(x, o.x), to = std::min(x + 16, o.x + o.w);
            if (to <= from || soft == 0) continue;
            const double share = (to - from) / 16;
            const double own = window_sum(frame_row, from, to - from, o.world_x - o.x, o.world_y - o.y);
            sum += soft * (own - share * sum);
        }
        const double code = 16 * 16 + 219 * sum * gain + sigma * normal(random_);
        features_.segment_sums.at(i, frame_row) = static_cast<std::uint32_t>(std::clamp(code, 0.0, 255.0 * 16) + 0.5);
    }
}

void FilmedScene::move(double frames) {
    std::normal_distribution<double> normal;
    const double keep = std::exp(-frames / s_.pan_frames), kick = s_.pan_px * std::sqrt(1 - keep * keep);
    vx_ = keep * vx_ + kick * normal(random_), vy_ = keep * vy_ + 0.6 * kick * normal(random_);
    x_ += vx_ * frames, y_ += vy_ * frames;
    if (s_.flame_depth > 0) {
        const double time_s = frames / s_.frames_per_s, in_step = std::exp(-time_s / s_.flame_s);
        const std::complex<double> fresh(normal(random_), normal(random_));
        flame_ = in_step * std::polar(1.0, 2 * std::numbers::pi * s_.flame_hz * time_s) * flame_ +
                 std::sqrt(1 - in_step * in_step) * fresh;
    }
    for (Object& o : objects_) {
        o.x += o.vx * frames, o.y += o.vy * frames;
        if (o.x < -o.w / 2 || o.x > s_.width - o.w / 2) o.vx = -o.vx, o.x += 2 * o.vx * frames;
        if (o.y < -o.h / 2 || o.y > s_.height - o.h / 2) o.vy = -o.vy, o.y += 2 * o.vy * frames;
    }
}

const FrameFeatures* FilmedScene::next() {
    const double time_s = static_cast<double>(frame_) / s_.frames_per_s;
    if (time_s >= s_.seconds - 1e-9) return nullptr;
    for (double c : s_.cuts_s) {
        if (c < time_s && c >= time_s - 1 / s_.frames_per_s) {
            std::uniform_real_distribution<double> u(0, 1);
            x_ = u(random_) * world_width_, y_ = u(random_) * world_height_, gain_ = 0.6 + 0.4 * u(random_);
        }
    }
    if (s_.interlace == 0) {
        for (int r = 0; r < s_.height; ++r) row(r, time_s);
        move(1);
    } else {
        const int first = s_.interlace == 1 ? 0 : 1;
        for (int half = 0; half < 2; ++half) {
            for (int r = half == 0 ? first : 1 - first; r < s_.height; r += 2)
                row(r, time_s + half * 0.5 / s_.frames_per_s);
            move(0.5);
        }
    }
    features_.has_previous = frame_++ > 0;
    return &features_;
}

}  // namespace guardband::measure
