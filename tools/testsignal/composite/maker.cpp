#include "testsignal/composite/maker.h"

#include <algorithm>
#include <cmath>

namespace guardband::testsignal {

CompositeMaker::CompositeMaker(CompositeRecipe recipe)
    : recipe_(std::move(recipe)),
      pattern_(recipe_.system),
      timeline_(recipe_),
      painter_(recipe_, pattern_),
      modulator_(recipe_, pattern_),
      disturbance_(recipe_, timeline_.samples_per_us()),
      next_line_(timeline_.first_line() - 1) {}

/// Puts the next line's displacement into the truth.
void CompositeMaker::note(std::int64_t line) {
    const std::int64_t field = pattern_.field_of(2 * line);
    const double half_line = 2.0 * static_cast<double>(line);
    const double blanking_end = static_cast<double>(pattern_.broad_start(field)) - recipe_.system.equalising +
                                2.0 * recipe_.system.blanked_lines;
    const double switch_at = timeline_.switch_half_line(field + 1);
    if (recipe_.time_base.head_switch_line && switch_at >= half_line && switch_at < half_line + 2 &&
        !recipe_.time_base.head_switch_steps_us.empty()) {
        const auto count = static_cast<std::int64_t>(recipe_.time_base.head_switch_steps_us.size());
        skews_us_.push_back(
            recipe_.time_base.head_switch_steps_us[static_cast<std::size_t>((((field + 1) % count) + count) % count)]);
    }
    if (half_line < blanking_end + 4 || half_line + 2 > switch_at || !pattern_.active(2 * line + 1)) {
        before_ns_.reset();
        return;
    }
    const double ns = timeline_.displacement_ns(line), x = static_cast<double>(line - timeline_.first_line());
    fit_.n += 1, fit_.x += x, fit_.y += ns, fit_.xx += x * x, fit_.xy += x * ns, fit_.yy += ns * ns;
    if (before_ns_) fit_.jitter_squares += (ns - *before_ns_) * (ns - *before_ns_), fit_.jitter_n += 1;
    before_ns_ = ns;
}

bool CompositeMaker::next(std::vector<float>& samples) {
    samples.clear();
    while (samples.empty()) {
        if (next_sample_ >= timeline_.sample_count()) return false;
        const std::int64_t line = next_line_++;
        const std::int64_t begun = next_sample_;
        for (LineRun run : timeline_.runs(line)) {
            // Runs meet where the one before ended: at a head switch the line jumps on or back.
            const std::int64_t end = std::min(run.first_sample + run.count, timeline_.sample_count());
            const std::int64_t off = next_sample_ - run.first_sample;
            run.first_sample += off, run.first_us += static_cast<double>(off) * run.step_us;
            run.count = static_cast<int>(std::max<std::int64_t>(0, end - next_sample_));
            if (run.count == 0) continue;
            painter_.paint(run, line_);
            modulator_.modulate(run, timeline_, line_);
            const auto done = line_.luma.samples();
            samples.insert(samples.end(), done.begin(), done.end());
            next_sample_ = end;
        }
        if (begun < next_sample_ && line >= timeline_.first_line()) note(line);
    }
    disturbance_.apply(samples);
    return true;
}

CompositeTruth CompositeMaker::truth() const {
    CompositeTruth t;
    t.samples = timeline_.sample_count();
    t.true_rate_hz = recipe_.sampling.rate_hz.value() * (1 + recipe_.sampling.clock_error_ppm * 1e-6);
    t.line_rate_hz = t.true_rate_hz / (timeline_.samples_per_us() * recipe_.system.line_us);
    t.field_rate_hz = 2 * t.line_rate_hz / recipe_.system.lines;
    if (recipe_.system.subcarrier_hz) {
        LineRun run;
        run.step_us = 1 / timeline_.samples_per_us();
        t.subcarrier_hz = timeline_.turns_per_sample(run) * t.true_rate_hz;
    }
    t.noise_mv = disturbance_.noise_mv();
    t.counted_lines = static_cast<std::int64_t>(fit_.n);
    t.skews_us = skews_us_;
    t.dropouts = disturbance_.dropouts();
    if (fit_.n < 3) return t;
    const double sxx = fit_.xx - fit_.x * fit_.x / fit_.n, sxy = fit_.xy - fit_.x * fit_.y / fit_.n;
    const double syy = fit_.yy - fit_.y * fit_.y / fit_.n;
    t.time_base_error_rms_ns = std::sqrt(std::max(0.0, syy - sxy * sxy / sxx) / fit_.n);
    if (fit_.jitter_n > 0) t.line_jitter_rms_ns = std::sqrt(fit_.jitter_squares / (2 * fit_.jitter_n));
    return t;
}

std::vector<float> make_composite(const CompositeRecipe& recipe) {
    CompositeMaker maker(recipe);
    std::vector<float> all, line;
    while (maker.next(line)) all.insert(all.end(), line.begin(), line.end());
    return all;
}

}  // namespace guardband::testsignal
