#include "dsp/maximum.h"

#include <numbers>

#include "quantity/errors.h"

namespace guardband::dsp {

double maximum_place(const std::function<double(double)>& function, double low, double high, double tolerance) {
    if (!(low < high) || !(tolerance > 0)) {
        throw quantity::DomainError("the search for a maximum needs a bracket and a tolerance above 0");
    }
    constexpr double share = 1 / std::numbers::phi;
    double left = high - share * (high - low), right = low + share * (high - low);
    double at_left = function(left), at_right = function(right);
    while (high - low > 2 * tolerance) {
        if (at_left > at_right) {
            high = right, right = left, at_right = at_left;
            left = high - share * (high - low), at_left = function(left);
        } else {
            low = left, left = right, at_left = at_right;
            right = low + share * (high - low), at_right = function(right);
        }
        if (!(low < left && left < right && right < high)) break;  // the bracket is as narrow as doubles can hold
    }
    return 0.5 * (low + high);
}

double parabola_offset(double before, double middle, double after) {
    const double bend = before - 2 * middle + after;
    return bend == 0 ? 0 : 0.5 * (before - after) / bend;
}

}  // namespace guardband::dsp
