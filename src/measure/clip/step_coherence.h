#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace guardband::measure {

/// Which of the sizes that leave one and the same trace was scaled from.
///
/// A scaler repeats the spectrum of the old samples every 1/step of theirs and weakens what it repeated. So two
/// frequencies of the new samples that lie a step apart hold the same: they cohere. With f the rate of the trace,
/// 0 to 0.5 per sample, of pictures stretched from N f samples they lie on either side of 0, of those from N (1 − f) on
/// either side of half the sampling rate, where those shrunk from N (1 + f) and N (2 − f) leave some likeness too, but
/// less, since most of what is there was there already. This asks neither for the scaler's filter nor for where its
/// first sample lies.
///
/// Method: products of samples 0 to 7 places apart, by place, each divided by the root of the energy around it; from
/// their course at f, taken at the middle of the two, follows the spectrum of what coheres, from their means the
/// spectrum of all. FFmpeg's scaler, noise of 40 dB that was there before: stretched 0.5 to 0.85 where it should be
/// and below 0.25 elsewhere, shrunk 0.45 and less, by more than 1.2 fold 0.2 and less. DV halves it. Noise that came
/// on top or pictures without noise leave too little.
class StepCoherence {
public:
    struct Reading {
        double around_zero = 0, around_half = 0;  ///< 0 to 1
        double scatter = 0;                       ///< of both, from rates nearby
    };

    explicit StepCoherence(std::size_t places = 0);

    /// A line, or a column. @param samples  as many as places
    void add(std::span<const float> samples);
    /// @param cycles  rate of the trace, 0 to 0.5
    Reading every_place(double cycles) const;
    /// Of the even and of the odd places by themselves; a trace may begin differently in them.
    /// @param cycles  per two places
    Reading every_second_place(double cycles) const;

private:
    static constexpr std::size_t lags = 8;
    static constexpr std::array<std::size_t, 12> distances{0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14};

    Reading reading(double cycles, std::size_t stride) const;

    std::size_t places_;
    std::array<std::vector<float>, distances.size()> products_;
    std::vector<float> even_;  ///< a line with its energy evened out
};

}  // namespace guardband::measure
