#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace guardband::measure {

/// Something that happened once, or again and again within a short stretch.
struct Occurrence {
    double time_s = 0;       ///< of the first, from the start of what was read
    double end_s = 0;        ///< of the last
    std::int64_t frame = 0;  ///< of the first
    std::int64_t last_frame = 0;
    std::int64_t count = 0;  ///< how many frames or fields it concerns, all told
    double largest = 0;      ///< of what was noted with it, the value of greatest magnitude; the unit is the user's
};

/// Keeps occurrences of one kind, joins those that follow one another closely, and keeps a bounded number whatever a
/// clip holds: when it is full, the last one takes in what follows.
class EventLog {
public:
    /// @param join_within  occurrences at most this many frames apart become one; 0 keeps all apart
    explicit EventLog(std::int64_t join_within, std::size_t capacity = 1000)
        : join_within_(join_within), capacity_(capacity) {
        occurrences_.reserve(capacity_ < 16 ? capacity_ : 16);
    }

    /// Frames must come in order.
    void note(std::int64_t frame, double time_s, std::int64_t count = 1, double value = 0);

    const std::vector<Occurrence>& all() const { return occurrences_; }
    /// Sum of all counts.
    std::int64_t total() const { return total_; }

private:
    std::int64_t join_within_;
    std::size_t capacity_;
    std::int64_t total_ = 0;
    std::vector<Occurrence> occurrences_;
};

}  // namespace guardband::measure
