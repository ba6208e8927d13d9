#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "quantity/rational.h"
#include "testsignal/sound_track.h"

namespace guardband::testsignal {

/// The grid that pictures are sampled on. A recipe file takes all of it from the table by the name of a system; the
/// values here are those of 625/50, so that a test need not load the table.
struct Raster {
    int width = 720;                           ///< luma samples per line, even
    int height = 576;                          ///< lines per frame; even when interlaced
    quantity::Rational frame_rate{25, 1};      ///< frames per second
    double luma_sampling_hz = 13.5e6;          ///< turns a bandwidth in MHz into cycles per sample
    double line_rate_hz = 15625;               ///< lines per second, those of field blanking included
    quantity::Rational sample_aspect{1, 1};    ///< width over height of a sample
    double black_code = 16, white_code = 235;  ///< nominal, 8-bit codes; what noise is reckoned against lies between
};

enum class Scan { Interlaced, Progressive };

/// Which rows of a frame come first in time: Top are the frame's rows 0, 2, 4 …
enum class FieldOrder { TopFirst, BottomFirst };

/// What the file will say of its field order.
enum class DeclaredOrder { Unknown, TopFirst, BottomFirst, Progressive };

/// How colour difference is sampled. 4:2:0 of interlaced frames is taken field by field, as DV does.
enum class ChromaSampling { C422, C420, C411 };

enum class Codec { Ffv1, V210, Dv };

/// The scene before the camera.
struct PictureSettings {
    double motion_px =
        1.0;  ///< how far the background moves between one sampled picture (field, or progressive frame) and the next
    double direction_deg = 0.0;  ///< of that motion: 0 to the right, 90 downwards
    double sway_px = 0.0;        ///< amplitude of a slow sine along the motion, on top of it
    double sway_period_s = 4.0;
    bool still = false;   ///< nothing moves at all, cuts apart
    bool objects = true;  ///< doorway (black), board (white), tower and boat before the background; without them no
                          ///< true black and white
    std::vector<double> cuts_s;            ///< moments at which another scene begins, rising
    double luma_bandwidth_mhz = 5.0;       ///< half-amplitude (-6 dB) point of the luma low-pass
    double chroma_bandwidth_mhz = 1.3;     ///< half-amplitude point of the colour-difference low-pass
    double tint = 0;                       ///< how much the background's colour follows its rocks: -0.3 to 0.3
    double chroma_delay_ns = 0;            ///< by how much colour difference lies to the right of luma
    double chroma_lower_lines = 0;         ///< by how many frame lines it lies lower
    std::optional<double> aperture_lines;  ///< full width at half height of the camera's vertical aperture; 2 frame
                                           ///< lines if interlaced, else 1
};

/// White Gaussian noise, added after the level error and before clipping. dB: 20 log10 of 219 codes over the RMS noise
/// in 8-bit codes.
struct NoiseSettings {
    std::optional<double> snr_db;  ///< of luma; no noise if absent
    std::optional<double>
        chroma_snr_db;  ///< of each colour difference, against the same 219 codes; as luma's if absent
};

/// Where black and white come to lie, in 8-bit codes (fractions allowed; 16.25 is the 10-bit code 65).
struct LevelSettings {
    double black_code = 16.0;
    double white_code = 235.0;
    std::optional<double> clip_low_code;   ///< luma below is set to it; must be a code of the clip's bit depth
    std::optional<double> clip_high_code;  ///< luma above is set to it
    double chroma_gain = 1;                ///< of both colour differences
    double chroma_phase_deg = 0;           ///< by which colours are turned, from C_B towards C_R
};

/// When a repeat was made: before the noise (a repeat on the tape, played with new noise) or after it (an exact copy).
enum class RepeatStage { BeforeNoise, AfterNoise };

/// A test picture in place of the scene. Written as bars are in ITU-R BT.471: white / black / greatest and least level
/// of the colours' primaries.
enum class TestPattern { Bars100_100, Bars100_75, Bars75_75, SplitBars, Multiburst, PulseAndBar, Ramp };

struct TestPictureSettings {
    TestPattern pattern = TestPattern::Bars100_75;
    double from_s = 0;              ///< when it begins
    std::optional<double> until_s;  ///< when the scene follows; to the end if absent
};

/// Black that a converter put around a smaller picture: hard edges, no noise, not moved by the time base.
struct PaddingSettings {
    int left_px = 0, right_px = 0, top_lines = 0, bottom_lines = 0;  ///< frame lines
};

/// Numbers count from 0 in the order of time, before missing frames are taken out.
struct FaultSettings {
    std::vector<std::int64_t>
        repeated_fields;  ///< each is replaced by the field of the same parity before it (number less 2)
    std::vector<std::int64_t> repeated_frames;  ///< each is replaced by the frame before it
    RepeatStage repeat_stage = RepeatStage::AfterNoise;
    std::vector<std::int64_t> missing_frames;  ///< not written
    bool stamps_keep_gap = true;               ///< false: time stamps run on as if nothing were missing
};

/// What is done to the time stamps.
struct StampSettings {
    double rounding_ms = 0.0;  ///< stamps are rounded to multiples of this; 0 leaves them as exact as the container can
    double jitter_rms_ms = 0.0;  ///< Gaussian error of each stamp but the first, before rounding; held to 0.4 frames,
                                 ///< so that their order never changes
};

/// What tape and machine do to the place of lines and fields. Displacements are in ns, to the right for positive
/// values. `TimeBase` says how they add up.
struct TimeBaseSettings {
    std::vector<double> sine_ns,
        sine_hz;                          ///< amplitudes and frequencies of sines that run on in time from line to line
    double random_ns = 0;                 ///< RMS of a normal displacement of each line by itself
    double flagging_ns = 0;               ///< of the first line of each field; dies away down the field
    double flagging_lines = 8;            ///< in which it falls to 1/e
    std::optional<int> head_switch_line;  ///< lines from the switch to the field's end
    std::vector<double> head_switch_steps_ns;  ///< of the lines after it, by turns from field to field
    double vertical_rms_lines = 0;             ///< RMS of a normal displacement of each field, frame lines
};

/// Line blanking at both edges of the stored picture. It moves with the lines.
struct BlankingSettings {
    double left_px = 9, right_px = 9;  ///< from the first and the last sample to where the edge is half way up
    double rise_ns = 300;              ///< of the edges, 10 % to 90 %; their shape is a half wave of a cosine
};

/// Losses of signal, at random places. They come after the displacement of lines; those that a player fills from the
/// line above, after the noise.
struct DropoutSettings {
    double per_minute = 60;             ///< mean number
    double length_us = 10;              ///< of each; cut off at the picture's right edge
    bool bright = true, dark = true;    ///< which kinds; by turns
    bool held = false;                  ///< filled with what the line above shows, noise included
    std::optional<double> held_snr_db;  ///< noise that filling adds; exact copies if absent
    int lines = 1;                      ///< lines of the field that each takes in, one below the other
    std::optional<int> at_line;         ///< of the field, where all begin, as those of a scratch; anywhere if absent
};

/// How a standards converter made fields of one rate into fields of another.
enum class ConversionMethod {
    Repeat,  ///< each shows the last field (or frame) of the source, whole: some stand twice, or are left out
    Blend    ///< each mixes the two around it, by their distance in time
};

/// A standards conversion before the tape: the source was sampled at another field rate. Its fields are taken as lines
/// of either field, as after an ideal interpolation.
struct ConversionSettings {
    quantity::Rational from_field_rate{60000, 1001};  ///< Hz
    ConversionMethod method = ConversionMethod::Blend;
    bool whole_frames = false;  ///< what is repeated, left out or mixed are frames, not fields
};

/// The first frame and how many; absent if none. Numbers as those of `FaultSettings`.
using FrameStretch = std::optional<std::array<std::int64_t, 2>>;

/// What the player shows instead of what is on the tape. Black, grey and blue are drawn, so they carry no noise.
struct PlayerSettings {
    FrameStretch black, grey, blue;
    FrameStretch snow;               ///< no signal: noise in streaks, about mid grey
    FrameStretch colourless;         ///< colour is lost
    FrameStretch colour_alternates;  ///< C_R has the wrong sign in every other frame
};

/// Bands of noise across the picture, where the heads miss their tracks. They roll round the picture's height.
struct NoiseBandSettings {
    double top = 0.6, height = 0.1;  ///< of the first, shares of the field's height; top at `start_s`
    double drift_per_s = 0;          ///< heights per second, downwards
    double start_s = 0, duration_s = 36000;
    int bands = 1;                   ///< of each field, one below the other
    double spacing = 0.2;            ///< from the top of one to that of the next, heights
    double other_head = 0;           ///< by how much they lie lower in every other field, heights
    double swing = 0, swing_hz = 1;  ///< amplitude, heights, and rate at which they swing to and fro
};

/// A picture that has lost vertical sync: it rolls through the frame, what leaves at one end comes in at the other.
struct VerticalRollSettings {
    double lines_per_s = 0;  ///< frame lines, downwards
    int bar_lines = 0;       ///< frame lines of field blanking that roll through with it, between its end and its start
    double start_s = 0, duration_s = 36000;
};

/// A picture tube's face or a lamp: the light in the camera's view.
struct ScreenSettings {
    double rate_hz = 60.0;  ///< refresh of the tube: each point flashes once per refresh, from top to bottom
    double decay_ms = 1.0;  ///< time constant of the phosphor's exponential decay
    double scan_share =
        0.92;            ///< part of the refresh period in which the spot runs from the top to the bottom of the screen
    double phase = 0.0;  ///< of the screen at time 0, in refresh periods
    double left = 0.0, top = 0.0, width = 1.0,
           height = 1.0;  ///< where the screen stands, shares of the picture; a steadily lit room around it
    std::optional<double>
        depth;  ///< asks for this depth of the fundamental by mixing in steady light; all light from the tube if absent
};

struct LampSettings {
    double rate_hz = 100.0;       ///< of the ripple, twice the mains
    double ripple = 0.2;          ///< depth of the ripple in the light itself, before exposure: 1 + ripple cos
    double phase = 0.0;           ///< at time 0, in periods
    std::optional<double> depth;  ///< asks for this depth in the exposed picture by mixing in steady light
};

/// The camera before that light.
struct CameraSettings {
    double exposure_ms = 10.0;
    double readout_ms = 0.0;  ///< time from the exposure of the first row to that of the last; 0: all rows at once
    double gamma = 0.45;      ///< exponent from light to signal
};

/// Everything that a clip is made from. `every-key.toml` beside this file has every key of a recipe file.
struct Recipe {
    std::string name = "clip";  ///< of the files: letters, digits, `-`, `_`, `.`
    std::string title;          ///< one line for people
    std::string invented;       ///< the remark that none of it happened; goes into the truth
    std::string system;         ///< `625/50`, `525/60` or empty
    Raster raster;
    Scan scan = Scan::Interlaced;
    FieldOrder field_order = FieldOrder::TopFirst;
    std::optional<DeclaredOrder> declared_order;  ///< the truth if absent
    double duration_s = 8.0;
    Codec codec = Codec::Ffv1;
    std::string container = "mkv";  ///< the file's extension: mkv, mov, nut or avi; dv for DV alone
    int bit_depth = 10;             ///< 8 or 10
    ChromaSampling chroma = ChromaSampling::C422;
    std::uint64_t seed = 1;
    bool sound = false;                             ///< a tone, `tone_hz` of clip_writer.h
    std::optional<SoundTrackSettings> sound_track;  ///< instead of the tone
    PictureSettings picture;
    NoiseSettings noise;
    LevelSettings levels;
    FaultSettings faults;
    std::optional<TestPictureSettings> test_picture;
    std::optional<PaddingSettings> padding;
    std::optional<TimeBaseSettings> time_base;  ///< this and the next two need Interlaced
    std::optional<BlankingSettings> blanking;
    std::optional<DropoutSettings> dropouts;
    StampSettings stamps;
    std::vector<int> pulldown;  ///< fields per film frame, cyclic: {2, 3}; the film is then what moves. Empty: none.
                                ///< Needs Interlaced
    std::optional<ConversionSettings> conversion;  ///< needs Interlaced, no pull-down
    PlayerSettings player;
    std::optional<NoiseBandSettings> noise_band;        ///< needs Interlaced
    std::optional<VerticalRollSettings> vertical_roll;  ///< likewise
    std::optional<ScreenSettings> screen;               ///< at most one of screen and lamp
    std::optional<LampSettings> lamp;
    CameraSettings camera;  ///< matters with a screen or a lamp

    // Compiled once, in recipe.cpp: every test copies recipes.
    Recipe();
    Recipe(const Recipe&);
    Recipe(Recipe&&) noexcept;
    Recipe& operator=(const Recipe&);
    Recipe& operator=(Recipe&&) noexcept;
    ~Recipe();
};

/// Pictures sampled per second: fields if interlaced, else frames.
quantity::Rational picture_rate(const Recipe& recipe);

/// Number of frames before any is taken out as missing.
std::int64_t source_frame_count(const Recipe& recipe);

/// What the file says of its field order: `declared_order`, or the truth. DV can't but say that the bottom field comes
/// first.
DeclaredOrder order_to_declare(const Recipe& recipe);

/// Checks what pictures are made from: sizes, numbers in range, things that exclude each other.
/// @throws quantity::InputError whose input is the key, e.g. `faults.repeated_fields`
void check(const Recipe& recipe);

/// Checks what a file is made from: whether the codec and the container can hold the pictures and the time stamps.
/// @throws quantity::InputError as `check`
void check_file(const Recipe& recipe);

}  // namespace guardband::testsignal
