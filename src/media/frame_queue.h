#pragma once

#include <condition_variable>
#include <deque>
#include <exception>
#include <mutex>
#include <optional>
#include <utility>
#include <variant>

#include "media/clip.h"

namespace guardband::media {

/// What a clip's reader hands over: a picture, or sound that lies before the next one.
using Passage = std::variant<Frame, SoundBlock>;

/// A short queue of frames and sound from the thread that decodes to the one that measures, so that both work at once.
/// Ends in one of three ways: the producer finishes, the producer fails, the consumer loses interest.
class FrameQueue {
public:
    /// Waits for room. @returns false if nobody wants frames any more
    bool push(Passage passage);

    /// Sound that waits, bytes.
    std::size_t sound_bytes() const;

    /// No more frames will come. @param failure  what `pop` throws once the frames before it are taken; may be null
    void finish(std::exception_ptr failure = nullptr);

    /// Waits for the next passage. @returns nothing at the end @throws the producer's failure
    std::optional<Passage> pop();

    /// The consumer wants no more: wakes a producer that waits for room.
    void abandon();

private:
    bool has_room(const Passage& passage, std::size_t bytes) const;

    mutable std::mutex mutex_;
    std::condition_variable room_, arrival_;
    std::deque<Passage> passages_;
    std::size_t frames_ = 0, frame_bytes_ = 0, sound_bytes_ = 0;
    bool finished_ = false, abandoned_ = false;
    std::exception_ptr failure_;
};

}  // namespace guardband::media
