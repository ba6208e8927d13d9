#include "report/drawing/png.h"

#include <png.h>

#include <cstring>
#include <new>

#include "quantity/errors.h"

namespace guardband::report::drawing {

std::string grey_png(int width, int height, std::span<const std::uint8_t> samples) {
    if (width <= 0 || height <= 0 ||
        samples.size() != static_cast<std::size_t>(width) * static_cast<std::size_t>(height))
        throw quantity::DomainError("a picture needs as many samples as its width times its height");
    png_image image;
    std::memset(&image, 0, sizeof image);
    image.version = PNG_IMAGE_VERSION;
    image.width = static_cast<png_uint_32>(width);
    image.height = static_cast<png_uint_32>(height);
    image.format = PNG_FORMAT_GRAY;
    // The first call tells the size, the second writes; both fail only for want of memory.
    png_alloc_size_t size = 0;
    if (png_image_write_to_memory(&image, nullptr, &size, 0, samples.data(), 0, nullptr) == 0) throw std::bad_alloc();
    std::string bytes(size, '\0');
    if (png_image_write_to_memory(&image, bytes.data(), &size, 0, samples.data(), 0, nullptr) == 0)
        throw std::bad_alloc();
    bytes.resize(size);
    return bytes;
}

}  // namespace guardband::report::drawing
