#pragma once

#include <optional>

#include "media/clip.h"
#include "support/clip_frames.h"
#include "testsignal/clip_maker.h"

namespace guardband::support {

enum class MadePlanes { LumaOnly, All };

/// A clip made from a recipe, in memory, as the media door would hand it over.
class MadeClip {
public:
    explicit MadeClip(const testsignal::Recipe& recipe, MadePlanes planes = MadePlanes::LumaOnly)
        : maker_(recipe), planes_(planes) {}

    media::PictureFormat format() const;

    /// The samples of the next frame, for a test that works on them; nothing at the end.
    std::optional<Planes> next_planes();

    /// The next frame, or nothing at the end.
    std::optional<media::Frame> next();

    testsignal::Truth truth() const { return maker_.truth(); }

private:
    testsignal::ClipMaker maker_;
    MadePlanes planes_;
    testsignal::ClipFrame made_;
    std::int64_t count_ = 0;
};

}  // namespace guardband::support
