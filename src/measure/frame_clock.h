#pragma once

#include <cstdint>

#include "media/clip.h"

namespace guardband::measure {

/// Times of frames for people: seconds since the first frame that was read. Frames without a time stamp get the last
/// known time.
class FrameClock {
public:
    explicit FrameClock(const quantity::Rational& time_base) : tick_s_(time_base.value()) {}

    double time_s(const media::Frame& frame) {
        if (!frame.pts) return last_s_;
        if (!started_) started_ = true, first_pts_ = *frame.pts;
        // In doubles: the difference of two absurd stamps may not fit 64 bits.
        return last_s_ = (static_cast<double>(*frame.pts) - static_cast<double>(first_pts_)) * tick_s_;
    }

private:
    double tick_s_;
    double last_s_ = 0;
    bool started_ = false;
    std::int64_t first_pts_ = 0;
};

}  // namespace guardband::measure
