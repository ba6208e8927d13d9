#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/clip/even_light.h"
#include "measure/clip/flash_search.h"
#include "measure/clip/held_search.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `dropouts_per_minute`, `dropout_length_median` (µs) and an event for each: pieces of lines of which the signal was
/// lost, one for each line that is damaged.
///
/// Method: each frame is held until the next has been seen; `FlashSearch` finds what is bright or dark in one field
/// only, `HeldSearch` what was filled from the line above. Of those of 4 µs and more that are to be seen at least 0.97
/// are found at 40 dB S/N and 0.9 at 32 dB, in DV too, where little else flashes; their ends are right to 0.3 µs. Where
/// things like them flash most are (0.97 on lively scenes without loss, 0.95 in DV; of bright ones at sport eight in
/// ten, in DV six to seven; among titles in DV three quarters to nine in ten, on a page of sharp signs that rolls up
/// nine in ten), and 0.97 of those found are true everywhere. In the last frame, where nothing tells a loss from what
/// comes to stay, they are believed where one field in ten had one before. Light that changes is allowed for
/// (`EvenLight`). No held ones are looked for in lossy files: of those in DV one that knows the scene would find half
/// at one false one in two minutes, the likeness of rows 2 in 100; and of those that change the picture by 20 codes and
/// more six in ten at the price of dozens of false ones a second in a pan over texture. Can't
/// see: what is as bright or dark as all around it, in DV within 20 codes of it, or neither bright nor dark; losses of
/// more than six lines; held lines where a codec has thrown noise away; losses of which less than 2 µs lie within the
/// picture, and most of those of which less than 4 µs do. Can't tell: a bright or dark thing, thin, level and sharp at
/// both ends, that is there for one field alone.
class Dropouts final : public ClipMeasurement {
public:
    explicit Dropouts(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    struct Found {
        Loss loss;
        std::int64_t frame;
        double time_s;
    };

    void flush();
    void search(const LossFrame* before, const LossFrame& now, const LossFrame* after);
    void note(const Loss& loss, const LossFrame& now);
    std::int64_t count() const;
    double median_length_us() const;
    std::string note_text() const;
    std::optional<std::string> gathered() const;
    quantity::Event event_of(const Found& found) const;
    std::optional<double> minutes() const;

    const ClipContext& context_;
    bool usable_;
    double us_per_sample_;
    FrameClock clock_;
    EvenLight light_;
    FlashSearch flashes_;
    HeldSearch copies_;
    std::array<LossFrame, 3> ring_;         ///< the latest stands last; it is searched when the next has come
    int held_frames_ = 0;                   ///< of them, without a gap
    std::vector<Loss> losses_, copied_;     ///< of the field being searched
    std::vector<Found> found_;              ///< a bounded number of them
    EventLog more_;                         ///< those beyond
    std::array<std::int64_t, 3> counts_{};  ///< by kind
    std::vector<std::int64_t> lengths_;     ///< by sample
    std::vector<std::int64_t> lines_;       ///< by line of the field
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
