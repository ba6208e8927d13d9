#include "measure/clip/block_noise.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace guardband::measure {
namespace {

using Complex = std::complex<float>;

constexpr float two_pi = 2 * std::numbers::pi_v<float>;
/// Mean square of the Hann window.
constexpr float window_power = 3.0F / 8;
constexpr int newton_steps = 4, window_moves = 3;
constexpr float farthest = 1.2F;       ///< samples that a block may lie from its whole shift
constexpr float line_farthest = 2;     ///< and a line from its block
constexpr float steepest_line = 0.5F;  ///< lines up to which a slope may stand for a shift in height
/// How strongly a place is kept where noise alone speaks against it.
constexpr float stiffness_of_block = 0.05F, stiffness_of_line = 0.01F;
/// Real degrees of freedom of a line's differences under the window, of which its own place takes one.
constexpr float freedoms_of_line = 43;
/// Power of the other field's changes over those of the block's own, where both are noise.
constexpr float most_of_other_field = 1.4F;
/// Up to this bin what all lines of a block have in common is light that changes.
constexpr std::size_t common_bins = 2;

/// The product of finite numbers: without the search for infinities that the operator makes.
Complex times(Complex a, Complex b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}
/// Real part of a b*.
float in_common(Complex a, Complex b) { return a.real() * b.real() + a.imag() * b.imag(); }

/// The phase that a shift by so many samples to the right is, bin by bin.
class Turning {
public:
    explicit Turning(float shift) : step_(std::polar(1.0F, -two_pi * shift / FieldBlock::samples)) {}
    Complex next() {
        const Complex now = at_;
        at_ = times(at_, step_);
        return now;
    }

private:
    Complex step_, at_{1, 0};
};

float product(const std::array<float, FieldBlock::samples>& a, const std::array<float, FieldBlock::samples>& b) {
    float sum = 0;
    for (std::size_t x = 0; x < a.size(); ++x) sum += a[x] * b[x];
    return sum;
}

float weight(std::size_t bin) { return bin == 0 || bin == FieldBlock::samples / 2 ? 1.0F : 2.0F; }

}  // namespace

/// The Hann window. @param shift  of it, samples to the right
void BlockNoiseMeter::set_window(float shift) {
    static const std::array<Complex, samples> turns = [] {
        std::array<Complex, samples> all;
        for (std::size_t x = 0; x < samples; ++x)
            all[x] = std::polar(1.0F, two_pi / FieldBlock::samples * (static_cast<float>(x) + 0.5F));
        return all;
    }();
    const Complex back = 0.5F * std::polar(1.0F, two_pi / FieldBlock::samples * shift);
    for (std::size_t x = 0; x < samples; ++x) window_[x] = 0.5F - in_common(turns[x], back);
}

void BlockNoiseMeter::transform(const media::Plane& plane, int y, int x, Spectrum& out) {
    read_codes(plane, bit_depth_, y, x, FieldBlock::samples, row_.data());
    for (float& sample : row_) sample -= level_;
    spectrum_(row_.data(), window_.data(), out.data());
}

void BlockNoiseMeter::transform_block(const media::Plane& now, const media::Plane& before, const FieldBlock& block,
                                      int x_before, int lines_before, float part) {
    // The window does not move with the picture: what of it is level would be taken for standing still.
    read_codes(now, bit_depth_, block.y + static_cast<int>(lines), block.x, FieldBlock::samples, row_.data());
    level_ = std::accumulate(row_.begin(), row_.end(), 0.0F) / FieldBlock::samples;
    set_window(0);
    for (std::size_t i = 0; i < lines; ++i) transform(now, block.y + 2 * static_cast<int>(i), block.x, now_[i]);
    transform_before(before, block, x_before, lines_before, part);
}

void BlockNoiseMeter::transform_before(const media::Plane& before, const FieldBlock& block, int x_before,
                                       int lines_before, float part) {
    set_window(-part);
    for (std::size_t i = 0; i <= lines; ++i)
        transform(before, block.y + 2 * (static_cast<int>(i) - lines_before), x_before, before_[i]);
}

/// By how much the lines lie to the right of those before: Newton's steps up the cross-correlation.
/// @param anchor  keeps it near the start, as a share of the curvature that detail would have: for single lines
float BlockNoiseMeter::part_of_sample(std::size_t first, std::size_t step, float start, float anchor) const {
    std::array<Complex, bins> cross{};
    for (std::size_t i = first; i < lines; i += step)
        for (std::size_t k = 1; k < bins; ++k) cross[k] += times(now_[i][k], std::conj(before_[i][k]));
    float shift = start;
    for (int round = 0; round < newton_steps; ++round) {
        Turning turning(-shift);
        turning.next();
        float slope = 0, curvature = anchor;
        for (std::size_t k = 1; k < bins; ++k) {
            const Complex c = times(cross[k], turning.next());
            const float w = two_pi * static_cast<float>(k) / FieldBlock::samples;
            slope -= w * c.imag(), curvature += w * w * c.real();
        }
        if (curvature <= 0) return start;
        const float move = std::clamp((slope - anchor * (shift - start)) / curvature, -0.5F, 0.5F);
        shift += move;
        if (std::abs(move) < 0.003F) break;
    }
    return shift;
}

/// Where there is nothing but noise to go by, the start is kept.
float BlockNoiseMeter::anchor_of(std::size_t first, std::size_t step, float part) const {
    const float stiffness = step < lines ? stiffness_of_block : stiffness_of_line;
    float sum = 0;
    for (std::size_t i = first; i < lines; i += step) {
        Turning turning(part);
        turning.next();
        for (std::size_t k = 1; k < bins; ++k) sum += std::norm(now_[i][k] - times(before_[i][k], turning.next()));
    }
    return stiffness * sum + 1;
}

/// How many lines the block lies lower than its whole shift says, by the slope across lines; on lines 2, 4, 6.
float BlockNoiseMeter::slope_share(float part) const {
    float products = 0, squares = 0;
    for (std::size_t i = 2; i < lines; i += 2) {
        Turning turning(part);
        for (std::size_t k = 0; k < bins; ++k) {
            const Complex turn = turning.next();
            const Complex difference = now_[i][k] - times(before_[i][k], turn);
            const Complex slope = times(before_[i + 1][k] - before_[i - 1][k], turn) * 0.5F;
            products += weight(k) * in_common(difference, slope), squares += weight(k) * std::norm(slope);
        }
    }
    return squares > 0 ? std::clamp(products / squares, -steepest_line, steepest_line) : 0;
}

BlockNoise BlockNoiseMeter::differ(bool lines_lie_apart, float part) {
    BlockNoise out;
    const float share = slope_share(part);
    out.moved_lines = -share;
    constexpr float per_sample = 1.0F / (FieldBlock::samples * FieldBlock::samples * window_power);
    constexpr std::size_t odd = lines / 2;
    std::array<Spectrum, odd> differences{};
    float gradients = 0, against_lines = 0;
    for (std::size_t j = 0; j < odd; ++j) {
        const std::size_t i = 2 * j + 1;
        float place = part;
        if (lines_lie_apart) {
            place = std::clamp(part_of_sample(i, lines, part, anchor_of(i, lines, part)), part - line_farthest,
                               part + line_farthest);
        }
        Turning turning(place);
        for (std::size_t k = 0; k < bins; ++k) {
            const Complex turn = turning.next();
            const Complex moved = times(before_[i][k], turn);
            const Complex slope = times(before_[i + 1][k] - before_[i - 1][k], turn) * 0.5F;
            differences[j][k] = now_[i][k] - moved - share * slope;
            if (k == 0) continue;
            const float w = two_pi * static_cast<float>(k) / FieldBlock::samples;
            gradients += weight(k) * w * w * in_common(now_[i][k], moved);
            if (i + 1 < lines) {
                const Complex here = (now_[i + 1][k] - now_[i - 1][k]) * 0.5F;
                gradients += weight(k) * in_common(here, slope);
                against_lines += weight(k) * std::norm(now_[i][k] - (now_[i - 1][k] + now_[i + 1][k]) * 0.5F);
            }
        }
    }
    for (std::size_t k = 0; k < common_bins; ++k) {
        Complex common{};
        for (const Spectrum& d : differences) common += d[k] / static_cast<float>(odd);
        const float freedom = std::sqrt(static_cast<float>(odd) / (odd - 1));
        for (Spectrum& d : differences) d[k] = (d[k] - common) * freedom;
    }
    // Half of the difference is noise of either frame; the slope across lines adds its own.
    const float in_slope = 1 + share * share / 4;
    const float freedom = lines_lie_apart ? freedoms_of_line / (freedoms_of_line - 1) : 1;
    const float scale = per_sample * freedom / (2 * odd * in_slope);
    for (const Spectrum& d : differences)
        for (std::size_t k = 0; k < bins; ++k)
            out.band[std::min(k / (FieldBlock::samples / 2 / BlockNoise::bands), BlockNoise::bands - 1)] +=
                scale * weight(k) * std::norm(d[k]);
    for (const float band : out.band) out.temporal += band;
    out.detail = std::max(0.0F, gradients * per_sample / odd);
    out.spatial = against_lines * per_sample / (1.5F * (odd - 1));
    return out;
}

BlockNoise BlockNoiseMeter::luma(const media::Plane& now, const media::Plane& before, const FieldBlock& block,
                                 BlockShift shift) {
    transform_block(now, before, block, block.x - shift.samples, shift.lines, 0);
    float part = 0;
    // Again under a window that has moved with the picture: what enters at one end and leaves at the other counts else.
    for (int round = 0; round < window_moves; ++round) {
        const float before_it = part;
        part = std::clamp(part_of_sample(0, 2, part, anchor_of(0, 2, part)), -farthest, farthest);
        if (std::abs(part - before_it) < 0.01F) break;
        transform_before(before, block, block.x - shift.samples, shift.lines, part);
    }
    BlockNoise out = differ(true, part);
    out.moved_samples = static_cast<float>(shift.samples) + part;
    out.moved_lines += static_cast<float>(shift.lines);
    return out;
}

std::array<float, FieldBlock::samples / 2 + 1> BlockNoiseMeter::power() const {
    constexpr float per_sample = 1.0F / (FieldBlock::samples * FieldBlock::samples * window_power * lines);
    std::array<float, bins> out{};
    for (const Spectrum& line : now_)
        for (std::size_t k = 0; k < bins; ++k) out[k] += per_sample * weight(k) * std::norm(line[k]);
    return out;
}

std::optional<std::array<float, 2>> BlockNoiseMeter::likeness_of_lines(const media::Plane& now,
                                                                       const media::Plane& before,
                                                                       const FieldBlock& block) {
    constexpr std::size_t rows = 2 * lines;
    std::array<std::array<float, samples>, rows> change{};
    float mean = 0;
    for (std::size_t i = 0; i < rows; ++i) {
        const int y = block.y + static_cast<int>(i);
        read_codes(before, bit_depth_, y, block.x, FieldBlock::samples, row_.data());
        read_codes(now, bit_depth_, y, block.x, FieldBlock::samples, change[i].data());
        for (std::size_t x = 0; x < samples; ++x) change[i][x] -= row_[x], mean += change[i][x];
    }
    mean /= static_cast<float>(rows * samples);
    for (auto& row : change)
        for (float& one : row) one -= mean;
    std::array<float, 2> powers{}, alike{};
    for (std::size_t i = 0; i < rows; ++i) powers[i % 2] += product(change[i], change[i]);
    if (powers[0] <= 0 || powers[1] > most_of_other_field * powers[0]) return std::nullopt;
    const float power = (powers[0] + powers[1]) / rows;
    for (std::size_t apart = 1; apart <= 2; ++apart) {
        float sum = 0;
        for (std::size_t i = 0; i + apart < rows; ++i) sum += product(change[i], change[i + apart]);
        alike[apart - 1] = sum / static_cast<float>(rows - apart) / power;
    }
    return alike;
}

BlockNoise BlockNoiseMeter::chroma(const media::Plane& now, const media::Plane& before, const FieldBlock& block,
                                   float moved_samples, int lines_moved) {
    const float whole = std::round(moved_samples);
    transform_block(now, before, block, block.x - static_cast<int>(whole), lines_moved, moved_samples - whole);
    BlockNoise out = differ(false, moved_samples - whole);
    out.moved_samples = moved_samples;
    return out;
}

}  // namespace guardband::measure
