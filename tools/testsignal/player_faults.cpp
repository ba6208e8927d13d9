#include "testsignal/player_faults.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

constexpr std::uint64_t band_stream = 6;
/// Noise of a demodulator without signal: about mid grey, in streaks of some samples, unlike from line to line.
constexpr float streaks_level = 0.5F, streaks_rms = 0.25F;
constexpr std::size_t streak_samples = 3;

bool within(const FrameStretch& stretch, std::int64_t frame) {
    return stretch && (*stretch)[0] <= frame && frame < (*stretch)[0] + (*stretch)[1];
}

void fill(FloatPlane& plane, float value) { std::fill(plane.samples.begin(), plane.samples.end(), value); }

void fill(Picture& picture, float luma, float cb, float cr) {
    fill(picture.luma, luma), fill(picture.cb, cb), fill(picture.cr, cr);
}

void draw_streaks(Random& random, float* row, int width, std::vector<float>& white) {
    white.resize(static_cast<std::size_t>(width) + streak_samples - 1);
    random.fill_gaussian(white);
    const float gain = streaks_rms / std::sqrt(static_cast<float>(streak_samples));
    for (std::size_t x = 0; x < static_cast<std::size_t>(width); ++x) {
        float sum = 0;
        for (std::size_t i = 0; i < streak_samples; ++i) sum += white[x + i];
        row[x] = streaks_level + gain * sum;
    }
}

}  // namespace

bool PlayerFaults::is_drawn(std::int64_t frame) const {
    const auto& p = recipe_.player;
    return within(p.black, frame) || within(p.grey, frame) || within(p.blue, frame);
}

void PlayerFaults::apply(std::int64_t source_field, Picture& picture) const {
    const auto& p = recipe_.player;
    const std::int64_t frame = source_field / 2;
    if (within(p.black, frame)) fill(picture, 0, 0, 0);
    if (within(p.grey, frame)) fill(picture, 0.5F, 0, 0);
    if (within(p.blue, frame)) fill(picture, 0.15F, 0.35F, -0.06F);
    if (within(p.colourless, frame)) fill(picture.cb, 0), fill(picture.cr, 0);
    if (within(p.colour_alternates, frame) && frame % 2 == 1)
        for (float& cr : picture.cr.samples) cr = -cr;
    if (within(p.snow, frame)) {
        Random random(mixed_seed(recipe_.seed, band_stream, static_cast<std::uint64_t>(source_field)));
        std::vector<float> white;
        for (int y = 0; y < picture.luma.height; ++y)
            draw_streaks(random, picture.luma.row(y), picture.luma.width, white);
        fill(picture.cb, 0), fill(picture.cr, 0);
    }
    if (recipe_.vertical_roll) roll(source_field, picture);
    if (recipe_.noise_band) cover_band(source_field, picture);
}

double PlayerFaults::time_s(std::int64_t source_field) const {
    return static_cast<double>(source_field) / (2 * recipe_.raster.frame_rate.value());
}

/// Whole lines of the field: what a line that begins elsewhere holds is not drawn anew.
void PlayerFaults::roll(std::int64_t source_field, Picture& picture) const {
    const auto& v = *recipe_.vertical_roll;
    const double since_s = time_s(source_field) - v.start_s;
    if (since_s < 0 || since_s >= v.duration_s) return;
    const Picture from = picture;
    const int height = picture.luma.height, round = height + v.bar_lines / 2;
    const auto moved = static_cast<int>(std::lround(std::fmod(v.lines_per_s / 2 * since_s, round)));
    const auto move = [&](const FloatPlane& in, FloatPlane& out) {
        for (int y = 0; y < height; ++y) {
            const int line = ((y - moved) % round + round) % round;
            if (line < height)
                std::copy_n(in.row(line), in.width, out.row(y));
            else
                std::fill_n(out.row(y), out.width, 0.0F);
        }
    };
    move(from.luma, picture.luma), move(from.cb, picture.cb), move(from.cr, picture.cr);
}

void PlayerFaults::cover_band(std::int64_t source_field, Picture& picture) const {
    const auto& band = *recipe_.noise_band;
    const double since_s = time_s(source_field) - band.start_s;
    if (since_s < 0 || since_s >= band.duration_s) return;
    const double top = band.top + band.drift_per_s * since_s + (source_field % 2 == 1 ? band.other_head : 0) +
                       band.swing * std::sin(2 * std::numbers::pi * band.swing_hz * since_s);
    Random random(mixed_seed(recipe_.seed, band_stream, static_cast<std::uint64_t>(source_field)));
    std::vector<float> white;
    for (int y = 0; y < picture.luma.height; ++y) {
        double place = (y + 0.5) / picture.luma.height - top;  // below the band's top; the picture rolls round
        place -= std::floor(place);
        const int which = std::min(band.bands - 1, band.spacing > 0 ? static_cast<int>(place / band.spacing) : 0);
        if (place - which * band.spacing >= band.height) continue;
        draw_streaks(random, picture.luma.row(y), picture.luma.width, white);
        std::fill_n(picture.cb.row(y), picture.cb.width, 0.0F);
        std::fill_n(picture.cr.row(y), picture.cr.width, 0.0F);
    }
}

}  // namespace guardband::testsignal
