#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/luma_range.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// How often each level of a small area occurs, in 8-bit codes: a histogram fine enough that its bins cost nothing.
class AreaHistogram {
public:
    static constexpr double bins_per_code = 32;

    AreaHistogram() : bins_(static_cast<std::size_t>(256 * bins_per_code)) {}
    void add(double level);
    std::int64_t count() const { return count_; }

    /// The level below which a share of the areas lies. @param share  0 to 1
    double quantile(double share) const;
    /// How many areas lie from `low` to `high`.
    std::int64_t between(double low, double high) const;
    /// Mean level of the areas from `low` to `high`; nothing if there are none.
    std::optional<double> mean_between(double low, double high) const;

private:
    std::vector<std::int64_t> bins_;
    std::int64_t count_ = 0;
};

/// One end of the range of levels that a clip uses.
struct LevelEnd {
    double level = 0;        ///< 8-bit code
    double uncertainty = 0;  ///< one standard uncertainty
    bool is_flat = false;    ///< the areas there are alike but for their noise: a true black or white
};

/// `black_level`, `white_level`, 8-bit codes: the level of the darkest and the brightest small areas of the clip, 16
/// samples by 4 rows of a field; 24 samples at either side and 8 rows at top and bottom are left out, where blanking
/// may have been captured.
///
/// Method: the level beyond which 0.5 % of all areas lie. Noise spreads the areas of a true black, so that this
/// quantile lies below it; where areas pile up, the level is moved to the middle of the pile (mean shift in a window of
/// the areas' own noise, which their change from frame to frame shows). The note then says `true black` or `true
/// white`, and without a pile that there is none. Black has no colour: where most of the darkest areas have one, the
/// pile is something dark that is coloured. Where a colour system
/// of the clip's lines has set-up, a true black that stands as high is said to be that, left in. An even ground that
/// fills most of the picture elsewhere than at either of these may be black or grey: it is no true black. Bias below
/// 0.25 codes, scatter below 0.1 where black or white fill 2 % of the picture, at 30 dB S/N or better. Needs one frame.
/// Can't tell: black from the darkest thing in a scene that has none, if that is flat.
class LumaLevels final : public ClipMeasurement {
public:
    explicit LumaLevels(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void see_areas(const media::Frame& frame, const FrameFeatures& features);
    void compare(std::size_t area, double level);
    void look_at_colour(const media::Frame& frame, int x, int y, double level);
    bool is_coloured(double dark_level) const;
    bool is_ground(double level) const;

    LumaRange range_;
    double highest_black_ = 0;      ///< 8-bit code
    std::optional<double> set_up_;  ///< 8-bit code of black where a colour system of these lines has its set-up left in
    AreaHistogram levels_;
    AreaHistogram dark_changes_, bright_changes_;  ///< magnitudes of the change from frame to frame, in 8-bit codes
    AreaHistogram dark_, dark_coloured_;           ///< levels of the darkest areas, all and those that have a colour
    double dark_below_ = -1, bright_above_ = 256;  ///< areas whose change counts for the noise at either end
    std::vector<float> areas_;                     ///< of the frame before
};

}  // namespace guardband::measure
