#pragma once

#include "calc/shuttle.h"
#include "calc/track_playback.h"
#include "calc/working.h"

namespace guardband::calc {

/// How the geometry of a mode's tracks and its wavelengths were got.
Working track_working(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

/// How the wavelengths alone were got.
Working carriers_working(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

/// How the answer on another machine's head was got.
Working playback_working(const Playback& answer);

/// How the number of noise bars was got.
Working shuttle_working(const Shuttle& answer, const TrackFacts& facts);

}  // namespace guardband::calc
