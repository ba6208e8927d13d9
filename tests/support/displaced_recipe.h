#pragma once

#include <functional>

#include "testsignal/recipe.h"

namespace guardband::support {

/// A clip of 1.2 s with blanking at both edges whose lines the changes displace.
inline testsignal::Recipe displaced(const std::function<void(testsignal::Recipe&)>& change) {
    testsignal::Recipe r;
    r.duration_s = 1.2;
    r.noise.snr_db = 40;
    r.blanking.emplace();
    r.time_base.emplace();
    change(r);
    return r;
}

}  // namespace guardband::support
