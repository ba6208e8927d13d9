#pragma once

#include <optional>

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `generation_signs`, text: what shows that a recording was copied from tape to tape: `colour lowered` (by more passes
/// through a comb filter than one tape's being played makes, which is the table's limit of `chroma_lower`), `edges
/// sharpened` (they overshoot by more than a band that ends at once leaves, as after circuits that lift what copying
/// loses), or both; `none` otherwise.
///
/// Method: none of its own, from `chroma_lower` and `edge_overshoot`, which must stand before it in the registry; each
/// must be beyond its threshold by twice its uncertainty. A known sign is said though the other could not be looked
/// for. Can't tell: copies that were made by a machine without comb filter or in components, which leave no sign but
/// noise and less bandwidth, and these a poor first recording has too; edges that a camera or a set-up of the player
/// sharpened from those that a copy did. That colour goes lower, edges get lifted and noise grows with each copy is
/// common practice, no source.
class GenerationSigns final : public ClipMeasurement {
public:
    explicit GenerationSigns(const ClipContext& context);
    void see(const media::Frame&, const FrameFeatures&) override {}
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;
    /// From the figures that are there. @param most_lowered_lines  what colour may lie lower after one pass
    static void add_to(quantity::Figures& figures, std::optional<double> most_lowered_lines);

private:
    std::optional<double> most_lowered_lines_;
};

}  // namespace guardband::measure
