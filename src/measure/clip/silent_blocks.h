#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// Blocks (16 samples by 8 rows of a field) that are one code without any noise, by that code: those of them that stand
/// in the picture, with something that changes on both sides of them in the same rows, and those beside it, as in bars
/// and in blanking that was put in. Noise that was cut off leaves the former, with codes no darker (or brighter)
/// around.
class SilentBlocks {
public:
    explicit SilentBlocks(std::size_t codes) : inside_(codes), beside_(codes) {}

    /// Fields that repeat another say nothing.
    void see(const FrameFeatures& features);

    std::int64_t inside(std::size_t code) const { return code < inside_.size() ? inside_[code] : 0; }
    std::int64_t beside(std::size_t code) const { return code < beside_.size() ? beside_[code] : 0; }
    std::int64_t all() const { return all_; }  ///< blocks seen, noisy ones too

private:
    void see_row(const FrameFeatures& features, std::size_t parity, int by);

    std::vector<std::int64_t> inside_, beside_;
    std::int64_t all_ = 0;
};

}  // namespace guardband::measure
