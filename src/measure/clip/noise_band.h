#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "measure/clip/band_course.h"
#include "measure/clip/band_samples.h"
#include "measure/clip/noise_rows.h"
#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `tracking_band`, share: lines that a band of noise across the picture covers, of all lines of all frames, as where
/// the heads leave their tracks; `tracking_band_count`: how many bands a field has where it has any, as where heads
/// cross several tracks or guard bands. Events `noise band` give each stretch with a single one: how high, where it
/// began, how it drifts, and whether it swings to and fro, as a servo that hunts has it; `track crossings` stretches
/// with several, how far apart; `picture loss` stretches in which noise covers all of the picture.
///
/// Method: see `NoiseRows`. A band must be seen in two frames on end, in both fields, which may have it at different
/// heights; the lowest 12 lines of a field, where heads switch, count only as part of a larger one.
///
/// What has two levels, as drawn pictures do, is no noise, nor is fine detail that moves past: see `BandSamples`.
///
/// Resolution: 8 lines of a field; how much of a band's first and last 8 lines it covers is told by the strength of
/// their noise, so that the share's bias is below a quarter of that for each band. Can't see: bands of less than 16
/// lines (those are dropouts; of three and more bands some of 10 lines are seen), or with less than 16 lines between
/// them; noise weaker than `strongest_tape_noise`, bands that don't reach over the width.
class NoiseBand final : public ClipMeasurement {
public:
    explicit NoiseBand(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// Rows of cells of a field that are noise, on end; seen round the picture's edges.
    struct Run {
        std::size_t first = 0, length = 0;
    };
    /// Noise in a frame, shares of the height.
    struct Bands {
        double height = 0;  ///< of all together, mean of the two fields
        std::vector<float> centres;
    };
    /// Bands from their first frame to their last.
    struct Stretch {
        std::int64_t frame = 0, last_frame = 0, frames = 0;
        double time_s = 0;
        double height_sum = 0;
        int asked = 0, moved = 0;          ///< frames: looked for movement; found that detail moves past
        std::vector<BandsOfFrame> course;  ///< of the first two minutes
    };
    /// What is kept of it.
    struct Told {
        std::int64_t frame = 0, frames = 0, count = 0;
        double time_s = 0, height = 0;
        BandCourse course;
    };

    void mark_rows(const FrameFeatures& features);
    static std::vector<Run> runs_of(const std::vector<bool>& noisy);
    double height_of(const Run& run, std::size_t parity) const;
    Bands find_bands();
    Run within(const Run& run) const;
    bool has_levels_of_noise(const media::Frame& frame);
    void look_for_movement(const media::Frame& frame);
    void follow(Bands bands, std::int64_t frame, double time_s);
    void end_stretch();
    quantity::Figure count_figure() const;

    FrameClock clock_;
    NoiseRows rows_;
    std::array<std::vector<bool>, 2> noisy_;       ///< by parity
    std::array<std::vector<double>, 2> strength_;  ///< see `NoiseRows`
    std::array<Run, 2> longest_{};                 ///< of the runs of the last frame, by parity
    BandSamples samples_;
    bool running_ = false;
    Stretch stretch_;
    std::vector<Told> stretches_;
    double covered_ = 0;  ///< sum over frames of the share of their lines
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
