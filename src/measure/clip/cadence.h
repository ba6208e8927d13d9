#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/clip/motion_window.h"
#include "measure/clip/repeat_pattern.h"
#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `cadence`, text: how many fields each picture stands, by turns, where pictures of film or animation were laid on
/// fields: `2:3`, `2:3:3:2`, `2:2:2:4` (24 pictures on 60 fields), `2:2:3:2:3` (25 on 60), `2:2:2:2:2:2:2:2:2:2:2:3`
/// (24 on 50), `2:2`, `4:4`; `none` where each field was taken by itself. `converted_from`, Hz: the field rate before a
/// conversion of standards that repeated, left out or mixed fields or frames. Repeats and gaps that belong to a pattern
/// are no faults: their events become one, and their figures say `by design`.
///
/// Method: distances between repeats (`find_pattern`) and between jumps (`PictureGaps`); for fields that stand longer
/// or were mixed, `fit_conversion` over one second after another. A conversion is named if it stands out in half of
/// those seconds in which enough moves, and in two at least.
///
/// Named from motion of 0.5 sample per field at 30 dB where fields stand longer or are left out, of 1 sample at 36 dB
/// or 2 at 30 dB where they were mixed, up to 8; the test gives the table. Can't tell: conversions that compensate
/// motion, which leave no pattern; those of less than two seconds of motion; a mixture of film with other frame rates.
class Cadence final : public ClipMeasurement {
public:
    explicit Cadence(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    enum class Kind { MixedFields, MixedFrames, SteppedFields };
    /// What the windows of a second showed.
    struct Votes {
        std::int64_t moving = 0;         ///< windows in which enough moves
        std::int64_t across_frames = 0;  ///< of them, those whose pictures lie across two frames
        std::array<std::int64_t, 3> kinds{};
    };
    struct Conversion {
        double from_hz;
        std::string how;
        bool stepped_fields = false;
    };

    void judge_window();
    double frame_rate_hz() const;  ///< 0 if not known
    std::optional<double> field_rate_hz() const;
    std::optional<double> other_rate_hz() const;
    std::optional<Conversion> conversion(const std::optional<RepeatPattern>& pattern) const;
    bool frames_left_out() const;
    quantity::Figure cadence_figure(const std::optional<RepeatPattern>& pattern) const;
    void merge_events(const RepeatPattern& pattern, const std::string& what,
                      std::vector<quantity::Event>& events) const;

    const ClipContext& context_;
    MotionWindow window_;
    Votes votes_;
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
