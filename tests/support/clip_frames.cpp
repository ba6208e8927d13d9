#include "support/clip_frames.h"

#include <algorithm>
#include <memory>

namespace guardband::support {
namespace {

using Bytes = std::vector<std::byte>;

void store(std::uint16_t code, int sample_bytes, std::byte* to) {
    if (sample_bytes == 1)
        *to = static_cast<std::byte>(code);
    else
        *reinterpret_cast<std::uint16_t*>(to) = code;
}

/// Appends a plane to `bytes`; its place is given by an offset because `bytes` still grows.
media::Plane append(Bytes& bytes, const std::vector<std::uint16_t>& codes, int width, int height, int sample_bytes,
                    int padding) {
    media::Plane plane;
    plane.width = width, plane.height = height;
    plane.stride_bytes = static_cast<std::ptrdiff_t>(width + padding) * sample_bytes;
    const std::size_t start = bytes.size();
    bytes.resize(start + static_cast<std::size_t>(plane.stride_bytes * height), std::byte{0x5a});
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
            store(codes.at(static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)),
                  sample_bytes,
                  bytes.data() + start + static_cast<std::size_t>(y * plane.stride_bytes + x * sample_bytes));
    return plane;
}

}  // namespace

media::Frame make_frame(const media::PictureFormat& format, const Planes& planes, std::int64_t index,
                        int width_padding) {
    auto bytes = std::make_shared<Bytes>();
    const int sample_bytes = format.bit_depth > 8 ? 2 : 1;
    media::Frame frame;
    frame.index = index, frame.pts = index, frame.format = format;
    std::array<std::size_t, 3> starts{};
    const std::array<const std::vector<std::uint16_t>*, 3> codes{&planes.luma, &planes.cb, &planes.cr};
    for (std::size_t i = 0; i < (format.has_chroma ? 3U : 1U); ++i) {
        const int shift_x = i == 0 ? 0 : format.chroma_shift_x, shift_y = i == 0 ? 0 : format.chroma_shift_y;
        starts[i] = bytes->size();
        frame.planes[i] = append(*bytes, *codes[i], (format.width + (1 << shift_x) - 1) >> shift_x,
                                 (format.height + (1 << shift_y) - 1) >> shift_y, sample_bytes, width_padding);
    }
    for (std::size_t i = 0; i < (format.has_chroma ? 3U : 1U); ++i) frame.planes[i].data = bytes->data() + starts[i];
    frame.owner = bytes;
    return frame;
}

media::PictureFormat luma_format(int width, int height, int bit_depth) {
    media::PictureFormat format;
    format.width = width, format.height = height, format.bit_depth = bit_depth, format.has_chroma = false;
    return format;
}

}  // namespace guardband::support
