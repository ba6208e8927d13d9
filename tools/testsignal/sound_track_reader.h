#pragma once

#include "testsignal/section.h"
#include "testsignal/sound_track.h"

namespace guardband::testsignal {

/// Reads the table `[sound_track]` of a clip's recipe. @throws quantity::InputError naming the first fault
SoundTrackSettings read_sound_track(Section section);

}  // namespace guardband::testsignal
