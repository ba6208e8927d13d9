#include "calc/counter.h"

#include <cmath>
#include <limits>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using std::numbers::pi;

constexpr double rounding = 1e-12;  // by which the end of a supply reel's curve may be missed

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

void require_reel(double diameter_mm, double tape_speed_mm_s) {
    require(diameter_mm > 0, "a reel's diameter must be above 0");
    require(tape_speed_mm_s > 0, "a tape's speed must be above 0");
}

}  // namespace

CounterCurve counter_curve(CountedReel reel, double counts_per_turn, double diameter_mm, double thickness_um,
                           double tape_speed_mm_s) {
    require(counts_per_turn > 0, "counts a turn must be above 0");
    require_reel(diameter_mm, tape_speed_mm_s);
    require(thickness_um > 0, "a tape's thickness must be above 0");
    const double bend = thickness_um / 1e3 * tape_speed_mm_s / (pi * diameter_mm * diameter_mm);
    return {pi * diameter_mm / (counts_per_turn * tape_speed_mm_s), reel == CountedReel::TakeUp ? bend : -bend};
}

double counts_per_turn(const CounterCurve& curve, double diameter_mm, double tape_speed_mm_s) {
    require_reel(diameter_mm, tape_speed_mm_s);
    require(curve.start_s > 0, "a counter must advance");
    return pi * diameter_mm / (curve.start_s * tape_speed_mm_s);
}

double thickness_of_curve_um(const CounterCurve& curve, double diameter_mm, double tape_speed_mm_s) {
    require_reel(diameter_mm, tape_speed_mm_s);
    return std::abs(curve.bend_per_s) * pi * diameter_mm * diameter_mm / tape_speed_mm_s * 1e3;
}

double counter_time_s(const CounterCurve& curve, double reading) {
    require(reading >= 0, "a counter's reading can't be negative");
    require(reading <= highest_reading(curve) * (1 + rounding), "so many turns would leave nothing on the supply reel");
    const double straight_s = curve.start_s * reading;
    return straight_s * (1 + curve.bend_per_s * straight_s);
}

double counter_reading(const CounterCurve& curve, double time_s) {
    require(time_s >= 0, "a time can't be negative");
    const double under_root = 1 + 4 * curve.bend_per_s * time_s;
    require(under_root >= -rounding, "so much time would leave nothing on the supply reel");
    return 2 * time_s / (curve.start_s * (1 + std::sqrt(std::fmax(0, under_root))));
}

double seconds_per_count(const CounterCurve& curve, double reading) {
    return curve.start_s * (1 + 2 * curve.bend_per_s * curve.start_s * reading);
}

double highest_reading(const CounterCurve& curve) {
    if (curve.bend_per_s >= 0) return std::numeric_limits<double>::infinity();
    return -1 / (2 * curve.bend_per_s * curve.start_s);
}

}  // namespace guardband::calc
