#pragma once

#include <optional>
#include <vector>

#include "measure/clip/brightness_grid.h"
#include "measure/clip/flicker_search.h"
#include "measure/clip/flicker_series.h"
#include "measure/clip/profile_shift.h"
#include "measure/clip/screen_rate.h"
#include "measure/clip/vertical_track.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `flicker_frequency`, Hz: of the brightness modulation as the clip shows it: the distance from the light's rate to
/// the nearest multiple of the rate at which the camera took its pictures (fields if the clip is interlaced, else
/// frames). `flicker_depth`, a share: zero to peak of the fundamental over the mean light, the camera's gamma of 0.45
/// undone; the mean over the picture. `screen_rate`, Hz: the light's true rate that best explains both the frequency
/// and how the bands roll, of those in the table; others that do are its alternatives.
///
/// Method: `BrightnessGrid`, `FlickerSeries`, `search_flicker`, `explain_flicker`, on stretches of up to 128 s; what
/// several stretches show of one flicker is averaged. Bias and scatter: tests/measure/clip/flicker_test.cpp; the
/// frequency is good to 0.005 Hz over 60 s and 0.05 Hz over 6 s where flicker is found at all, from a depth of 0.2 to 1
/// % up depending on how much moves. Needs 16 frames and 2 periods. What is less than 0.7 % deep and beats as no
/// screen or lamp of the table is not told, nor what is now deep and now shallow, as the light of a flame is. Can't
/// tell: light that stands still before the camera (50 Hz before 25 frames/s, and all beats too slow for the clip;
/// between fields also beats close to the frame rate); a screen that fills less than a sixth of the picture.
class Flicker final : public ClipMeasurement {
public:
    explicit Flicker(const ClipContext& context);

    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// What one stretch of the clip showed.
    struct Stretch {
        FlickerSearch search;
        bool interlaced = false;
        std::size_t frames = 0;
    };
    /// One flicker as all stretches together show it.
    struct Found {
        FlickerLine line;
        bool interlaced = false;
        std::size_t frames = 0, stretches = 0;
    };

    void fill_gap(const media::Frame& frame);
    double pan_px(const FrameFeatures& features);
    void end_stretch();
    Stretch search(const FieldTiming& timing) const;
    std::vector<FieldTiming> timings() const;
    double frames_per_s() const;
    std::optional<Found> found() const;
    bool is_of_codec(const Found& found) const;
    std::string reason() const;
    std::string objection(const Found& found) const;
    void add_figures(const Found& found, quantity::Figures& figures) const;
    quantity::Figure screen_figure(const Found& found) const;

    const ClipContext& context_;
    std::vector<ScreenLight> lights_;
    BrightnessGrid grid_;
    VerticalTrack track_;
    ProfileMatcher matcher_;
    std::vector<float> profile_, columns_, columns_before_;
    FlickerSeries series_;
    std::vector<float> light_;
    std::optional<std::int64_t> last_pts_;
    std::int64_t pending_gap_ = 0;  // frames that the last step of the time stamps left room for
    std::vector<Stretch> stretches_;
};

}  // namespace guardband::measure
