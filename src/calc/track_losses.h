#pragma once

#include <optional>
#include <vector>

#include "calc/track_carriers.h"
#include "calc/working.h"

namespace guardband::calc {

/// What a head loses of a mode's carriers is worked out from these; what is absent is left out.
struct LossQuery {
    std::optional<Input> spacing_um, gap_um, thickness_um, error_angle_deg;
    std::optional<Input> width_um;  ///< that is read; needed with an angle
};

/// Losses at one carrier, dB, positive.
struct CarrierLosses {
    Carrier carrier;
    std::optional<quantity::Figure> spacing_db, gap_db, thickness_db, azimuth_db;
    quantity::Figure total_db;
};

/// Losses at every carrier that the table gives of a mode.
std::vector<CarrierLosses> losses_at_carriers(const table::Table& table, const table::TapeFormat& format,
                                              const table::Mode& mode, const LossQuery& query);

/// How they were got: each formula once, with its results in the order of the carriers.
Working losses_working(const std::vector<CarrierLosses>& losses, const LossQuery& query);

}  // namespace guardband::calc
