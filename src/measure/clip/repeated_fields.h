#pragma once

#include <array>
#include <vector>

#include "measure/clip/repeat_finder.h"
#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"
#include "measure/repeat_evidence.h"

namespace guardband::measure {

/// `repeated_fields`, fields: how many fields show what the field of the same parity in the frame before showed. Events
/// `repeated` name them in the order of time; repeats that follow one another are one event, and `freeze` from five
/// frames on. Films after a 2:3 pull-down have two in five frames, by design, and so they are counted; so is animation
/// of which each picture stands for two frames.
///
/// Method: see `RepeatFinder`, once for each parity. A repeat made before noise came in (on the tape, in a converter)
/// is found by what moves around it; a copy made after it also by the noise, and then at any length, in the parts of a
/// clip that carry noise of their own.
///
/// Where motion turns round nothing counts, unless it is a copy with its noise or one of an even pattern of repeats.
///
/// Flat frames without the noise of the rest, as a player draws them, count as no repeats.
///
/// A stretch without noise that stands still counts where what moves before and after it jumps to where it would have
/// been: a held frame.
///
/// Can't tell: other stretches without noise that stand still for five frames or more from a freeze, so such are not
/// counted (the note says how many fields they hold); a repeat made before the noise where nothing moves, or but a
/// fortieth of the picture that can't be followed, which may show the same twice of itself; a repeat of moving pictures
/// whose neighbours are repeats of other lengths in most of five frames. Fields that a standards conversion made to
/// stand longer may count; then the note says `by design`. Bias: none found on clean clips, the test gives the table.
class RepeatedFields final : public ClipMeasurement, public RepeatEvidence {
public:
    explicit RepeatedFields(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

    std::span<const RepeatedStretch> repeated_stretches() const override { return stretches_; }

private:
    /// Frames that follow one another.
    struct Frames {
        std::int64_t first = 0, last = 0;
    };

    /// The stretches that are told, and numbers of fields.
    struct Found {
        std::vector<RepeatedStretch> sure, doubtful;
        std::int64_t count = 0, still = 0, changed = 0;
    };

    void note_flat(std::int64_t frame);
    void gather(std::size_t parity, Found& found);
    bool is_drawn(const RepeatRun& run, const QuietLevel& quiet) const;

    const ClipContext& context_;
    FrameClock clock_;
    double code_;               ///< codes of the clip per code of 8 bits
    std::vector<Frames> flat_;  ///< bounded
    std::array<RepeatFinder, 2> finders_;
    std::vector<RepeatedStretch> stretches_;
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
