#pragma once

#include <span>
#include <vector>

namespace guardband::testsignal {

/// The samples of a run of one line, to draw on by time on the line. Shapes are worked out at each sample's own
/// moment: nothing is drawn on a coarser grid.
class LineCanvas {
public:
    /// @param first_us, step_us  time on the line of the first sample and from one to the next
    void begin(int count, double first_us, double step_us);

    int count() const { return static_cast<int>(samples_.size()); }
    std::span<float> samples() { return samples_; }
    std::span<const float> samples() const { return samples_; }
    double us(int sample) const { return first_us_ + step_us_ * sample; }

    void add_level(float level);
    /// From one moment on another level: the integral of a sine-squared pulse, 10 % to 90 % in `rise_us`, half way up
    /// at `at_us`.
    void add_step(double at_us, double height, double rise_us);
    /// A level between two moments.
    void add_box(double from_us, double to_us, double height, double rise_us);
    /// A sine-squared pulse. @param half_us  its width at half of the height
    void add_pulse(double centre_us, double height, double half_us);
    /// A sine between two moments, phase 0 at the first. @param height  its peak
    void add_wave(double from_us, double to_us, double height, double mhz, double rise_us);
    void multiply(const LineCanvas& other);
    void add(const LineCanvas& other, float factor);

private:
    int first_after(double us) const;

    std::vector<float> samples_;
    double first_us_ = 0, step_us_ = 1;
};

}  // namespace guardband::testsignal
