#pragma once

#include <condition_variable>
#include <deque>
#include <exception>
#include <mutex>
#include <optional>
#include <utility>

#include "media/clip.h"

namespace guardband::media {

/// A short queue of frames from the thread that decodes to the one that measures, so that both work at once. Ends in
/// one of three ways: the producer finishes, the producer fails, the consumer loses interest.
class FrameQueue {
public:
    /// Waits for room. @returns false if nobody wants frames any more
    bool push(Frame frame);

    /// No more frames will come. @param failure  what `pop` throws once the frames before it are taken; may be null
    void finish(std::exception_ptr failure = nullptr);

    /// Waits for a frame. @returns nothing at the end @throws the producer's failure
    std::optional<Frame> pop();

    /// The consumer wants no more: wakes a producer that waits for room.
    void abandon();

private:
    std::mutex mutex_;
    std::condition_variable room_, arrival_;
    std::deque<Frame> frames_;
    std::size_t bytes_ = 0;
    bool finished_ = false, abandoned_ = false;
    std::exception_ptr failure_;
};

}  // namespace guardband::media
