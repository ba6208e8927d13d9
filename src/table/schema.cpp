#include "table/schema.h"

#include <algorithm>
#include <array>

namespace guardband::table {
namespace {

using enum SectionKind;
using enum KeyRule::Kind;

constexpr bool required = true;
constexpr bool optional = false;

constexpr KeyRule rules[] = {
    // Scanning standards
    {Scanning, "lines", Count, "", 100, 2000, required, "lines per frame"},
    {Scanning, "field_rate", Number, "Hz", 20, 150, required, "field rate"},
    {Scanning, "line_rate", Number, "Hz", 1000, 60000, required, "line rate"},
    {Scanning, "active_lines", Number, "", 80, 1900, optional, "active lines, analogue"},
    {Scanning, "picture_aspect", Number, "", 0.5, 3, optional, "picture's width over its height"},
    {Scanning, "line_blanking", Number, "µs", 1, 40, optional, "line blanking"},
    {Scanning, "front_porch", Number, "µs", 0.1, 10, optional, "front porch"},
    {Scanning, "sync_width", Number, "µs", 0.5, 20, optional, "line sync"},
    {Scanning, "sync_to_picture", Number, "µs", 1, 30, optional, "sync edge to picture"},
    {Scanning, "line_blanking_rise", Number, "µs", 0.01, 2, optional, "blanking edge"},
    {Scanning, "sync_rise", Number, "µs", 0.01, 2, optional, "sync edge"},
    {Scanning, "equalising_pulses", Count, "", 0, 20, optional, "equalising pulses each side"},
    {Scanning, "equalising_width", Number, "µs", 0.5, 10, optional, "equalising pulse"},
    {Scanning, "broad_pulses", Count, "", 1, 20, optional, "broad pulses"},
    {Scanning, "broad_width", Number, "µs", 5, 60, optional, "broad pulse"},
    {Scanning, "field_blanking", Number, "lines", 5, 60, optional, "field blanking"},
    {Scanning, "sync_level", Number, "mV", -500, 0, optional, "sync tip, monochrome"},
    {Scanning, "white_level", Number, "mV", 500, 1000, optional, "white, monochrome"},
    {Scanning, "noise_bandwidth", Number, "MHz", 1, 20, optional, "noise is measured up to"},
    {Scanning, "t_pulse", Number, "µs", 0.02, 1, optional, "T pulse, width at half height"},
    {Scanning, "pulse_clearance", Number, "µs", 0.2, 10, optional, "inserted 2T pulse, empty to either side"},
    {Scanning, "line_one", Text, "", 0, 0, optional, "line 1 begins with"},
    // Digital rasters
    {Raster, "width", Count, "", 16, 8192, required, "samples per active line"},
    {Raster, "cropped_width", Count, "", 16, 8192, optional, "samples without those beside the picture"},
    {Raster, "height", Count, "", 16, 8192, required, "digitised lines"},
    {Raster, "height_with_blanking", Count, "", 16, 8192, optional, "lines with vertical blanking above"},
    {Raster, "sampling_rate", Number, "MHz", 1, 100, required, "luma sampling"},
    {Raster, "samples_per_line", Number, "", 100, 8192, required, "samples per total line"},
    {Raster, "first_sample", Count, "", 0, 8192, optional, "first sample of a line, after half of sync's fall"},
    {Raster, "pixel_aspect", Number, "", 0.3, 3, required, "pixel aspect at 4:3"},
    {Raster, "first_line", Text, "", 0, 0, optional, "first line"},
    {Raster, "black_code", Count, "", 0, 255, required, "black, 8-bit code"},
    {Raster, "white_code", Count, "", 0, 255, required, "white, 8-bit code"},
    {Raster, "field_order", Text, "", 0, 0, optional, "usual field order"},
    {Raster, "luma_red", Number, "", 0, 1, optional, "red's share in luma"},
    {Raster, "luma_green", Number, "", 0, 1, optional, "green's share in luma"},
    {Raster, "luma_blue", Number, "", 0, 1, optional, "blue's share in luma"},
    {Raster, "colour_zero", Count, "", 0, 255, optional, "no colour, 8-bit code"},
    {Raster, "colour_span", Count, "", 0, 255, optional, "colour difference, 8-bit codes"},
    {Raster, "stored_sizes", Text, "", 0, 0, optional, "other stored sizes"},
    {Raster, "colour_bars", Text, "", 0, 0, optional, "colour bars in use"},
    {Raster, "bar_order", Text, "", 0, 0, optional, "bars from the left"},
    // Colour systems
    {Colour, "subcarrier", Number, "Hz", 1e6, 10e6, optional, "subcarrier"},
    {Colour, "subcarrier_red", Number, "Hz", 1e6, 10e6, optional, "subcarrier, red lines"},
    {Colour, "subcarrier_blue", Number, "Hz", 1e6, 10e6, optional, "subcarrier, blue lines"},
    {Colour, "deviation_red", Number, "kHz", 10, 1000, optional, "deviation, red, 75 % bars"},
    {Colour, "deviation_blue", Number, "kHz", 10, 1000, optional, "deviation, blue, 75 % bars"},
    {Colour, "deviation_up_red", Number, "kHz", 10, 1000, optional, "deviation upwards, red, at most"},
    {Colour, "deviation_down_red", Number, "kHz", 10, 1000, optional, "deviation downwards, red, at most"},
    {Colour, "deviation_up_blue", Number, "kHz", 10, 1000, optional, "deviation upwards, blue, at most"},
    {Colour, "deviation_down_blue", Number, "kHz", 10, 1000, optional, "deviation downwards, blue, at most"},
    {Colour, "bell_centre", Number, "kHz", 1000, 10000, optional, "centre of the subcarrier's pre-emphasis"},
    {Colour, "pre_emphasis_corner", Number, "kHz", 10, 1000, optional, "corner of the colour's pre-emphasis"},
    {Colour, "subcarrier_start", Number, "µs", 1, 15, optional, "subcarrier after the sync edge"},
    {Colour, "colour_identification", Text, "", 0, 0, optional, "lines told apart by"},
    {Colour, "recorded_as", Text, "", 0, 0, optional, "what players make it of"},
    {Colour, "colour_fields", Count, "", 1, 24, optional, "fields in the colour sequence"},
    {Colour, "burst_start", Number, "µs", 1, 15, optional, "burst after the sync edge"},
    {Colour, "burst_cycles", Number, "", 1, 30, optional, "burst, cycles"},
    {Colour, "burst_rise", Number, "µs", 0.01, 2, optional, "edges of the burst"},
    {Colour, "burst_blanking", Count, "", 1, 30, optional, "lines without burst a field"},
    {Colour, "burst_amplitude", Number, "mV", 10, 1000, optional, "burst, peak to peak"},
    {Colour, "burst_phase", Number, "deg", -360, 360, optional, "burst phase"},
    {Colour, "sync_level", Number, "mV", -500, 0, required, "sync tip"},
    {Colour, "setup_level", Number, "IRE", -5, 20, required, "set-up"},
    {Colour, "white_level", Number, "mV", 500, 1000, required, "white"},
    {Colour, "chroma_bandwidth", Number, "MHz", 0.1, 5, optional, "chroma bandwidth"},
    {Colour, "gamma", Number, "", 1, 4, optional, "display gamma assumed"},
    {Colour, "primaries", Text, "", 0, 0, optional, "primaries (x, y)"},
    {Colour, "white_point", Text, "", 0, 0, optional, "white (x, y)"},
    {Colour, "composite_sampling_rate", Number, "Hz", 10e6, 30e6, optional, "sampling rate"},
    {Colour, "composite_samples_per_line", Number, "", 500, 4000, optional, "samples per total line"},
    {Colour, "composite_active_samples", Count, "", 400, 4000, optional, "samples per active line"},
    {Colour, "composite_sync_code", Count, "", 0, 255, optional, "sync tip, 8-bit code"},
    {Colour, "composite_blanking_code", Count, "", 0, 255, optional, "blanking, 8-bit code"},
    {Colour, "composite_white_code", Count, "", 0, 255, optional, "white, 8-bit code"},
    // Transmission systems
    {Transmission, "channel_width", Number, "MHz", 1, 30, required, "channel"},
    {Transmission, "vision_bandwidth", Number, "MHz", 1, 15, required, "vision bandwidth"},
    {Transmission, "vestigial_sideband", Number, "MHz", 0.1, 5, optional, "vestigial sideband"},
    {Transmission, "sound_offset", Number, "MHz", -15, 15, required, "sound carrier from vision"},
    {Transmission, "vision_modulation", Text, "", 0, 0, required, "vision modulation"},
    {Transmission, "sound_modulation", Text, "", 0, 0, required, "sound modulation"},
    // Screens and lamps
    {Screen, "refresh_rate", Number, "Hz", 10, 500, required, "refresh rate"},
    {Screen, "kind", Text, "", 0, 0, required, "kind"},
    // Tape formats
    {Format, "standard", Text, "", 0, 0, required, "standard"},
    {Format, "introduced", Count, "", 1940, 2030, required, "introduced"},
    {Format, "withdrawn", Count, "", 1940, 2030, optional, "withdrawn"},
    {Format, "signal", Text, "", 0, 0, required, "signal"},
    {Format, "recording", Text, "", 0, 0, required, "recording"},
    {Format, "head_motion", Text, "", 0, 0, required, "heads run"},
    {Tape, "width", Number, "mm", 2, 60, required, "tape width"},
    {Tape, "thickness", Number, "µm", 3, 60, required, "tape thickness"},
    {Tape, "coating", Text, "", 0, 0, required, "coating"},
    {Tape, "coercivity", Number, "Oe", 100, 3000, optional, "coercivity"},
    {Tape, "sides", Count, "", 1, 2, optional, "sides, each on its share of the width"},
    {Shell, "width", Number, "mm", 20, 500, required, "shell width"},
    {Shell, "depth", Number, "mm", 20, 500, required, "shell depth"},
    {Shell, "height", Number, "mm", 3, 100, required, "shell height"},
    {Drum, "diameter", Number, "mm", 10, 300, required, "drum diameter"},
    {Drum, "heads", Count, "", 1, 24, required, "video heads"},
    {Drum, "wrap", Number, "deg", 60, 400, required, "wrap"},
    {Drum, "azimuth", Number, "deg", 0, 60, required, "azimuth, ±"},
    {System, "drum_speed", Number, "rev/s", 0, 500, required, "drum speed"},
    {System, "tracks_per_field", Number, "", 0.2, 100, optional, "tracks per field"},
    {System, "tracks_per_second", Number, "Hz", 10, 5000, optional, "tracks per second"},
    {System, "track_angle_still", Number, "deg", 0, 100, required, "track angle, tape still"},
    {System, "track_angle_moving", Number, "deg", 0, 100, required, "track angle, tape moving"},
    {System, "luma_carrier_sync", Number, "MHz", 0.5, 30, required, "carrier at sync tip"},
    {System, "luma_carrier_blanking", Number, "MHz", 0.5, 30, optional, "carrier at blanking"},
    {System, "luma_carrier_white", Number, "MHz", 0.5, 30, required, "carrier at white"},
    {System, "colour_process", Text, "", 0, 0, required, "colour recording"},
    {System, "colour_under_carrier", Number, "kHz", 100, 3000, required, "colour-under carrier"},
    {System, "data_rate", Number, "Mbit/s", 0.1, 2000, optional, "data rate"},
    {System, "compression", Text, "", 0, 0, optional, "compression"},
    {System, "linear_sound_track_width", Number, "mm", 0.05, 5, required, "linear sound track"},
    {System, "linear_sound_tracks", Count, "", 1, 16, optional, "linear sound tracks, side by side"},
    {System, "sound_track_edge", Text, "", 0, 0, optional, "linear sound at"},
    {System, "control_track_width", Number, "mm", 0.05, 5, optional, "control track"},
    {System, "control_track_edge", Text, "", 0, 0, optional, "control track at"},
    {System, "cue_track_width", Number, "mm", 0.05, 5, optional, "cue track"},
    {System, "cue_track_edge", Text, "", 0, 0, optional, "cue track at"},
    {System, "control_track_rate", Number, "Hz", 1, 1000, required, "control-track pulses"},
    {System, "pilot_frequencies", Text, "", 0, 0, optional, "tracking pilots"},
    {System, "hifi_carrier_left", Number, "MHz", 0.1, 10, optional, "sound carrier, left"},
    {System, "hifi_carrier_right", Number, "MHz", 0.1, 10, optional, "sound carrier, right"},
    {System, "hifi_azimuth", Number, "deg", 0, 60, optional, "sound heads' azimuth, ±"},
    {System, "head_switch_before_sync", Number, "lines", 0, 40, required, "head switch before field sync"},
    {System, "luma_bandwidth", Number, "MHz", 0.5, 30, required, "luma bandwidth"},
    {System, "luma_resolution", Number, "TVL", 50, 1500, optional, "luma resolution"},
    {System, "luma_snr", Number, "dB", 20, 80, required, "luma S/N, weighted"},
    {System, "chroma_bandwidth", Number, "MHz", 0.05, 15, optional, "chroma bandwidth"},
    {System, "sound_bandwidth", Number, "kHz", 1, 25, required, "linear sound up to"},
    {System, "sound_snr", Number, "dB", 20, 120, optional, "linear sound S/N"},
    {System, "hifi_sound_snr", Number, "dB", 20, 120, optional, "FM or PCM sound S/N"},
    {System, "wow_flutter", Number, "%", 0, 3, optional, "wow and flutter, weighted"},
    {System, "shortest_wavelength", Number, "µm", 0.1, 20, optional, "shortest wavelength"},
    {Mode, "tape_speed", Number, "mm/s", 0.5, 12000, required, "tape speed"},
    {Mode, "track_pitch", Number, "µm", 2, 2000, required, "track pitch"},
    {Mode, "track_width", Number, "µm", 2, 2000, optional, "track width"},
    {Mode, "colour_track_width", Number, "µm", 2, 2000, optional, "colour track between, width"},
    {Mode, "guard_band", Number, "µm", 0, 1000, optional, "guard band"},
    {Mode, "writing_speed", Number, "m/s", 0.2, 100, required, "writing speed"},
    {Grade, "length", Number, "m", 2, 6000, required, "tape length"},
    {Grade, "thickness", Number, "µm", 3, 60, required, "tape thickness"},
    {Grade, "hub_diameter", Number, "mm", 5, 200, optional, "hub diameter"},
    {Grade, "common", Text, "", 0, 0, optional, "the common one"},
    // Codecs and containers of captures
    {Codec, "bit_depth", Count, "", 1, 16, required, "bits a sample"},
    {Codec, "group_bytes", Count, "bytes", 1, 1024, optional, "bytes of a group of pixels"},
    {Codec, "group_pixels", Count, "", 1, 1024, optional, "pixels in a group"},
    {Codec, "line_multiple", Count, "bytes", 1, 4096, optional, "lines filled up to a multiple of"},
    {Codec, "jitter_taken", Number, "ns", 0, 100, optional, "takes of jitter from line to line, RMS"},
    {Codec, "jitter_taken_from", Number, "ns", 0.1, 1000, optional, "nearly all of that from an RMS of"},
    {Codec, "jitter_rounding", Number, "ns", 0, 100, optional, "its rounding displaces lines by, RMS"},
    {Codec, "edge_error", Number, "", 0, 100, optional, "errs where an edge rises by, RMS 8-bit codes"},
    {Codec, "sound", Text, "", 0, 0, optional, "sound"},
    {CodecSystem, "frame_bytes", Count, "bytes", 1000, 1e8, required, "bytes a frame"},
    {CodecPicture, "snr", Number, "dB", 10, 90, required, "luma and chroma S/N, unweighted"},
    {CodecPicture, "bits_per_pixel", Number, "", 0.01, 64, required, "bits a pixel"},
    {Container, "frame_overhead", Number, "bytes", 0, 1e5, required, "bytes added to each frame"},
    // Kinds of evidence
    {Evidence, "effort", Number, "min", 0.1, 1000, required, "work"},
    {Evidence, "scatter", Number, "%", 0.001, 50, optional, "usual error, one standard deviation"},
    {Evidence, "blunders", Number, "%", 0.01, 50, required, "readings that are wrong altogether"},
    {Evidence, "lowest", Number, "", 1e-6, 1e9, optional, "reads from"},
    {Evidence, "highest", Number, "", 1e-6, 1e9, optional, "reads to"},
    // Tapes at large: what is judged of all tapes together
    {TapesAtLarge, "other_standard_machine", Number, "%", 0.01, 50, required, "played at another field rate"},
    {TapesAtLarge, "drum_rate_scatter", Number, "%", 1e-4, 5, required, "drums run off by"},
    {TapesAtLarge, "grey_of_grey_formats", Number, "%", 1, 99, required, "no colour, formats without colour"},
    {TapesAtLarge, "grey_of_colour_formats", Number, "%", 1, 99, required, "no colour, formats with colour"},
    {TapesAtLarge, "grey_of_others", Number, "%", 1, 99, required, "no colour, where the table does not know"},
    {TapesAtLarge, "from_elsewhere", Number, "%", 0.01, 100, required, "of another region, against one of this"},
    {TapesAtLarge, "other_standard_cassette", Number, "%", 0.01, 100, required, "cassettes sold for another standard"},
    {TapesAtLarge, "unlisted_grades", Number, "%", 0.01, 90, required, "grades that the table does not list"},
    {TapesAtLarge, "unlisted_with_listed_label", Number, "%", 0.01, 90, required, "of them, with a listed label"},
    {TapesAtLarge, "length_scatter", Number, "%", 0.01, 20, required, "lengths of one grade scatter by"},
    {TapesAtLarge, "thickness_scatter", Number, "%", 0.01, 20, required, "thicknesses of one grade scatter by"},
    {TapesAtLarge, "hub_scatter", Number, "%", 0.01, 20, required, "hubs of one grade scatter by"},
    {TapesAtLarge, "winding_air", Number, "%", 0, 20, required, "air between turns, of the thickness"},
    {TapesAtLarge, "winding_air_scatter", Number, "%", 0.01, 20, required, "air between turns scatters by"},
    {TapesAtLarge, "like_shell_within", Number, "%", 0.1, 50, required, "shells are alike in size within"},
    {TapesAtLarge, "like_shell_mistaken", Number, "", 1, 1000, required, "like shells mistaken, times others"},
    // Trust in figures of one standing
    {Trust, "off_by", Number, "%", 0, 50, required, "off by, beyond tolerance"},
    {Trust, "wrong", Number, "%", 0.001, 50, required, "plainly wrong"},
};

constexpr std::array section_names{
    "[[scanning]]",  "[[raster]]",   "[[colour]]",       "[[transmission]]", "[[screen]]",
    "[format]",      "[tape]",       "[[shell]]",        "[drum]",           "[[system]]",
    "[[mode]]",      "[[grade]]",    "[[codec]]",        "[[codec.system]]", "[[codec.picture]]",
    "[[container]]", "[[evidence]]", "[tapes_at_large]", "[[trust]]"};

const KeyRule* exact_rule(SectionKind section, std::string_view key) {
    const auto* found =
        std::ranges::find_if(rules, [&](const KeyRule& rule) { return rule.section == section && rule.key == key; });
    return found == std::end(rules) ? nullptr : found;
}

}  // namespace

std::string_view to_string(SectionKind section) { return section_names.at(static_cast<std::size_t>(section)); }

std::span<const KeyRule> key_rules() { return rules; }

const KeyRule* find_rule(SectionKind section, std::string_view key) {
    if (const KeyRule* rule = exact_rule(section, key)) return rule;
    if (section != Mode) return nullptr;
    if (const KeyRule* rule = exact_rule(System, key)) return rule;
    return exact_rule(Drum, key);
}

}  // namespace guardband::table
