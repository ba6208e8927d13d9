#include "measure/registry.h"

#include <algorithm>

#include "measure/clip/clipping.h"
#include "measure/clip/declared_order.h"
#include "measure/clip/dropouts.h"
#include "measure/clip/field_rate.h"
#include "measure/clip/flicker.h"
#include "measure/clip/frame_rate.h"
#include "measure/clip/interlace.h"
#include "measure/clip/line_displacement.h"
#include "measure/clip/luma_levels.h"
#include "measure/clip/picture_jumps.h"
#include "measure/clip/picture_noise.h"
#include "measure/clip/repeated_fields.h"
#include "measure/clip/tv_system.h"
#include "measure/clip/vertical_jitter.h"

namespace guardband::measure {
namespace {

template <typename Measurement>
std::unique_ptr<ClipMeasurement> make(const ClipContext& context) {
    return std::make_unique<Measurement>(context);
}

// One line each. What others ask stands first.
// clang-format off
const std::vector<ClipEntry>& entries() {
    static const std::vector<ClipEntry> all = {
        {Group::Time, {{"frame_rate", "Hz", "frame rate"}, {"missing_frames", "frames", "missing frames"}}, make<FrameRate>},
        {Group::Time, {{"field_rate", "Hz", "field rate"}}, make<FieldRate>},
        {Group::Time, {{"tv_system", "", "TV system"}}, make<TvSystem>},
        {Group::Scan, {{"scan", "", "scan"}, {"field_order", "", "field order"}}, make<Interlace>},
        {Group::Scan, {{"repeated_fields", "fields", "repeated fields"}}, make<RepeatedFields>},
        {Group::Time, {}, make<PictureJumps>},  // for missing_frames
        {Group::Scan, {{"field_order_declared", "", "field order declared"}}, make<DeclaredFieldOrder>},
        {Group::Stability, {{"time_base_error_rms", "ns", "time-base error"}, {"time_base_error_peak", "ns", "its peak"}, {"line_jitter_rms", "ns", "jitter from line to line"}, {"flagging", "ns", "flagging at the top"}, {"head_switch_line", "lines", "head switch before the end"}, {"head_switch_step", "ns", "step at the head switch"}}, make<LineDisplacement>},
        {Group::Stability, {{"vertical_jitter_rms", "lines", "vertical jitter"}}, make<VerticalJitter>},
        {Group::Levels, {{"black_level", "", "black level"}, {"white_level", "", "white level"}}, make<LumaLevels>},
        {Group::Levels, {{"clipped_black", "share", "clipped black"}, {"clipped_white", "share", "clipped white"}}, make<Clipping>},
        {Group::Noise, {{"luma_snr", "dB", "luma over noise"}, {"chroma_snr", "dB", "colour over noise"}}, make<PictureNoise>},
        {Group::Damage, {{"dropouts_per_minute", "", "dropouts in a minute"}, {"dropout_length_median", "µs", "their middle length"}}, make<Dropouts>},
        {Group::Flicker, {{"flicker_frequency", "Hz", "flicker"}, {"flicker_depth", "share", "depth of the flicker"}, {"screen_rate", "Hz", "rate of the screen"}}, make<Flicker>},
    };
    return all;
}
// clang-format on

}  // namespace

std::string_view to_string(Group group) {
    switch (group) {
        case Group::Time:
            return "Time";
        case Group::Scan:
            return "Scan";
        case Group::Stability:
            return "Stability";
        case Group::Levels:
            return "Levels";
        case Group::Noise:
            return "Noise";
        case Group::Damage:
            return "Damage";
        case Group::Flicker:
            break;
    }
    return "Flicker";
}

std::span<const ClipEntry> clip_measurements() { return entries(); }

const FigureTitle* find_title(std::string_view figure_id) {
    for (const ClipEntry& entry : entries())
        if (const auto found = std::ranges::find(entry.figures, figure_id, &FigureTitle::id);
            found != entry.figures.end())
            return &*found;
    return nullptr;
}

}  // namespace guardband::measure
