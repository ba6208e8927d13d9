#include "report/drawing/png.h"

#include <gtest/gtest.h>
#include <png.h>

#include <cstring>
#include <numeric>
#include <vector>

#include "quantity/errors.h"

namespace guardband::report::drawing {
namespace {

/// Samples of a grey PNG, read by the library that wrote it but by its other door.
std::vector<std::uint8_t> read_back(const std::string& bytes, int& width, int& height) {
    png_image image;
    std::memset(&image, 0, sizeof image);
    image.version = PNG_IMAGE_VERSION;
    EXPECT_NE(png_image_begin_read_from_memory(&image, bytes.data(), bytes.size()), 0) << image.message;
    EXPECT_EQ(image.format, static_cast<png_uint_32>(PNG_FORMAT_GRAY)) << "grey, without alpha";
    width = static_cast<int>(image.width), height = static_cast<int>(image.height);
    std::vector<std::uint8_t> samples(PNG_IMAGE_SIZE(image));
    EXPECT_NE(png_image_finish_read(&image, nullptr, samples.data(), 0, nullptr), 0) << image.message;
    return samples;
}

TEST(GreyPng, ReadsBackAsItWas) {
    for (const int height : {1, 5, 300}) {
        std::vector<std::uint8_t> samples(static_cast<std::size_t>(7) * static_cast<std::size_t>(height));
        std::iota(samples.begin(), samples.end(), std::uint8_t{0});
        int width = 0, rows = 0;
        const std::string bytes = grey_png(7, height, samples);
        EXPECT_TRUE(bytes.starts_with("\x89PNG\r\n\x1a\n"));
        EXPECT_EQ(read_back(bytes, width, rows), samples);
        EXPECT_EQ(width, 7);
        EXPECT_EQ(rows, height);
    }
}

TEST(GreyPng, RefusesASizeThatDoesNotFit) {
    const std::vector<std::uint8_t> samples(6);
    EXPECT_THROW(grey_png(2, 2, samples), quantity::DomainError);
    EXPECT_THROW(grey_png(0, 0, {}), quantity::DomainError);
    EXPECT_THROW(grey_png(-2, -3, samples), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::report::drawing
