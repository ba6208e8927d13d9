#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "media/clip.h"

namespace guardband::media {

/// Tells which frames belong to the stretch of a clip that was asked for, by their time stamps from the first frame's
/// on.
class Stretch {
public:
    enum class Place { Before, Inside, After };

    /// @param path  for errors
    /// @throws InputError if the start is negative, the duration not above 0, or either not finite
    Stretch(const ReadOptions& options, const std::string& path);

    /// Where the next frame lies. A frame without a time stamp lies where the one before it lay.
    /// @throws InputError if a part is asked for and the first frame has no time stamp
    Place place(std::optional<std::int64_t> pts, const quantity::Rational& time_base);

    /// True if the whole clip was asked for.
    bool is_everything() const { return start_s_ == 0 && !duration_s_; }

private:
    std::string path_;
    double start_s_;
    std::optional<double> duration_s_;
    std::optional<std::int64_t> first_pts_;
    Place place_ = Place::Before;
};

}  // namespace guardband::media
