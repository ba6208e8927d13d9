#include "testsignal/scene.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr int smallest_background = 96;  // samples; smaller ones would show their repeat

int background_size(int picture) { return std::max(smallest_background, picture + picture / 4) / 4 * 4; }

/// A point that runs to and fro between low and high, `path` samples from start on.
double to_and_fro(double start, double path, double low, double high) {
    const double range = high - low;
    if (range <= 0) return low;
    double phase = std::fmod(start - low + path, 2 * range);
    if (phase < 0) phase += 2 * range;
    return low + (phase <= range ? phase : 2 * range - phase);
}

void put(ShiftedRows& rows, int y, int x_first, std::vector<float>& out, std::size_t count) {
    out.resize(count);
    rows.row(y, x_first, out);
}

void lay_over(float* under, const std::vector<float>& ink, const std::vector<float>& cover, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) under[i] = under[i] * (1 - cover[i]) + ink[i];
}

}  // namespace

Scene::Scene(const PictureSettings& settings, const Raster& raster, double aperture_lines, double pictures_per_s,
             std::uint64_t seed)
    : settings_(settings),
      width_(raster.width),
      height_(raster.height),
      pictures_per_s_(pictures_per_s),
      chroma_offset_{settings.chroma_delay_ns * raster.luma_sampling_hz / 1e9, settings.chroma_lower_lines},
      low_pass_(settings.luma_bandwidth_mhz * 1e6 / raster.luma_sampling_hz) {
    Random random(seed);
    const Softness softness{aperture_lines, settings.chroma_bandwidth_mhz * 1e6 / (raster.luma_sampling_hz / 2)};
    background_ = paint_background(random, background_size(width_), background_size(height_), softness, settings.tint);
    if (settings_.objects) paint_objects(random, softness);
}

void Scene::paint_objects(Random& random, const Softness& softness) {
    const auto w = [&](double share) { return static_cast<int>(share * width_) / 2 * 2; };
    const auto h = [&](double share) { return static_cast<int>(share * height_); };
    const auto at = [&](double x, double y) { return Displacement{x * width_, y * height_}; };
    add_object(paint_tower(w(0.12), h(0.62), softness), at(0.25, 0.10), at(0.60, 0.25), 1.3, 0.2);
    add_object(paint_boat(w(0.16), h(0.20), softness), at(0.02, 0.20), at(0.80, 0.30), -1.7, 0.3);
    add_object(paint_doorway(w(0.26), h(0.34), softness), at(0.02, 0.55), at(0.16, 0.63), -0.8, 0.15);
    add_object(paint_board(random, w(0.28), h(0.36), softness), at(0.46, 0.52), at(0.70, 0.60), 0.6, -0.1);
    for (auto& object : objects_) {
        object.start.x = random.uniform(object.low.x, object.high.x);
        object.start.y = random.uniform(object.low.y, object.high.y);
    }
}

void Scene::add_object(Layer layer, Displacement low, Displacement high, double speed_factor_x, double speed_factor_y) {
    Object object{};
    object.layer = std::move(layer);
    const double margin = object.layer.margin;
    object.low = {low.x - margin, low.y - margin}, object.high = {high.x - margin, high.y - margin};
    object.speed_factor_x = speed_factor_x, object.speed_factor_y = speed_factor_y;
    objects_.push_back(std::move(object));
}

double Scene::path_px(double time_s) const {
    if (settings_.still) return 0;
    const double sway = settings_.sway_px * std::sin(2 * std::numbers::pi * time_s / settings_.sway_period_s);
    return settings_.motion_px * pictures_per_s_ * time_s + sway;
}

Displacement Scene::background_displacement(double time_s) const {
    const double path = path_px(time_s), direction = settings_.direction_deg * std::numbers::pi / 180;
    return {path * std::cos(direction), path * std::sin(direction)};
}

/// Colour lies beside luma by the delay and the shift that were asked for.
void Scene::place(double time_s, double lower_lines) {
    auto back = background_displacement(time_s);
    back.y += lower_lines;
    back_luma_.set(background_.luma, back.x, back.y);
    back_cb_.set(background_.cb, (back.x + chroma_offset_.x) / 2, back.y + chroma_offset_.y);
    back_cr_.set(background_.cr, (back.x + chroma_offset_.x) / 2, back.y + chroma_offset_.y);
    const double path = path_px(time_s);
    for (auto& o : objects_) {
        o.position = {to_and_fro(o.start.x, path * o.speed_factor_x, o.low.x, o.high.x),
                      to_and_fro(o.start.y, path * o.speed_factor_y, o.low.y, o.high.y) + lower_lines};
        o.luma.set(o.layer.luma, o.position.x, o.position.y);
        o.cover.set(o.layer.cover, o.position.x, o.position.y);
        const double x = (o.position.x + chroma_offset_.x) / 2, y = o.position.y + chroma_offset_.y;
        o.cb.set(o.layer.cb, x, y);
        o.cr.set(o.layer.cr, x, y);
        o.cover_half.set(o.layer.cover_half, x, y);
    }
}

void Scene::cover_row(Object& o, int y, float* luma, float* cb, float* cr) {
    const int top = static_cast<int>(std::floor(o.position.y));
    if (y < top || y >= top + o.layer.luma.height) return;
    const int left = static_cast<int>(std::floor(o.position.x)) / 2 * 2;
    const int first = std::max(left, 0), last = std::min(left + o.layer.luma.width, width_);
    if (first >= last) return;
    const auto count = static_cast<std::size_t>(last - first), half = count / 2;
    put(o.luma, y, first, ink_, count);
    put(o.cover, y, first, cover_, count);
    lay_over(luma + first, ink_, cover_, count);
    put(o.cover_half, y, first / 2, cover_, half);
    put(o.cb, y, first / 2, ink_, half);
    lay_over(cb + first / 2, ink_, cover_, half);
    put(o.cr, y, first / 2, ink_, half);
    lay_over(cr + first / 2, ink_, cover_, half);
}

void Scene::render(double time_s, Rows rows, Picture& out, double lower_lines) {
    place(time_s, lower_lines);
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    const int count = height_ / step;
    const auto width = static_cast<std::size_t>(width_);
    out.luma.resize(width_, count);
    out.cb.resize(width_ / 2, count);
    out.cr.resize(width_ / 2, count);
    for (int r = 0; r < count; ++r) {
        const int y = first + r * step;
        float *luma = out.luma.row(r), *cb = out.cb.row(r), *cr = out.cr.row(r);
        back_luma_.row(y, 0, {luma, width});
        back_cb_.row(y, 0, {cb, width / 2});
        back_cr_.row(y, 0, {cr, width / 2});
        for (auto& object : objects_) cover_row(object, y, luma, cb, cr);
        low_pass_.apply({luma, width});
    }
}

}  // namespace guardband::testsignal
