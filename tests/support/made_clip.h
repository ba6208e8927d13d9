#pragma once

#include <optional>

#include "media/clip.h"
#include "support/clip_frames.h"
#include "testsignal/clip_maker.h"

namespace guardband::support {

/// A clip made from a recipe, in memory, as the media door would hand it over; luma only.
class MadeClip {
public:
    explicit MadeClip(const testsignal::Recipe& recipe) : maker_(recipe) {}

    media::PictureFormat format() const {
        const auto& recipe = maker_.recipe();
        return luma_format(recipe.raster.width, recipe.raster.height, recipe.bit_depth);
    }

    /// The samples of the next frame, for a test that works on them; nothing at the end.
    std::optional<Planes> next_planes();

    /// The next frame, or nothing at the end.
    std::optional<media::Frame> next();

    testsignal::Truth truth() const { return maker_.truth(); }

private:
    testsignal::ClipMaker maker_;
    testsignal::ClipFrame made_;
    std::int64_t count_ = 0;
};

}  // namespace guardband::support
