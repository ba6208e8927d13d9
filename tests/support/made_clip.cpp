#include "support/made_clip.h"

namespace guardband::support {

media::PictureFormat MadeClip::format() const {
    const auto& recipe = maker_.recipe();
    auto format = luma_format(recipe.raster.width, recipe.raster.height, recipe.bit_depth);
    format.has_chroma = planes_ == MadePlanes::All;
    if (!format.has_chroma) return format;
    format.chroma_shift_x = recipe.chroma == testsignal::ChromaSampling::C411 ? 2 : 1;
    format.chroma_shift_y = recipe.chroma == testsignal::ChromaSampling::C420 ? 1 : 0;
    return format;
}

std::optional<Planes> MadeClip::next_planes() {
    if (!maker_.next(made_)) return std::nullopt;
    Planes planes;
    planes.luma = made_.planes[0].samples;
    if (planes_ == MadePlanes::All) planes.cb = made_.planes[1].samples, planes.cr = made_.planes[2].samples;
    return planes;
}

std::optional<media::Frame> MadeClip::next() {
    const auto planes = next_planes();
    if (!planes) return std::nullopt;
    return make_frame(format(), *planes, count_++);
}

}  // namespace guardband::support
