#include "calc/pack.h"

#include <cmath>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using std::numbers::pi;

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

void require_hub(double hub_mm) { require(hub_mm > 0, "a hub's diameter must be above 0"); }
void require_thickness(double thickness_um) { require(thickness_um > 0, "a tape's thickness must be above 0"); }
void require_speed(double mm_s) { require(mm_s > 0, "a tape's speed must be above 0"); }
void require_length(double length_m) { require(length_m >= 0, "a tape's length can't be negative"); }

/// Area of the wound ring, mm². Written as a product, so that a nearly empty hub loses no digits.
double ring_mm2(double outer_mm, double hub_mm) {
    require_hub(hub_mm);
    require(outer_mm >= hub_mm, "a pack can't be smaller than its hub");
    return pi / 4 * (outer_mm - hub_mm) * (outer_mm + hub_mm);
}

}  // namespace

double pack_length_m(double outer_mm, double hub_mm, double thickness_um) {
    require_thickness(thickness_um);
    return ring_mm2(outer_mm, hub_mm) / thickness_um;  // 1 mm² / 1 µm = 1 m
}

double pack_outer_mm(double length_m, double hub_mm, double thickness_um) {
    require_hub(hub_mm), require_thickness(thickness_um), require_length(length_m);
    return std::sqrt(hub_mm * hub_mm + 4 / pi * length_m * thickness_um);
}

double pack_hub_mm(double outer_mm, double length_m, double thickness_um) {
    require_thickness(thickness_um), require_length(length_m);
    const double hub_mm2 = outer_mm * outer_mm - 4 / pi * length_m * thickness_um;
    require(outer_mm > 0 && hub_mm2 > 0, "so much tape leaves no room for a hub");
    return std::sqrt(hub_mm2);
}

double pack_thickness_um(double outer_mm, double hub_mm, double length_m) {
    require(length_m > 0, "a tape's length must be above 0");
    return ring_mm2(outer_mm, hub_mm) / length_m;
}

double pack_turns(double outer_mm, double hub_mm, double thickness_um) {
    require_hub(hub_mm), require_thickness(thickness_um);
    require(outer_mm >= hub_mm, "a pack can't be smaller than its hub");
    return (outer_mm - hub_mm) / (2 * thickness_um / 1e3);
}

double turns_length_m(double turns, double hub_mm, double thickness_um) {
    require_hub(hub_mm), require_thickness(thickness_um);
    require(turns >= 0, "turns can't be negative");
    return pi * turns * (hub_mm + turns * thickness_um / 1e3) / 1e3;
}

double turns_of_length(double length_m, double hub_mm, double thickness_um) {
    return pack_turns(pack_outer_mm(length_m, hub_mm, thickness_um), hub_mm, thickness_um);
}

double reel_turns_per_s(double outer_mm, double tape_speed_mm_s) {
    require(outer_mm > 0, "a pack's diameter must be above 0");
    require_speed(tape_speed_mm_s);
    return tape_speed_mm_s / (pi * outer_mm);
}

double pack_outer_of_reel_mm(double turns_per_s, double tape_speed_mm_s) {
    require(turns_per_s > 0, "a turning reel has a speed above 0");
    require_speed(tape_speed_mm_s);
    return tape_speed_mm_s / (pi * turns_per_s);
}

}  // namespace guardband::calc
