#include "testsignal/time_base.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <utility>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

constexpr int taps = 24;
constexpr double band = 0.42;
/// 10 % to 90 % of a half wave of a cosine, as a share of all of it: (acos(-0.8) - acos(0.8)) / π.
constexpr double rise_share = 0.59033447;
constexpr std::uint64_t line_stream = 6, vertical_stream = 7, dropout_stream = 8;
constexpr double bright_level = 1.05, dark_level = -0.05;

double largest_px(const Recipe& r) {
    if (!r.time_base) return 0;
    const auto& t = *r.time_base;
    double sum_ns = 6 * t.random_ns + std::abs(t.flagging_ns);
    for (const double amplitude : t.sine_ns) sum_ns += std::abs(amplitude);
    double step_ns = 0;
    for (const double step : t.head_switch_steps_ns) step_ns = std::max(step_ns, std::abs(step));
    return (sum_ns + step_ns) * r.raster.luma_sampling_hz / 1e9;
}

double mean(const std::vector<double>& values) {
    return values.empty() ? 0 : std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double mean(const std::vector<double>& values, std::size_t from, std::size_t to) {
    return mean({values.begin() + static_cast<std::ptrdiff_t>(from), values.begin() + static_cast<std::ptrdiff_t>(to)});
}

}  // namespace

TimeBase::TimeBase(const Recipe& recipe)
    : recipe_(recipe), moves_(recipe.time_base || recipe.blanking), kernel_(taps, band), weights_(taps) {
    if (!moves_) return;
    // Behind blanking nothing of the picture is needed but what the kernel takes.
    const double beyond = recipe.blanking ? 0 : largest_px(recipe);
    margin_px_ = (static_cast<int>(std::ceil(beyond)) + taps) / 4 * 4;
}

std::vector<double> TimeBase::displacements_ns(std::int64_t field) const {
    std::vector<double> out(static_cast<std::size_t>(recipe_.raster.height / 2));
    if (!recipe_.time_base) return out;
    const auto& t = *recipe_.time_base;
    Random random(mixed_seed(recipe_.seed, line_stream, static_cast<std::uint64_t>(field)));
    const double field_s = static_cast<double>(field) / (2 * recipe_.raster.frame_rate.value());
    const auto lines = out.size();
    for (std::size_t line = 0; line < lines; ++line) {
        const double time_s = field_s + static_cast<double>(line) / recipe_.raster.line_rate_hz;
        double ns = t.flagging_ns * std::exp(-static_cast<double>(line) / t.flagging_lines);
        for (std::size_t i = 0; i < t.sine_ns.size(); ++i)
            ns += t.sine_ns[i] * std::sin(2 * std::numbers::pi * t.sine_hz[i] * time_s);
        if (t.random_ns > 0) ns += t.random_ns * std::clamp(random.gaussian(), -6.0, 6.0);
        if (t.head_switch_line && line + static_cast<std::size_t>(*t.head_switch_line) >= lines)
            ns += t.head_switch_steps_ns[static_cast<std::size_t>(field) % t.head_switch_steps_ns.size()];
        out[line] = ns;
    }
    return out;
}

double TimeBase::lower_lines(std::int64_t field) const {
    if (!recipe_.time_base || recipe_.time_base->vertical_rms_lines == 0) return 0;
    Random random(mixed_seed(recipe_.seed, vertical_stream, static_cast<std::uint64_t>(field)));
    return recipe_.time_base->vertical_rms_lines * random.gaussian();
}

std::vector<Dropout> TimeBase::dropouts(std::int64_t field) const {
    std::vector<Dropout> out;
    if (!recipe_.dropouts) return out;
    const auto& d = *recipe_.dropouts;
    Random random(mixed_seed(recipe_.seed, dropout_stream, static_cast<std::uint64_t>(field)));
    const double mean_count = d.per_minute / 60 / (2 * recipe_.raster.frame_rate.value());
    // Poisson: exponential steps until they pass the mean.
    for (double sum = -std::log(1 - random.uniform()); sum < mean_count; sum -= std::log(1 - random.uniform())) {
        const double start_px = random.uniform(0, recipe_.raster.width - 1);
        const double end_px =
            std::min<double>(start_px + d.length_us * recipe_.raster.luma_sampling_hz / 1e6, recipe_.raster.width);
        const auto line = static_cast<int>(random.uniform(0, recipe_.raster.height / 2.0));
        const auto kinds = static_cast<double>(d.bright + d.dark + d.held);
        auto kind = kinds > 1 ? static_cast<int>(kinds * random.uniform()) : 0;
        if (!d.bright) ++kind;
        if (kind > 0 && !d.dark) ++kind;
        const double px_per_us = recipe_.raster.luma_sampling_hz / 1e6;
        // A copy of the line above needs one.
        const int first = std::max(d.at_line.value_or(line), kind == 2 ? 1 : 0),
                  end = std::min(first + d.lines, recipe_.raster.height / 2);
        for (int y = first; y < end; ++y)
            out.push_back({field, y, start_px / px_per_us, (end_px - start_px) / px_per_us, kind == 0, kind == 2});
    }
    return out;
}

void TimeBase::move_row(const float* in, int width, double position, float* out, int out_width) {
    const double whole = std::floor(position);
    kernel_.weights(position - whole, weights_);
    const int first = static_cast<int>(whole) - kernel_.centre(), count = out_width + taps - 1;
    padded_.resize(static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i) padded_[static_cast<std::size_t>(i)] = in[std::clamp(first + i, 0, width - 1)];
    std::fill_n(out, out_width, 0.0F);
    for (int k = 0; k < taps; ++k) {
        const float weight = weights_[static_cast<std::size_t>(k)];
        const float* from = padded_.data() + k;
        for (int x = 0; x < out_width; ++x) out[x] += weight * from[x];
    }
}

/// @param x_px  place on the line as it should be
double TimeBase::blanking_factor(double x_px) const {
    const auto& b = *recipe_.blanking;
    const double width_px = b.rise_ns * recipe_.raster.luma_sampling_hz / 1e9 / rise_share;
    const auto step = [width_px](double distance_px) {
        const double phase = std::clamp(distance_px / width_px + 0.5, 0.0, 1.0);
        return 0.5 - 0.5 * std::cos(std::numbers::pi * phase);
    };
    return step(x_px - b.left_px) * step(recipe_.raster.width - 1 - b.right_px - x_px);
}

void TimeBase::blank(Picture& picture, const std::vector<double>& moves_px) const {
    const auto& r = recipe_;
    const auto level =
        static_cast<float>((r.raster.black_code - r.levels.black_code) / (r.levels.white_code - r.levels.black_code));
    for (int y = 0; y < picture.luma.height; ++y) {
        const double move = moves_px[static_cast<std::size_t>(y)];
        float *luma = picture.luma.row(y), *cb = picture.cb.row(y), *cr = picture.cr.row(y);
        for (int x = 0; x < picture.luma.width; ++x) {
            const auto factor = static_cast<float>(blanking_factor(x - move));
            luma[x] = level + factor * (luma[x] - level);
            if (x % 2 == 0) cb[x / 2] *= factor, cr[x / 2] *= factor;
        }
    }
}

void TimeBase::lose(std::int64_t field, Picture& picture) const {
    for (const Dropout& dropout : dropouts(field)) {
        if (dropout.held) continue;  // that comes after the noise
        const double px_per_us = recipe_.raster.luma_sampling_hz / 1e6;
        const double from = dropout.start_us * px_per_us, to = from + dropout.length_us * px_per_us;
        float* luma = picture.luma.row(dropout.line);
        for (int x = static_cast<int>(std::ceil(from)); x < std::min<double>(to, picture.luma.width); ++x)
            luma[x] = static_cast<float>(dropout.bright ? bright_level : dark_level);
    }
}

void TimeBase::move(std::int64_t field, Picture& picture) {
    const auto moves_ns = displacements_ns(field);
    std::vector<double> moves_px(moves_ns.size());
    std::ranges::transform(moves_ns, moves_px.begin(),
                           [this](double ns) { return ns * recipe_.raster.luma_sampling_hz / 1e9; });
    const int width = picture.luma.width - 2 * margin_px_, height = picture.luma.height;
    moved_.luma.resize(width, height);
    moved_.cb.resize(width / 2, height);
    moved_.cr.resize(width / 2, height);
    for (int y = 0; y < height; ++y) {
        const double move = moves_px[static_cast<std::size_t>(y)];
        move_row(picture.luma.row(y), picture.luma.width, margin_px_ - move, moved_.luma.row(y), width);
        move_row(picture.cb.row(y), picture.cb.width, (margin_px_ - move) / 2, moved_.cb.row(y), width / 2);
        move_row(picture.cr.row(y), picture.cr.width, (margin_px_ - move) / 2, moved_.cr.row(y), width / 2);
    }
    std::swap(picture, moved_);
    if (recipe_.blanking) blank(picture, moves_px);
}

void TimeBase::apply(std::int64_t field, Picture& picture) {
    if (moves_) move(field, picture);
    lose(field, picture);
}

TimeBaseTally::TimeBaseTally(const Recipe& recipe) : end_(static_cast<std::size_t>(recipe.raster.height / 2)) {
    if (!recipe.time_base || !recipe.time_base->head_switch_line) return;
    head_switch_line_ = recipe.time_base->head_switch_line;
    end_ -= static_cast<std::size_t>(*head_switch_line_);
}

void TimeBaseTally::add(const std::vector<double>& ns, double lower_lines) {
    const std::size_t lines = ns.size();
    lower_lines_.push_back(lower_lines);
    if (end_ < first_ + 20) return;
    all_ns_.insert(all_ns_.end(), ns.begin() + static_cast<std::ptrdiff_t>(first_),
                   ns.begin() + static_cast<std::ptrdiff_t>(end_));
    for (std::size_t line = first_ + 1; line < end_; ++line, ++jitter_count_)
        jitter_squares_ += (ns[line] - ns[line - 1]) * (ns[line] - ns[line - 1]);
    flagging_ns_.push_back(mean(ns, first_, first_ + 8) - mean(ns, lines / 4, lines - lines / 4));
    if (head_switch_line_) step_ns_.push_back(mean(ns, end_, lines) - mean(ns, end_ - 10, end_));
}

TimeBaseTruth TimeBaseTally::truth() const {
    TimeBaseTruth truth;
    truth.head_switch_line = head_switch_line_;
    const double lower = mean(lower_lines_);
    for (const double one : lower_lines_) truth.vertical_jitter_rms_lines += (one - lower) * (one - lower);
    truth.vertical_jitter_rms_lines =
        std::sqrt(truth.vertical_jitter_rms_lines / std::max<double>(1, static_cast<double>(lower_lines_.size())));
    if (all_ns_.empty()) return truth;
    std::vector<double> off = all_ns_;
    const double middle = mean(off);
    double squares = 0;
    for (double& one : off) one = std::abs(one - middle), squares += one * one;
    std::ranges::sort(off);
    truth.time_base_error_rms_ns = std::sqrt(squares / static_cast<double>(off.size()));
    truth.time_base_error_peak_ns = off[static_cast<std::size_t>(0.999 * static_cast<double>(off.size() - 1))];
    truth.line_jitter_rms_ns =
        std::sqrt(jitter_squares_ / static_cast<double>(2 * std::max<std::int64_t>(1, jitter_count_)));
    truth.flagging_ns = mean(flagging_ns_);
    if (head_switch_line_) truth.head_switch_step_ns = mean(step_ns_);
    return truth;
}

}  // namespace guardband::testsignal
