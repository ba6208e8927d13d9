#include "testsignal/composite/sample_file.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <vector>

#include "quantity/errors.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

struct Layout {
    int bytes;
    float scale, offset, low, high;
};

Layout layout_of(SampleFormat format) {
    switch (format) {
        case SampleFormat::U8:
            return {1, 127.5F, 127.5F, 0, 255};
        case SampleFormat::S8:
            return {1, 127.0F, 0, -128, 127};
        case SampleFormat::U16:
            return {2, 32767.5F, 32767.5F, 0, 65535};
        case SampleFormat::S16:
            return {2, 32767.0F, 0, -32768, 32767};
        case SampleFormat::F32:
            break;
    }
    return {4, 1, 0, 0, 0};
}

/// Samples as they are, with or without the header of a WAV file.
class PlainFile final : public SampleFileWriter {
public:
    PlainFile(const CompositeSampling& sampling, std::int64_t count, const std::string& path)
        : path_(path),
          part_(path + ".part"),
          format_(sampling.format),
          layout_(layout_of(sampling.format)),
          file_(part_, std::ios::binary) {
        if (sampling.file == SampleFile::Wav)
            header(count,
                   sampling.header_rate_hz.value_or(static_cast<std::uint32_t>(std::lround(sampling.rate_hz.value()))));
    }

    void put(std::span<const float> samples) override {
        bytes_.resize(samples.size() * static_cast<std::size_t>(layout_.bytes));
        if (format_ == SampleFormat::F32)
            std::memcpy(bytes_.data(), samples.data(), bytes_.size());
        else if (layout_.bytes == 1)
            fill<std::uint8_t>(samples);
        else
            fill<std::uint16_t>(samples);
        file_.write(bytes_.data(), static_cast<std::streamsize>(bytes_.size()));
    }

    void finish() override {
        file_.close();
        if (!file_) {
            std::error_code ignored;
            std::filesystem::remove(part_, ignored);
            throw InputError(path_, "can't be written", "check the folder and the space in it");
        }
        std::filesystem::rename(part_, path_);
    }

private:
    template <typename T>
    void fill(std::span<const float> samples) {
        for (std::size_t n = 0; n < samples.size(); ++n) {
            const float code = std::clamp(samples[n] * layout_.scale + layout_.offset, layout_.low, layout_.high);
            const auto value = static_cast<T>(static_cast<int>(code + (code < 0 ? -0.5F : 0.5F)));
            std::memcpy(bytes_.data() + n * sizeof(T), &value, sizeof value);
        }
    }

    void number(std::uint32_t value, int bytes) {
        for (int i = 0; i < bytes; ++i) file_.put(static_cast<char>(value >> (8U * static_cast<unsigned>(i))));
    }

    void header(std::int64_t count, std::uint32_t rate_hz) {
        constexpr std::uint32_t header_bytes = 44;
        const auto frame = static_cast<std::uint32_t>(layout_.bytes);
        const std::int64_t bytes = count * layout_.bytes;
        if (bytes > std::int64_t{0xFFFFFFFF} - header_bytes)
            throw InputError(path_, "is longer than a WAV file can be", "write samples alone: file = \"raw\"");
        file_ << "RIFF";
        number(header_bytes - 8 + static_cast<std::uint32_t>(bytes), 4);
        file_ << "WAVEfmt ";
        number(16, 4), number(format_ == SampleFormat::F32 ? 3 : 1, 2), number(1, 2);
        number(rate_hz, 4), number(rate_hz * frame, 4), number(frame, 2), number(8 * frame, 2);
        file_ << "data";
        number(static_cast<std::uint32_t>(bytes), 4);
    }

    std::string path_, part_;
    SampleFormat format_;
    Layout layout_;
    std::ofstream file_;
    std::vector<char> bytes_;
};

}  // namespace

std::unique_ptr<SampleFileWriter> open_sample_file(const CompositeSampling& sampling, std::int64_t count,
                                                   const std::string& path) {
    if (sampling.file != SampleFile::Flac) return std::make_unique<PlainFile>(sampling, count, path);
    // FLAC's header can't hold such rates: as the practice is, it says so many kHz.
    constexpr double scale = 1000;
    const auto rate = static_cast<std::uint32_t>(std::lround(sampling.rate_hz.value() / scale));
    return open_flac_file(sampling.header_rate_hz.value_or(rate), path);
}

std::string to_string(SampleFormat format) {
    switch (format) {
        case SampleFormat::U8:
            return "u8";
        case SampleFormat::S8:
            return "s8";
        case SampleFormat::U16:
            return "u16";
        case SampleFormat::S16:
            return "s16";
        case SampleFormat::F32:
            break;
    }
    return "f32";
}

}  // namespace guardband::testsignal
