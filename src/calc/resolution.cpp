#include "calc/resolution.h"

#include "quantity/errors.h"

namespace guardband::calc {

double active_line_us(double line_rate_hz, double line_blanking_us) {
    const double period_us = 1e6 / line_rate_hz;
    if (!(line_blanking_us >= 0 && line_blanking_us < period_us))
        throw quantity::DomainError("line blanking must be shorter than the line");
    return period_us - line_blanking_us;
}

double tvl_per_mhz(double active_us, double aspect) {
    if (!(active_us > 0 && aspect > 0)) throw quantity::DomainError("active line and aspect must be above 0");
    return 2 * active_us / aspect;
}

}  // namespace guardband::calc
