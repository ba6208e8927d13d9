#include "measure/clip/codec_loss.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace guardband::measure {
namespace {

constexpr double of_method_ns = 1, share_of_method = 0.01;

/// Lossy codecs as libavcodec names them and by the table's ids; some are another codec in 4:2:2.
struct NamedCodec {
    std::string_view libavcodec, id, id_of_422;
};
constexpr std::array named_codecs{NamedCodec{"dvvideo", "dv25", "dv50"}, NamedCodec{"mpeg2video", "mpeg2", "mpeg2-422"},
                                  NamedCodec{"h264", "h264", "h264"}, NamedCodec{"prores", "prores", "prores"}};

/// The table's id; empty for codecs that aren't among these.
std::string_view codec_id(const media::ClipInfo& info) {
    const auto* const named = std::ranges::find(named_codecs, info.codec, &NamedCodec::libavcodec);
    if (named == named_codecs.end()) return {};
    const bool is_422 = info.picture.chroma_shift_x == 1 && info.picture.chroma_shift_y == 0;
    return is_422 ? named->id_of_422 : named->id;
}

/// What the table knows of the file's codec; nothing if it isn't in it.
const table::Facts* codec_facts(const media::ClipInfo& info, const table::Table& table) {
    const auto codec = std::ranges::find(table.codecs, codec_id(info), &table::Codec::id);
    return codec == table.codecs.end() ? nullptr : &codec->facts;
}

}  // namespace

double codec_edge_error(const media::ClipInfo& info, const table::Table& table) {
    const table::Facts* facts = codec_facts(info, table);
    const table::Fact* error = facts == nullptr ? nullptr : facts->known("edge_error");
    return error == nullptr ? 0 : error->in("");
}

std::optional<CodecLoss> known_codec_loss(const media::ClipInfo& info, const table::Table& table) {
    const table::Facts* facts = codec_facts(info, table);
    if (facts == nullptr) return std::nullopt;
    const table::Fact* taken = facts->known("jitter_taken");
    const table::Fact* from = facts->known("jitter_taken_from");
    const table::Fact* rounding = facts->known("jitter_rounding");
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
