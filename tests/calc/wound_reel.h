#pragma once

#include <cmath>
#include <numbers>
#include <vector>

namespace guardband::support {

/// A take-up reel wound turn by turn, each turn a circle through the middle of the tape, with a counter on it: what a
/// counter's curve is held against. Knows nothing of its formula.
class WoundReel {
public:
    WoundReel(double length_m, double hub_mm, double thickness_um) {
        double radius_mm = hub_mm / 2;
        wound_mm_.push_back(0);
        while (wound_mm_.back() < length_m * 1e3) {
            wound_mm_.push_back(wound_mm_.back() + 2 * std::numbers::pi * (radius_mm + thickness_um / 2e3));
            radius_mm += thickness_um / 1e3;
        }
    }

    /// Turns, with the part of the last one, after so much time.
    double turns_at(double seconds, double speed_mm_s) const {
        const double wound = seconds * speed_mm_s;
        std::size_t turn = 0;
        while (turn + 2 < wound_mm_.size() && wound_mm_[turn + 1] <= wound) ++turn;
        return static_cast<double>(turn) + (wound - wound_mm_[turn]) / (wound_mm_[turn + 1] - wound_mm_[turn]);
    }

    /// The same for a counter on the supply reel, which holds the whole length at the start.
    double supply_turns_at(double seconds, double speed_mm_s, double length_m) const {
        const double all = turns_at(length_m * 1e3 / speed_mm_s, speed_mm_s);
        return all - turns_at(length_m * 1e3 / speed_mm_s - seconds, speed_mm_s);
    }

private:
    std::vector<double> wound_mm_;  ///< after so many whole turns
};

}  // namespace guardband::support
