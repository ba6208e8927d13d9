#include "measure/clip/tv_system.h"

#include <fmt/format.h>

#include "measure/clip/scanning_match.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

Figure tv_system(const ClipContext& context) {
    const media::PictureFormat& picture = context.info.picture;
    if (!is_television_raster(context.table, picture.height))
        return Figure::unknown(
            fmt::format("a picture of {}×{} is no raster of a scanning standard", picture.width, picture.height));
    const auto rate = context.stamps.frame_rate();
    if (!rate) return Figure::unknown("the frame rate is not known");
    const ScanningMatch match = match_scanning(context.table, picture.height, rate->hz);
    if (match.scanning == nullptr)
        return Figure::unknown(
            fmt::format("{}×{} at {:.3f} frames/s fits no scanning standard", picture.width, picture.height, rate->hz));
    Figure figure = Figure::text(match.scanning->id);
    if (match.frame_per_field) figure.with_note("each frame carries one field");
    return figure;
}

}  // namespace

void TvSystem::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("tv_system", tv_system(context_));
}

}  // namespace guardband::measure
