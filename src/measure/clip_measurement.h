#pragma once

#include <vector>

#include "measure/features.h"
#include "media/clip.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

class InterlaceEvidence;
class PictureGaps;
class RepeatEvidence;
class StampEvidence;

/// What a measurement may ask of the pass it runs in. A measurement that others ask implements one of the evidence
/// interfaces beside `ClipMeasurement`; the pass finds it by that. Where none does, the evidence says that it knows
/// nothing.
struct ClipContext {
    const media::ClipInfo& info;
    const table::Table& table;
    /// Field order and scan as far as they are known at this moment; final once the last frame has been seen.
    const InterlaceEvidence& interlace;
    const StampEvidence& stamps;
    const PictureGaps& picture_gaps;
    const RepeatEvidence& repeats;
};

/// One measurement, or a few figures that come from the same work. Sees each frame once, in order; keeps no more than a
/// few numbers per frame and a bounded number of them. Constructed with a `const ClipContext&` that outlives it.
class ClipMeasurement {
public:
    virtual ~ClipMeasurement() = default;

    /// Called for each frame in presentation order, from whichever thread, while other measurements see it too. May ask
    /// the context: what answers has seen this frame, unless it is one that answers itself; those see a frame one after
    /// another, in the registry's order. Neither throws nor allocates once it has warmed up.
    virtual void see(const media::Frame& frame, const FrameFeatures& features) = 0;

    /// Called for each block of the clip's sound, in order; between the frames as the file has them. Not called for a
    /// clip without sound.
    virtual void hear(const media::SoundBlock& block) { (void)block; }

    /// Called once at the end, in the registry's order: adds the figures and what happened. A figure that can't be had
    /// is added with a reason.
    virtual void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) = 0;
};

}  // namespace guardband::measure
