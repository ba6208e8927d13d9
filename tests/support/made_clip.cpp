#include "support/made_clip.h"

namespace guardband::support {

std::optional<Planes> MadeClip::next_planes() {
    if (!maker_.next(made_)) return std::nullopt;
    Planes planes;
    planes.luma = made_.planes[0].samples;
    return planes;
}

std::optional<media::Frame> MadeClip::next() {
    const auto planes = next_planes();
    if (!planes) return std::nullopt;
    return make_frame(format(), *planes, count_++);
}

}  // namespace guardband::support
