#pragma once

#include <optional>
#include <vector>

#include "measure/clip_measurement.h"
#include "measure/interlace_evidence.h"
#include "measure/picture_gaps.h"
#include "measure/repeat_evidence.h"
#include "measure/stamp_evidence.h"
#include "support/built_in_table.h"

namespace guardband::support {

/// Evidence as a test sets it.
class SetEvidence final : public measure::InterlaceEvidence,
                          public measure::StampEvidence,
                          public measure::PictureGaps,
                          public measure::RepeatEvidence {
public:
    Scan scan_value = Scan::Unknown;
    Order order_value = Order::Unknown;
    std::optional<measure::MeasuredRate> rate_value;
    std::vector<measure::StampGap> stamp_gap_list;
    std::vector<measure::PictureGap> picture_gap_list;
    std::vector<measure::RepeatedStretch> repeat_list;

    Scan scan() const override { return scan_value; }
    Order order() const override { return order_value; }
    std::optional<measure::MeasuredRate> frame_rate() const override { return rate_value; }
    std::span<const measure::StampGap> stamp_gaps() const override { return stamp_gap_list; }
    std::span<const measure::PictureGap> gaps() const override { return picture_gap_list; }
    std::span<const measure::RepeatedStretch> repeated_stretches() const override { return repeat_list; }
};

/// What a measurement needs around it when it is tested alone: a clip's headers, the table and evidence.
struct MadeContext {
    media::ClipInfo info;
    table::Table table = built_in();
    SetEvidence evidence;
    measure::ClipContext context{info, table, evidence, evidence, evidence, evidence};

    MadeContext() = default;
    MadeContext(const MadeContext&) = delete;
    MadeContext& operator=(const MadeContext&) = delete;
};

}  // namespace guardband::support
