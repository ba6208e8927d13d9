#include "media/frame_queue.h"

namespace guardband::media {
namespace {

/// Enough that neither side waits for the other's hiccups; few enough that frames are still in cache when they are
/// taken.
constexpr std::size_t most_frames = 4;
/// Of huge pictures fewer wait, but always one.
constexpr std::size_t most_bytes = std::size_t{256} << 20;
/// Of sound: minutes, so that a container that interleaves it coarsely does not hold the pictures up.
constexpr std::size_t most_sound_bytes = std::size_t{64} << 20;

std::size_t size_of(const Frame& frame) {
    std::size_t bytes = 0;
    for (const Plane& plane : frame.planes)
        bytes += static_cast<std::size_t>(plane.width) * static_cast<std::size_t>(plane.height) *
                 (frame.format.bit_depth > 8 ? 2 : 1);
    return bytes;
}

std::size_t size_of(const SoundBlock& sound) {
    return sound.channels.empty() ? 0 : sound.channels.size() * sound.channels.front().size() * sizeof(float);
}

std::size_t size_of(const Passage& passage) {
    return std::visit([](const auto& one) { return size_of(one); }, passage);
}

}  // namespace

bool FrameQueue::has_room(const Passage& passage, std::size_t bytes) const {
    if (abandoned_ || passages_.empty()) return true;
    if (std::holds_alternative<SoundBlock>(passage)) return sound_bytes_ + bytes <= most_sound_bytes;
    return frames_ == 0 || (frames_ < most_frames && frame_bytes_ + bytes <= most_bytes);
}

bool FrameQueue::push(Passage passage) {
    const std::size_t size = size_of(passage);
    std::unique_lock lock(mutex_);
    room_.wait(lock, [&] { return has_room(passage, size); });
    if (abandoned_) return false;
    if (std::holds_alternative<Frame>(passage))
        ++frames_, frame_bytes_ += size;
    else
        sound_bytes_ += size;
    passages_.push_back(std::move(passage));
    arrival_.notify_one();
    return true;
}

std::size_t FrameQueue::sound_bytes() const {
    const std::lock_guard lock(mutex_);
    return sound_bytes_;
}

void FrameQueue::finish(std::exception_ptr failure) {
    const std::lock_guard lock(mutex_);
    finished_ = true;
    failure_ = std::move(failure);
    arrival_.notify_one();
}

std::optional<Passage> FrameQueue::pop() {
    std::unique_lock lock(mutex_);
    arrival_.wait(lock, [&] { return !passages_.empty() || finished_; });
    if (passages_.empty()) {
        if (failure_) std::rethrow_exception(std::exchange(failure_, nullptr));
        return std::nullopt;
    }
    Passage passage = std::move(passages_.front());
    passages_.pop_front();
    const std::size_t size = size_of(passage);
    if (std::holds_alternative<Frame>(passage))
        --frames_, frame_bytes_ -= size;
    else
        sound_bytes_ -= size;
    room_.notify_one();
    return passage;
}

void FrameQueue::abandon() {
    const std::lock_guard lock(mutex_);
    abandoned_ = true;
    room_.notify_all();
}

}  // namespace guardband::media
