#pragma once

#include <complex>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/clip/bar_pattern.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `bars_luma_error` (% of the range from black to white: the stripe that errs most), `bars_chroma_gain` (dB) and
/// `bars_chroma_phase` (degrees, positive from C_B towards C_R), where the clip shows colour bars.
///
/// Method: every fifth frame is looked at; one shows bars where the middles of seven or eight equal stripes in its
/// upper half are flat, grow darker from left to right, and have the colours of bars in their order, apart from one
/// gain and one turn that all have in common. The kind of bars that needs the least faults is taken for meant: levels
/// err less than colour's gain. Means over all such frames are held against its levels. Gain and phase are those of the
/// least squares over all stripes; the note has each stripe's own. Bias and scatter: the levels' rounding, below 0.1 %,
/// 0.05 dB and 0.3° at 40 dB S/N. Can't tell: 100 % bars played at three quarters of their level from 75 % bars; bars
/// that fill a part of the picture's width; a clip whose bars have lost their colour.
class ColourBars final : public ClipMeasurement {
public:
    explicit ColourBars(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// What the middles of the stripes of one frame hold.
    struct Reading {
        std::vector<double> luma;
        std::vector<std::complex<double>> colour;
    };
    struct Found {
        std::int64_t frames = 0;
        std::vector<double> luma, luma_squares;  ///< sums
        std::vector<std::complex<double>> colour;
        double gain_squares = 0, turn_squares = 0;  ///< of what each frame differs by from the first
        std::complex<double> first_gain, gain_sum;
    };

    bool looks_like_stripes(const FrameFeatures& features, std::size_t stripes) const;
    Reading read(const media::Frame& frame, std::size_t stripes) const;
    std::optional<std::complex<double>> common_gain(const Reading& reading, const BarPattern& pattern) const;
    static double unlikeness(const Reading& reading, const BarPattern& pattern, const std::complex<double>& gain);
    void add(const Reading& reading, std::size_t pattern, const std::complex<double>& gain);
    void report(const BarPattern& pattern, const Found& found, quantity::Figures& figures) const;

    const ClipContext& context_;
    LumaRange range_;
    std::vector<BarPattern> patterns_;
    std::vector<Found> found_;  ///< per pattern
    EventLog log_;
    FrameClock clock_;
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
