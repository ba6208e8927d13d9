#include "measure/clip/field_rate.h"

#include "measure/clip/scanning_match.h"
#include "measure/interlace_evidence.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

Figure times(const MeasuredRate& rate, int fields_per_frame) {
    return Figure::measured(rate.hz * fields_per_frame, rate.uncertainty_hz * fields_per_frame, "Hz");
}

Figure field_rate(const ClipContext& context) {
    const auto rate = context.stamps.frame_rate();
    if (!rate) return Figure::unknown("the frame rate is not known");
    const int height = context.info.picture.height;
    if (match_scanning(context.table, height, rate->hz).frame_per_field)
        return times(*rate, 1).with_note("each frame carries one field");
    using enum InterlaceEvidence::Scan;
    const auto scan = context.interlace.scan();
    if (scan == Interlaced || scan == Mixed) return times(*rate, 2);
    if (is_television_raster(context.table, height))
        return times(*rate, 2).with_note("two fields to a frame, as this raster carries them");
    return Figure::unknown(scan == Progressive ? "the pictures are progressive and of no television raster"
                                               : "the scan is not known and the raster is none of television's");
}

}  // namespace

void FieldRate::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("field_rate", field_rate(context_));
}

}  // namespace guardband::measure
