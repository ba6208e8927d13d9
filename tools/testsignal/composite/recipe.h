#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "quantity/rational.h"
#include "testsignal/composite/data_lines.h"
#include "testsignal/composite/system.h"

namespace guardband::testsignal {

/// How samples are stored.
enum class SampleFormat { U8, S8, U16, S16, F32 };

/// In which file: WAV (u8, s16, f32), FLAC (s16) or samples alone.
enum class SampleFile { Wav, Flac, Raw };

/// What the active picture shows.
enum class CompositePicture {
    Bars,       ///< white, yellow, cyan, green, magenta, red, blue, black
    Flat,       ///< one level, one colour
    Texture,    ///< the moving scene that clips show
    Insertion,  ///< the insertion signal named by `signal` on every line
};

/// Insertion test signals. The levels and places of their elements are those of `insertion.cpp`.
enum class InsertionSignal { BarPulseStaircase, BarPulseModulatedStaircase, Multiburst, ChromaBars };

/// A test signal on one line of the field interval.
struct Insertion {
    int line = 17;  ///< number within the frame, from 1
    InsertionSignal signal = InsertionSignal::BarPulseStaircase;
};

struct CompositePictureSettings {
    CompositePicture kind = CompositePicture::Bars;
    InsertionSignal signal = InsertionSignal::BarPulseStaircase;
    double level_percent = 50;  ///< flat: of the way from black to white
    double chroma_mv = 0;       ///< flat: peak to peak
    double chroma_deg = 0;      ///< flat: from the U axis
    double bars_percent = 75;   ///< amplitude of the colours; the white bar has 100
    double rise_ns = 200;       ///< of luma in bars, 10 % to 90 %
    double motion_px = 1.0;     ///< texture: as in a clip's recipe
    double luma_bandwidth_mhz = 4.5;
};

/// What tape and machine do to time. Displacements are later for positive values; the parts add up.
struct CompositeTimeBase {
    std::vector<double> sine_ns, sine_hz;
    double random_ns = 0;  ///< RMS of each line by itself; straight between the starts of lines
    double flagging_ns =
        0;  ///< from vertical sync, or the head switch before it, to the first active line; dies away then
    double flagging_lines = 8;               ///< in which it falls to 1/e
    std::optional<double> head_switch_line;  ///< lines from the switch to the first broad pulse; fractions allowed
    /// What the switch adds, by turns from field to field. It falls straight to nothing until the next switch, as
    /// tape does that is stretched more or less than when it was recorded.
    std::vector<double> head_switch_steps_us;
    bool stable_subcarrier = false;  ///< a crystal makes the subcarrier, as in colour-under machines, and not the tape
};

/// Distortions of the picture. All linear ones keep the sync's timing where they can.
struct CompositeDistortion {
    double differential_gain_percent = 0;  ///< change of the chroma's gain from blanking to white, straight
    double differential_phase_deg = 0;     ///< change of its phase likewise
    double luma_nonlinearity_percent =
        0;                           ///< largest against smallest of five equal steps, (largest − smallest)/largest
    double chroma_gain_percent = 0;  ///< of chroma and burst, 0 is nominal
    double chroma_delay_ns = 0;      ///< of the envelope of chroma and burst, late for positive values
    double echo_percent = 0, echo_delay_ns = 0;  ///< of all of the signal; gives the K factor
    std::optional<double> roll_off_mhz;          ///< where the waves of a multiburst are 3 dB down, Gaussian
};

struct CompositeDisturbance {
    std::optional<double> snr_db;  ///< white noise up to half of the sampling rate; 20 log10 of white over its RMS
    double hum_mv = 0;             ///< peak to peak
    double hum_hz = 50;
    double coupling_hz = 0;  ///< corner of AC coupling, first order; 0: none
};

/// Losses of signal: the level goes to `level_mv` and noise.
struct CompositeDropouts {
    double per_minute = 0;  ///< at random places
    std::vector<double> at_s;
    double length_us = 10;
    double level_mv = 0;
    double noise_mv = 100;  ///< RMS
};

/// How the samples were taken.
struct CompositeSampling {
    quantity::Rational rate_hz{16'000'000};
    double clock_error_ppm = 0;  ///< the clock samples this much faster than `rate_hz`
    SampleFile file = SampleFile::Wav;
    SampleFormat format = SampleFormat::S16;
    std::optional<std::uint32_t> header_rate_hz;  ///< a false rate in the header
    double gain_per_volt = 1.3;                   ///< in full scale, which is from −1 to 1
    double offset = -0.4;                         ///< of blanking, in full scale
    bool inverted = false;
};

/// Composite video as samples. `every-composite-key.toml` has every key of a recipe file.
struct CompositeRecipe {
    std::string name, title, invented;
    std::uint64_t seed = 1;
    CompositeSystem system;
    double duration_s = 0.2;
    double start_line = 1;         ///< where in the frame the recording begins; a fraction begins within the line
    std::int64_t start_frame = 0;  ///< frames of the sequence that went before
    double line_rate_error_ppm = 0;
    double subcarrier_error_ppm = 0;  ///< against the line rate
    double subcarrier_phase_deg = 0;  ///< of the U axis at the sync edge of line 1 of the first frame
    CompositePictureSettings picture;
    std::vector<Insertion> insertions;
    DataLines data;
    CompositeTimeBase time_base;
    CompositeDistortion distortion;
    CompositeDisturbance disturbance;
    CompositeDropouts dropouts;
    CompositeSampling sampling;
};

}  // namespace guardband::testsignal
