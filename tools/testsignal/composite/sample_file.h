#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>

#include "testsignal/composite/recipe.h"

namespace guardband::testsignal {

/// A file of one channel of samples that is being written. What is there under its name is whole: it is written as
/// `.part` and renamed.
class SampleFileWriter {
public:
    virtual ~SampleFileWriter() = default;
    /// @param samples  shares of full scale; beyond ±1 they are cut
    virtual void put(std::span<const float> samples) = 0;
    virtual void finish() = 0;
};

/// @param count  samples that will be put: WAV and FLAC say so in their headers
/// @throws quantity::InputError if the file can't be written or can't hold so many
std::unique_ptr<SampleFileWriter> open_sample_file(const CompositeSampling& sampling, std::int64_t count,
                                                   const std::string& path);

std::unique_ptr<SampleFileWriter> open_flac_file(std::uint32_t header_rate_hz, const std::string& path);

/// `u8` and so on.
std::string to_string(SampleFormat format);

}  // namespace guardband::testsignal
