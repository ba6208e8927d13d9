#pragma once

#include <functional>
#include <memory>
#include <string>

#include "testsignal/clip_maker.h"

namespace guardband::testsignal {

/// Of the sound, if a recipe asks for it: 48 kHz, 16 bit, both channels alike.
constexpr double tone_hz = 1000;

/// The step to which time stamps come out of the file, s: the recipe's rounding or the container's, whichever is
/// coarser; 0 if exact.
double stamp_step_s(const Recipe& recipe);

/// Stops libav from writing to standard error, for the whole process; what goes wrong is thrown.
void silence_libav();

/// Writes frames to a file of the recipe's codec and container through libav. The file is made under a temporary name
/// beside the right one and gets its name in `finish`; without that nothing is left.
class ClipWriter {
public:
    /// @throws quantity::InputError if the file can't be made or the codec refuses the pictures
    ClipWriter(const Recipe& recipe, const std::string& path);
    ~ClipWriter();
    ClipWriter(const ClipWriter&) = delete;
    ClipWriter& operator=(const ClipWriter&) = delete;

    void write(const ClipFrame& frame);
    void finish();

private:
    struct State;
    std::unique_ptr<State> state_;
};

/// Makes a whole clip. @param progress  called after each frame with the frames done and their number
/// @returns the truth about it
Truth write_clip(const Recipe& recipe, const std::string& path,
                 const std::function<void(std::int64_t, std::int64_t)>& progress = {});

}  // namespace guardband::testsignal
