#include "measure/clip/codec_loss.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr double of_method_ns = 1, share_of_method = 0.01;
/// What DV takes, with its uncertainty, and from what size on nearly all of that.
constexpr double dv_takes_ns = 3, dv_uncertain_ns = 1.2, dv_from_ns = 6;
/// What its rounding errs by, which both edges of a line may have in common.
constexpr double of_dv_ns = 1.5;

}  // namespace

/// 4:2:2 is that of 50 Mbit/s, of which nothing is known.
bool codec_takes_known_part(const media::ClipInfo& info) {
    const bool is_422 = info.picture.chroma_shift_x == 1 && info.picture.chroma_shift_y == 0;
    return info.codec == "dvvideo" && !is_422;
}

Estimated beside_method_and_codec(const Estimated& found_ns, double rough_ns, const media::ClipInfo& info) {
    Estimated out = found_ns;
    out.error = std::hypot(out.error, of_method_ns, share_of_method * found_ns.value);
    if (!codec_takes_known_part(info)) return out;
    out.error = std::hypot(out.error, of_dv_ns);
    const double share = -std::expm1(-rough_ns / dv_from_ns), whole_ns = rough_ns + dv_takes_ns * share;
    out.value = std::sqrt(found_ns.value * found_ns.value + whole_ns * whole_ns - rough_ns * rough_ns);
    if (out.value > 0) out.error = std::hypot(out.error, dv_uncertain_ns * share * std::min(1.0, whole_ns / out.value));
    return out;
}

}  // namespace guardband::measure
