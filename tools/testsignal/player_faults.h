#pragma once

#include <cstdint>

#include "testsignal/picture.h"
#include "testsignal/recipe.h"

namespace guardband::testsignal {

/// What the machine shows instead of the tape's picture, and what the tape's noise covers. Applied to the signal of one
/// field, before noise is added.
class PlayerFaults {
public:
    explicit PlayerFaults(const Recipe& recipe) : recipe_(recipe) {}

    /// @param source_field  number in the order of time, before any frames were taken out
    void apply(std::int64_t source_field, Picture& picture) const;

    /// Whether the frame is one that the player draws, without the tape's noise.
    bool is_drawn(std::int64_t source_frame) const;

private:
    void cover_band(std::int64_t source_field, Picture& picture) const;
    void roll(std::int64_t source_field, Picture& picture) const;
    double time_s(std::int64_t source_field) const;

    Recipe recipe_;
};

}  // namespace guardband::testsignal
