#include "measure/clip/codec_loss.h"

#include <algorithm>
#include <cmath>
#include <string_view>

namespace guardband::measure {
namespace {

constexpr double of_method_ns = 1, share_of_method = 0.01;

/// The table's id of the codec that libavcodec calls so; empty for others. DV in 4:2:2 is that of 50 Mbit/s.
std::string_view codec_id(const media::ClipInfo& info) {
    const bool is_422 = info.picture.chroma_shift_x == 1 && info.picture.chroma_shift_y == 0;
    return info.codec != "dvvideo" ? "" : is_422 ? "dv50" : "dv25";
}

}  // namespace

std::optional<CodecLoss> known_codec_loss(const media::ClipInfo& info, const table::Table& table) {
    const auto codec = std::ranges::find(table.codecs, codec_id(info), &table::Codec::id);
    if (codec == table.codecs.end()) return std::nullopt;
    const table::Fact* taken = codec->facts.known("jitter_taken");
    const table::Fact* from = codec->facts.known("jitter_taken_from");
    const table::Fact* rounding = codec->facts.known("jitter_rounding");
    if (taken == nullptr || from == nullptr || rounding == nullptr) return std::nullopt;
    return CodecLoss{taken->in("ns"), (taken->highest_in("ns") - taken->lowest_in("ns")) / 2, from->in("ns"),
                     rounding->in("ns")};
}

Estimated beside_method_and_codec(const Estimated& found_ns, double rough_ns, const std::optional<CodecLoss>& loss) {
    Estimated out = found_ns;
    out.error = std::hypot(out.error, of_method_ns, share_of_method * found_ns.value);
    if (!loss) return out;
    out.error = std::hypot(out.error, loss->rounding_ns);
    const double share = -std::expm1(-rough_ns / loss->from_ns), whole_ns = rough_ns + loss->taken_ns * share;
    out.value = std::sqrt(found_ns.value * found_ns.value + whole_ns * whole_ns - rough_ns * rough_ns);
    if (out.value > 0)
        out.error = std::hypot(out.error, loss->taken_error_ns * share * std::min(1.0, whole_ns / out.value));
    return out;
}

}  // namespace guardband::measure
