#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "media/libav.h"
#include "media/sound.h"

namespace guardband::media {

/// Samples of a decoded frame of sound as floats per channel. @param out  one vector per channel, overwritten
/// @returns false for a format of samples that is not known
bool to_floats(const AVFrame& frame, std::vector<std::vector<float>>& out);

/// Which samples of a stream were asked for.
class SampleStretch {
public:
    /// @throws InputError, which names `path`, if start, duration or rate is not finite or out of range
    SampleStretch(const SoundOptions& options, double sample_rate_hz, const std::string& path);

    /// Cuts what was not asked for off samples that follow those given before. @returns false if none is left
    bool cut(std::vector<std::vector<float>>& channels);
    /// True once the samples asked for have all gone by.
    bool is_over() const { return length_ && taken_ >= *length_; }
    std::int64_t seen() const { return seen_; }
    std::int64_t taken() const { return taken_; }
    /// True if all of the stream was asked for.
    bool is_everything() const { return start_ == 0 && !length_; }

private:
    std::int64_t start_ = 0;
    std::optional<std::int64_t> length_;
    std::int64_t seen_ = 0, taken_ = 0;
};

}  // namespace guardband::media
