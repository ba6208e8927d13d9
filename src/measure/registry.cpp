#include "measure/registry.h"

#include <algorithm>

#include "measure/clip/active_area.h"
#include "measure/clip/cadence.h"
#include "measure/clip/chroma_delay.h"
#include "measure/clip/clipping.h"
#include "measure/clip/colour_bars.h"
#include "measure/clip/colour_state.h"
#include "measure/clip/declared_order.h"
#include "measure/clip/drawn_picture.h"
#include "measure/clip/dropouts.h"
#include "measure/clip/edge_overshoot.h"
#include "measure/clip/field_rate.h"
#include "measure/clip/flicker.h"
#include "measure/clip/frame_rate.h"
#include "measure/clip/generation_signs.h"
#include "measure/clip/interlace.h"
#include "measure/clip/line_displacement.h"
#include "measure/clip/luma_bandwidth.h"
#include "measure/clip/luma_levels.h"
#include "measure/clip/made_up_lines.h"
#include "measure/clip/noise_band.h"
#include "measure/clip/picture_jumps.h"
#include "measure/clip/picture_noise.h"
#include "measure/clip/repeated_fields.h"
#include "measure/clip/scaling.h"
#include "measure/clip/slips.h"
#include "measure/clip/stored_data_lines.h"
#include "measure/clip/test_pictures.h"
#include "measure/clip/tv_system.h"
#include "measure/clip/vertical_jitter.h"
#include "measure/clip_sound/channel_pair.h"
#include "measure/clip_sound/loudness.h"
#include "measure/clip_sound/sound_bandwidth.h"
#include "measure/clip_sound/sound_length.h"
#include "measure/clip_sound/steady_tones.h"

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
        {Group::History, {{"cadence", "", "cadence"}, {"converted_from", "Hz", "converted from"}}, make<Cadence>},
        {Group::History, {{"made_up_lines", "", "made-up lines"}}, make<MadeUpLines>},
        {Group::History, {{"scaled_from_width", "samples", "width before scaling"}, {"scaled_from_height", "lines", "height before scaling"}}, make<Scaling>},
        {Group::History, {}, make<Slips>},  // events alone, like the next but one
        {Group::Damage, {{"tracking_band", "share", "noise bands"}, {"tracking_band_count", "bands", "bands in a field"}}, make<NoiseBand>},
        {Group::Damage, {{"dropouts_per_minute", "", "dropouts in a minute"}, {"dropout_length_median", "µs", "their middle length"}}, make<Dropouts>},
        {Group::Damage, {}, make<DrawnPicture>},
        {Group::Damage, {}, make<ColourState>},
        {Group::Stability, {{"time_base_error_rms", "ns", "time-base error"}, {"time_base_error_peak", "ns", "its peak"}, {"time_base_error_fixed", "ns", "its fixed part"}, {"time_base_components", "", "its steady motions"}, {"line_jitter_rms", "ns", "jitter from line to line"}, {"flagging", "ns", "flagging at the top"}, {"head_switch_line", "lines", "head switch before the end"}, {"head_switch_step", "ns", "step at the head switch"}}, make<LineDisplacement>},
        {Group::Stability, {{"vertical_jitter_rms", "lines", "vertical jitter"}}, make<VerticalJitter>},
        {Group::Levels, {{"black_level", "", "black level"}, {"white_level", "", "white level"}}, make<LumaLevels>},
        {Group::Levels, {{"clipped_black", "share", "clipped black"}, {"clipped_white", "share", "clipped white"}}, make<Clipping>},
        {Group::Noise, {{"luma_snr", "dB", "luma over noise"}, {"chroma_snr", "dB", "colour over noise"}, {"black_slope", "", "slope of levels at black"}, {"white_slope", "", "slope of levels at white"}, {"mixed_in_time", "", "mixed in time"}}, make<PictureNoise>},
        {Group::Frame, {{"active_left", "pixels", "blank at the left"}, {"active_right", "pixels", "blank at the right"}, {"active_top", "lines", "blank at the top"}, {"active_bottom", "lines", "blank at the bottom"}}, make<ActiveArea>},
        {Group::Frame, {{"data_lines", "", "data in the first rows"}}, make<StoredDataLines>},
        {Group::Sharpness, {{"luma_bandwidth", "MHz", "bandwidth of luma"}}, make<LumaBandwidth>},
        {Group::Sharpness, {{"edge_overshoot", "%", "overshoot at edges"}}, make<EdgeOvershoot>},
        {Group::Sharpness, {{"chroma_delay", "ns", "colour late by"}, {"chroma_lower", "lines", "colour lower by"}}, make<ChromaDelay>},
        {Group::Sharpness, {{"generation_signs", "", "signs of copying"}}, make<GenerationSigns>},
        {Group::Bars, {{"bars_luma_error", "%", "luma of the bars"}, {"bars_chroma_gain", "dB", "gain of their colour"}, {"bars_chroma_phase", "deg", "turn of their colour"}}, make<ColourBars>},
        {Group::Bars, {{"multiburst_error", "dB", "multiburst"}, {"ramp_nonlinearity", "%", "bend of the ramp"}, {"pulse_bar_ratio", "%", "pulse to bar"}}, make<TestPictures>},
        {Group::Flicker, {{"flicker_frequency", "Hz", "flicker"}, {"flicker_depth", "share", "depth of the flicker"}, {"screen_rate", "Hz", "rate of the screen"}}, make<Flicker>},
        {Group::Sound, {{"hum_frequency", "Hz", "hum"}, {"hum_level", "dBFS", "level of the hum"}, {"line_whistle_frequency", "Hz", "line whistle"}, {"sound_speed_ratio", "", "played against recorded speed"}}, make<SteadyTones>},
        {Group::Sound, {{"sound_bandwidth", "kHz", "bandwidth of the sound"}}, make<SoundBandwidth>},
        {Group::Sound, {{"loudness", "LUFS", "loudness"}, {"true_peak", "dBTP", "true peak"}}, make<Loudness>},
        {Group::Sound, {{"channel_delay", "µs", "second channel late by"}, {"channel_correlation", "", "correlation of the channels"}}, make<ChannelPair>},
        {Group::Sound, {{"sound_gaps", "", "gaps in the sound"}, {"sound_picture_difference", "ms", "sound longer than the pictures"}}, make<SoundLength>},
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
        case Group::History:
            return "History";
        case Group::Stability:
            return "Stability";
        case Group::Damage:
            return "Damage";
        case Group::Levels:
            return "Levels";
        case Group::Frame:
            return "Frame";
        case Group::Sharpness:
            return "Sharpness";
        case Group::Bars:
            return "Bars";
        case Group::Noise:
            return "Noise";
        case Group::Flicker:
            return "Flicker";
        case Group::Sound:
            break;
    }
    return "Sound";
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
