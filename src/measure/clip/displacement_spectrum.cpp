#include "measure/clip/displacement_spectrum.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "measure/clip/timed_lines.h"

namespace guardband::measure {
namespace {

constexpr std::size_t lines_of_mean = 8;
constexpr double parting_hz = 400;  ///< below: means of lines over the whole series; above: single lines
constexpr double lowest_hz = 0.5, fewest_cycles = 2;
constexpr std::int64_t frames_of_fast = 32;
constexpr int most_searches = 10, most_fast = 4;
/// A rate is locked if it lies this close to a multiple of the frame rate, cycles in the whole series.
constexpr double locked_cycles = 0.25;
constexpr int highest_harmonic = 16;
/// Two rates closer than this, cycles in the whole series, are not told apart.
constexpr double parted_cycles = 1;
/// What is this close to a stronger one and less than half of it is that one's wandering.
constexpr double wander_cycles = 4, wander_share = 0.5;
/// Half of what the edges differ by, over the motion: beyond, they don't show it alike.
constexpr double most_apart = 0.5;
constexpr double least_of_strongest = 0.02;

/// The part of a motion that the mean of some lines keeps.
double kept_by_mean(double hz, double line_hz) {
    const double half = std::numbers::pi * hz / line_hz;
    return half < 1e-9 ? 1 : std::sin(lines_of_mean * half) / (lines_of_mean * std::sin(half));
}

/// Searches the slow motions.
class SlowMotions {
public:
    SlowMotions(const TimedLines& lines, const LineTiming& timing, double least_px)
        : lines_(lines), timing_(timing), least_px_(least_px) {}

    void search() {
        const double low_hz = std::max(lowest_hz, fewest_cycles / lines_.seconds());
        for (int i = 0; i < most_searches; ++i) {
            const auto found = dsp::strongest_sine({lines_.all.times_s, left_}, {low_hz, parting_hz});
            if (!found || found->amplitude() < least_px_ * kept_by_mean(found->hz, timing_.line_hz)) return;
            const double multiple = std::round(found->hz / timing_.frame_hz);
            const double off = std::abs(found->hz - multiple * timing_.frame_hz);
            if (multiple < 1 || off > std::max(locked_cycles / lines_.seconds(), 3 * found->hz_error)) {
                if (is_one_of_those_found(found->hz)) return;
                sines_.push_back(*found);
            } else {
                bool& locked = std::fmod(multiple, 2) == 0 ? locked_.alike : locked_.apart;
                if (locked) return;
                locked = true;
            }
            fit();
        }
    }

    std::vector<LineMotion> motions() const;
    const std::vector<dsp::Sine>& sines() const { return sines_; }

private:
    bool is_one_of_those_found(double hz) const {
        const double least_hz = parted_cycles / lines_.seconds();
        return std::ranges::any_of(sines_, [&](const dsp::Sine& one) { return std::abs(one.hz - hz) < least_hz; });
    }
    /// The pattern that returns with the frame and the sines, by turns.
    void fit() {
        for (int round = 0; round < 2; ++round) {
            pattern_ = lines_.pattern(without_sines(), locked_);
            dsp::UnevenSeries moving{lines_.all.times_s, lines_.all.values};
            lines_.subtract(pattern_, moving.values);
            dsp::fit_together(moving, sines_, left_);
        }
    }
    std::vector<double> without_sines() const {
        std::vector<double> left = lines_.all.values;
        for (std::size_t n = 0; n < left.size(); ++n)
            for (const dsp::Sine& sine : sines_) left[n] -= sine.at(lines_.all.times_s[n]);
        return left;
    }
    void add_locked(bool alike, std::vector<LineMotion>& out) const;

    const TimedLines& lines_;
    LineTiming timing_;
    double least_px_;
    std::vector<double> left_ = lines_.all.values;
    std::vector<dsp::Sine> sines_;
    TimedLines::Locked locked_;
    std::vector<double> pattern_;
};

/// The strongest harmonic of what is locked to the frame.
void SlowMotions::add_locked(bool alike, std::vector<LineMotion>& out) const {
    const TimedLines::Locked one{alike, !alike};
    const dsp::UnevenSeries pattern = lines_.pattern_series(lines_.pattern(without_sines(), one));
    LineMotion best;
    for (int k = alike ? 2 : 1; k <= highest_harmonic; k += 2) {
        const double hz = k * timing_.frame_hz, amplitude = dsp::fit_sine(pattern, hz, false).amplitude();
        if (amplitude > best.amplitude_px) best = {hz, 0, amplitude, k};
    }
    const auto apart = lines_.apart();
    if (apart) {
        const auto series = lines_.pattern_series(lines_.pattern_of_apart(one));
        if (dsp::fit_sine(series, best.hz, false).amplitude() > most_apart * best.amplitude_px) return;
    }
    out.push_back(best);
}

std::vector<LineMotion> SlowMotions::motions() const {
    std::vector<LineMotion> out;
    const auto apart = lines_.apart();
    for (const dsp::Sine& sine : sines_)
        if (!apart || dsp::fit_sine(*apart, sine.hz, false).amplitude() <= most_apart * sine.amplitude())
            out.push_back({sine.hz, sine.hz_error, sine.amplitude(), 0});
    if (locked_.alike) add_locked(true, out);
    if (locked_.apart) add_locked(false, out);
    for (LineMotion& motion : out) motion.amplitude_px /= kept_by_mean(motion.hz, timing_.line_hz);
    return out;
}

/// What moves fast, when what returns with the frame and what moves slowly has been taken out.
void add_fast(const TimedLines& lines, const LineTiming& timing, const std::vector<dsp::Sine>& slow, double least_px,
              std::vector<LineMotion>& out) {
    dsp::UnevenSeries left = lines.all;
    for (std::size_t n = 0; n < left.values.size(); ++n)
        for (const dsp::Sine& sine : slow) left.values[n] -= sine.at(left.times_s[n]);
    lines.subtract(lines.pattern(left.values, {true, true}), left.values);
    const auto apart = lines.apart();
    for (int i = 0; i < most_fast; ++i) {
        const auto found = dsp::strongest_sine(left, {parting_hz, timing.line_hz / 2});
        if (!found || found->amplitude() < least_px) return;
        for (std::size_t n = 0; n < left.values.size(); ++n) left.values[n] -= found->at(left.times_s[n]);
        if (!apart || dsp::fit_sine(*apart, found->hz, false).amplitude() <= most_apart * found->amplitude())
            out.push_back({found->hz, found->hz_error, found->amplitude(), 0});
    }
}

}  // namespace

DisplacementSpectrum displacement_spectrum(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
                                           double least_px) {
    DisplacementSpectrum out;
    const TimedLines means(series, end, timing, lines_of_mean, series.frames().size());
    out.seconds = means.seconds();
    if (out.seconds < least_spectrum_s) return out;
    SlowMotions slow(means, timing, least_px);
    slow.search();
    out.motions = slow.motions();
    out.sines = slow.sines();
    for (dsp::Sine& sine : out.sines) {
        const double kept = kept_by_mean(sine.hz, timing.line_hz);
        sine.cosine /= kept, sine.sine /= kept;
    }
    add_fast(TimedLines(series, end, timing, 1, frames_of_fast), timing, out.sines, least_px, out.motions);
    std::ranges::sort(out.motions, std::ranges::greater{}, &LineMotion::amplitude_px);
    const double strongest = out.motions.empty() ? 0 : out.motions.front().amplitude_px;
    const double wander_hz = wander_cycles / out.seconds;
    std::erase_if(out.motions, [&, all = out.motions](const LineMotion& motion) {
        return motion.amplitude_px < std::max(least_px, least_of_strongest * strongest) ||
               std::ranges::any_of(all, [&](const LineMotion& other) {
                   return std::abs(other.hz - motion.hz) < wander_hz &&
                          motion.amplitude_px < wander_share * other.amplitude_px;
               });
    });
    return out;
}

}  // namespace guardband::measure
