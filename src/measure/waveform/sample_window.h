#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace guardband::measure {

/// The latest stretch of a stream of samples, addressed by their place in the whole stream. Memory is bounded by what
/// its user keeps.
class SampleWindow {
public:
    std::int64_t first() const { return first_; }
    std::int64_t end() const { return first_ + static_cast<std::int64_t>(samples_.size()) - skipped_; }
    bool holds(std::int64_t from, std::int64_t to) const { return from >= first_ && to <= end() && from <= to; }

    /// @param sign  what each sample is multiplied by: −1 turns an inverted signal the right way round
    void append(std::span<const float> samples, float sign);
    /// Samples before this place are no longer wanted.
    void drop_before(std::int64_t place);

    /// `count` samples from a place on; only where `holds`.
    std::span<const float> at(std::int64_t from, std::int64_t count) const {
        return {samples_.data() + skipped_ + (from - first_), static_cast<std::size_t>(count)};
    }

private:
    std::vector<float> samples_;
    std::int64_t skipped_ = 0;  ///< samples at the front of the store that are no longer wanted
    std::int64_t first_ = 0;
};

}  // namespace guardband::measure
