#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <span>
#include <type_traits>
#include <utility>

#include "media/sound_samples.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

namespace fs = std::filesystem;
using quantity::InputError;

constexpr std::size_t samples_per_block = 1 << 16;

struct Layout {
    const char* name;
    SampleFormat format;
    std::size_t bytes;
};

constexpr std::array layouts{Layout{"u8", SampleFormat::U8, 1}, Layout{"s8", SampleFormat::S8, 1},
                             Layout{"u16", SampleFormat::U16, 2}, Layout{"s16", SampleFormat::S16, 2},
                             Layout{"f32", SampleFormat::F32, 4}};

const Layout& layout_of(SampleFormat format) { return *std::ranges::find(layouts, format, &Layout::format); }

/// Codes of `Code`, little-endian as they are in the file, as shares of full scale. One plain loop each, which the
/// compiler turns into vectors: video is sampled tens of millions of times a second.
template <typename Code>
void convert(const unsigned char* bytes, std::span<float> out) {
    constexpr auto half = static_cast<float>(1U << (8 * sizeof(Code) - 1));
    constexpr float zero = std::is_unsigned_v<Code> ? half : 0.0F;
    for (std::size_t i = 0; i < out.size(); ++i) {
        unsigned code = bytes[i * sizeof(Code)];
        if constexpr (sizeof(Code) == 2) code |= static_cast<unsigned>(bytes[2 * i + 1]) << 8U;
        out[i] = (static_cast<float>(static_cast<Code>(code)) - zero) / half;
    }
}

void convert_floats(const unsigned char* bytes, std::span<float> out) {
    for (std::size_t i = 0; i < out.size(); ++i) {
        unsigned code = 0;
        for (unsigned k = 0; k < 4; ++k) code |= static_cast<unsigned>(bytes[4 * i + k]) << (8 * k);
        float value = 0;
        static_assert(sizeof value == sizeof code);
        std::memcpy(&value, &code, sizeof value);
        out[i] = std::isfinite(value) ? value : 0.0F;
    }
}

void convert(const unsigned char* bytes, SampleFormat format, std::span<float> out) {
    switch (format) {
        case SampleFormat::U8:
            return convert<std::uint8_t>(bytes, out);
        case SampleFormat::S8:
            return convert<std::int8_t>(bytes, out);
        case SampleFormat::U16:
            return convert<std::uint16_t>(bytes, out);
        case SampleFormat::S16:
            return convert<std::int16_t>(bytes, out);
        case SampleFormat::F32:
            break;
    }
    convert_floats(bytes, out);
}

std::ifstream open_regular(const std::string& path) {
    std::error_code error;
    if (!fs::exists(path, error)) throw InputError(path, "no such file", "check the path");
    if (!fs::is_regular_file(path, error))
        throw InputError(path, "is not a regular file", "copy the samples to a file first");
    if (fs::file_size(path, error) == 0) throw InputError(path, "is empty", "check that it was copied whole");
    std::ifstream stream(path, std::ios::binary);
    if (!stream) throw InputError(path, "may not be read", "check its permissions");
    return stream;
}

double rate_of(const SoundOptions& options, const std::string& path) {
    if (!options.sample_rate_hz) throw InputError(path, "has no header that tells its rate", "give it with --rate");
    return *options.sample_rate_hz;
}

class RawSamples final : public SoundReader {
public:
    RawSamples(const std::string& path, SampleFormat format, const SoundOptions& options, std::optional<int> bit)
        : layout_(layout_of(format)), bit_(bit), stretch_(options, rate_of(options, path), path) {
        stream_ = open_regular(path);
        info_.path = path;
        info_.container = "samples";
        info_.codec = layout_.name;
        info_.sample_rate_hz = *options.sample_rate_hz;
        info_.channels = 1;
        info_.file_bytes = fs::file_size(path);
        const std::uint64_t samples = info_.file_bytes / layout_.bytes;
        info_.length_s = static_cast<double>(samples) / info_.sample_rate_hz;
        bytes_.resize(samples_per_block * layout_.bytes);
        block_.channels.resize(1);
    }

    const SoundInfo& info() const override { return info_; }
    std::string trouble() const override {
        return info_.file_bytes % layout_.bytes == 0 ? "" : "the file ends in the middle of a sample";
    }
    std::uint64_t bytes_read() const override { return bytes_read_; }

    const SoundBlock* next() override {
        while (!stretch_.is_over()) {
            if (!fill()) {
                if (stretch_.taken() == 0)
                    throw InputError(info_.path, "it ends before the start asked for", "start earlier");
                return nullptr;
            }
            block_.first_sample = stretch_.taken();
            block_.time_s = static_cast<double>(block_.first_sample) / info_.sample_rate_hz;
            if (stretch_.cut(block_.channels)) return &block_;
        }
        return nullptr;
    }

private:
    bool fill() {
        stream_.read(reinterpret_cast<char*>(bytes_.data()), static_cast<std::streamsize>(bytes_.size()));
        const auto got = static_cast<std::size_t>(stream_.gcount());
        bytes_read_ += got;
        std::vector<float>& out = block_.channels.front();
        out.resize(got / layout_.bytes);
        if (!bit_) {
            convert(bytes_.data(), layout_.format, out);
        } else {
            for (std::size_t i = 0; i < out.size(); ++i)
                out[i] = static_cast<float>((bytes_[i * layout_.bytes] >> static_cast<unsigned>(*bit_)) & 1U);
        }
        return !out.empty();
    }

    const Layout& layout_;
    std::optional<int> bit_;
    SampleStretch stretch_;
    std::ifstream stream_;
    SoundInfo info_;
    SoundBlock block_;
    std::vector<unsigned char> bytes_;
    std::uint64_t bytes_read_ = 0;
};

}  // namespace

std::optional<SampleFormat> sample_format_named(const std::string& name) {
    const auto* found = std::ranges::find_if(layouts, [&](const Layout& layout) { return layout.name == name; });
    if (found == layouts.end()) return std::nullopt;
    return found->format;
}

std::unique_ptr<SoundReader> open_raw_samples(const std::string& path, SampleFormat format, const SoundOptions& options,
                                              std::optional<int> bit) {
    return std::make_unique<RawSamples>(path, format, options, bit);
}

}  // namespace guardband::media
