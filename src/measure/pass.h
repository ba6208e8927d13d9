#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "media/clip.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

/// What one pass over a clip found.
struct ClipReport {
    media::ClipInfo info;
    std::int64_t frames = 0;              ///< seen
    quantity::Figures figures;            ///< in the registry's order
    std::vector<quantity::Event> events;  ///< in the order of time
    std::string trouble;                  ///< why the clip ended early, one line; empty if it didn't
};

/// How far a pass has come.
struct PassProgress {
    std::int64_t frames = 0;       ///< seen
    double time_s = 0;             ///< of the last frame, from the first one's on
    std::uint64_t bytes_read = 0;  ///< of `ClipInfo::file_bytes`
    double frames_per_s = 0;       ///< of work, since the pass began
    std::chrono::duration<double> elapsed{0};
};

struct PassOptions {
    std::function<void(const PassProgress&)> progress;  ///< may be empty
    std::chrono::milliseconds progress_interval{100};   ///< at most one call in this time
    int threads = 0;  ///< that measure; 0 chooses by the number of processors. What is found doesn't depend on it.
};

/// Reads a clip to its end, once, and shows each frame to every measurement of the registry while it is in cache.
/// Memory does not grow with the clip's length. @throws InputError if the clip can't be read on
ClipReport measure_clip(media::ClipReader& clip, const table::Table& table, const PassOptions& options = {});

}  // namespace guardband::measure
