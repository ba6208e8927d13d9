#pragma once

#include <cstdint>
#include <vector>

#include "media/clip.h"

namespace guardband::support {

/// The samples of a picture, row by row without gaps, as codes of the format's own bit depth.
struct Planes {
    std::vector<std::uint16_t> luma;
    std::vector<std::uint16_t> cb, cr;  ///< empty where the format has no chroma
};

/// A frame as the media door would hand it over: samples of 8 bits in one byte, deeper ones in two, kept alive by the
/// frame's owner. `width_padding` extra samples lie between one row and the next, as decoders leave them.
/// @param index  also becomes the time stamp
media::Frame make_frame(const media::PictureFormat& format, const Planes& planes, std::int64_t index,
                        int width_padding = 0);

/// 720 × 576 of 10 bits, or whatever else is asked, without chroma.
media::PictureFormat luma_format(int width = 720, int height = 576, int bit_depth = 10);

}  // namespace guardband::support
