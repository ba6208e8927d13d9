#include "media/frame_queue.h"

namespace guardband::media {
namespace {

/// Enough that neither side waits for the other's hiccups; few enough that frames are still in cache when they are
/// taken.
constexpr std::size_t most_frames = 4;
/// Of huge pictures fewer wait, but always one.
constexpr std::size_t most_bytes = std::size_t{256} << 20;

std::size_t size_of(const Frame& frame) {
    std::size_t bytes = 0;
    for (const Plane& plane : frame.planes)
        bytes += static_cast<std::size_t>(plane.width) * static_cast<std::size_t>(plane.height) *
                 (frame.format.bit_depth > 8 ? 2 : 1);
    return bytes;
}

}  // namespace

bool FrameQueue::push(Frame frame) {
    const std::size_t size = size_of(frame);
    std::unique_lock lock(mutex_);
    room_.wait(lock, [&] {
        return abandoned_ || frames_.empty() || (frames_.size() < most_frames && bytes_ + size <= most_bytes);
    });
    if (abandoned_) return false;
    frames_.push_back(std::move(frame));
    bytes_ += size;
    arrival_.notify_one();
    return true;
}

void FrameQueue::finish(std::exception_ptr failure) {
    const std::lock_guard lock(mutex_);
    finished_ = true;
    failure_ = std::move(failure);
    arrival_.notify_one();
}

std::optional<Frame> FrameQueue::pop() {
    std::unique_lock lock(mutex_);
    arrival_.wait(lock, [&] { return !frames_.empty() || finished_; });
    if (frames_.empty()) {
        if (failure_) std::rethrow_exception(std::exchange(failure_, nullptr));
        return std::nullopt;
    }
    Frame frame = std::move(frames_.front());
    frames_.pop_front();
    bytes_ -= size_of(frame);
    room_.notify_one();
    return frame;
}

void FrameQueue::abandon() {
    const std::lock_guard lock(mutex_);
    abandoned_ = true;
    room_.notify_all();
}

}  // namespace guardband::media
