#pragma once

#include <optional>
#include <vector>

#include "measure/waveform/colour_system.h"
#include "measure/waveform/field_count.h"
#include "measure/waveform/sync_survey.h"
#include "media/sound.h"
#include "table/table.h"

namespace guardband::measure {

/// What a first look at a recording tells of it.
struct FirstLook {
    SyncShape sync;
    const table::Scanning* scanning = nullptr;  ///< nullptr: fits none
    std::optional<int> lines_per_frame;
    double line_hz = 0;  ///< about
    ColourFinding colour;
};

/// What a stretch of samples shows; nothing if it holds no line sync.
std::optional<FirstLook> look_at(const std::vector<float>& stretch, const media::SoundInfo& info,
                                 const table::Table& table);

/// Reads until a stretch of a quarter of a second shows line sync, and looks at that stretch.
/// @throws InputError if no stretch does, saying what there is instead and, if the sampling rate must be wrong, what it
/// may be
FirstLook first_look(media::SoundReader& samples, std::size_t channel, const table::Table& table);

}  // namespace guardband::measure
