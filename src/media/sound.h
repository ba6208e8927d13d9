#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace guardband::media {

/// What a file's headers say of one of its sound streams. Nothing here is measured.
struct SoundInfo {
    std::string path;
    std::string container;           ///< short name of the container, e.g. `wav`; `samples` if there is none
    std::string codec;               ///< short name of the codec or of the sample format, e.g. `pcm_s24le`, `u8`
    double sample_rate_hz = 0;       ///< that times are reckoned with: the header's, unless another was given
    double header_rate_hz = 0;       ///< what the header says; 0 if there is no header
    int channels = 0;                ///< of the stream
    int stream = 0;                  ///< which of the file's sound streams, from 0
    int streams = 1;                 ///< how many it has
    std::optional<double> length_s;  ///< declared, in terms of `sample_rate_hz`
    std::uint64_t file_bytes = 0;
};

/// Some consecutive samples of all channels. Full scale of whole numbers is ±1; floating-point samples are as they are,
/// except that what is no number counts as 0.
struct SoundBlock {
    std::int64_t first_sample = 0;             ///< counts the samples of what is read, from 0
    double time_s = 0;                         ///< of that sample, from the start of what is read
    std::optional<double> stamp_s;             ///< of the file's own time stamps, if it has any, in file time
    std::vector<std::vector<float>> channels;  ///< all of one length, which is at least 1
};

/// A stream of sound, or of samples in general, read from start to end, once. Memory does not grow with its length.
class SoundReader {
public:
    virtual ~SoundReader() = default;
    virtual const SoundInfo& info() const = 0;

    /// The next samples, or nullptr at the end. What it points to stays until the next call.
    /// @throws InputError if the file can't be read on or changes its rate or number of channels
    virtual const SoundBlock* next() = 0;

    /// Set when the end came early or something could not be decoded. One line for people, else empty.
    virtual std::string trouble() const = 0;
    /// Bytes of the file consumed so far; for progress.
    virtual std::uint64_t bytes_read() const = 0;
};

/// What to read of a file's sound.
struct SoundOptions {
    int stream = 0;                        ///< which of its sound streams, from 0
    double start_s = 0;                    ///< from its start; samples before are decoded and left out
    std::optional<double> duration_s;      ///< to the end if absent
    std::optional<double> sample_rate_hz;  ///< instead of the header's: capture hardware often writes a false one
};

/// Opens the sound of any file that the system's FFmpeg libraries read: WAV, FLAC, the sound of a clip. As with
/// `open_clip` only the named file is read. Up to 64 channels.
/// @throws InputError if the file is missing, holds no sound or not so many streams, or can't be decoded; or if
/// FFmpeg's libraries are not installed; or for a start, duration or rate that makes no sense
std::unique_ptr<SoundReader> open_sound(const std::string& path, const SoundOptions& options = {});

/// How samples lie in a file without a header; little-endian.
enum class SampleFormat { U8, S8, U16, S16, F32 };

/// `u8`, `s8`, `u16`, `s16`, `f32`; nothing for another word.
std::optional<SampleFormat> sample_format_named(const std::string& name);

/// Samples of one channel without a header, as digitisers and logic analysers write them. Needs no library.
/// @param bit  of the lowest byte of each sample, 0 to 7: only this one counts, as 0 or 1 (several logic lines in one
/// byte)
/// @throws InputError if the file is missing or empty, or no rate is given
std::unique_ptr<SoundReader> open_raw_samples(const std::string& path, SampleFormat format, const SoundOptions& options,
                                              std::optional<int> bit = std::nullopt);

}  // namespace guardband::media
