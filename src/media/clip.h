#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "media/sound.h"
#include "quantity/rational.h"

namespace guardband::media {

/// What a file says of the order in which the two fields of its frames were taken.
enum class DeclaredOrder { Unknown, TopFirst, BottomFirst, Progressive };

/// How the samples of a picture lie in memory: planar Y', C_B, C_R. Samples of 8 bits take one byte; of 9 to 12 bits
/// two bytes, in the machine's byte order, value in the low bits.
struct PictureFormat {
    int width = 0;   ///< luma samples per row
    int height = 0;  ///< rows per frame
    int bit_depth = 8;
    int chroma_shift_x = 0;  ///< log2 of luma samples per chroma sample along the row
    int chroma_shift_y = 0;  ///< log2 of rows per chroma row
    bool has_chroma = true;
    bool chroma_centred = false;  ///< along the row a chroma sample stands midway between the luma samples that it
                                  ///< stands for; else on the first of them
    bool full_range = false;      ///< true when the file says that black is code 0 and white the highest code

    friend bool operator==(const PictureFormat&, const PictureFormat&) = default;
};

/// What the file's headers say. Nothing here is measured.
struct ClipInfo {
    std::string path;
    std::string container;  ///< short name of the container, e.g. `matroska`
    std::string codec;      ///< short name of the codec, e.g. `ffv1`
    bool is_lossy = false;  ///< the codec keeps the samples only nearly
    PictureFormat picture;
    quantity::Rational time_base{1, 1};  ///< seconds per tick of the time stamps
    std::optional<quantity::Rational>
        declared_frame_rate;                          ///< frames per second, if the header gives one that makes sense
    std::optional<quantity::Rational> sample_aspect;  ///< width over height of a sample
    DeclaredOrder declared_order =
        DeclaredOrder::Unknown;  ///< of the stream, or else of its first frame; others may differ
    std::optional<double> duration_s;
    std::uint64_t file_bytes = 0;
    bool has_sound = false;
    std::optional<SoundInfo>
        sound;                  ///< of the sound that is read beside the pictures, if it was asked for and can be had
    std::string sound_trouble;  ///< why it can't be had although the clip has some; empty otherwise
    bool read_whole = true;     ///< no part of the clip alone was asked for
};

/// One plane of a picture, rows from top to bottom.
struct Plane {
    const std::byte* data = nullptr;
    std::ptrdiff_t stride_bytes = 0;
    int width = 0;
    int height = 0;

    const std::byte* row(int y) const { return data + y * stride_bytes; }
};

/// One decoded frame: two woven fields, or one progressive picture. Copies share the samples, which live as long as any
/// copy does.
struct Frame {
    std::int64_t index = 0;                                 ///< counts the frames of the stretch that is read, from 0
    std::optional<std::int64_t> pts;                        ///< presentation time in ticks of `ClipInfo::time_base`
    DeclaredOrder declared_order = DeclaredOrder::Unknown;  ///< of this frame: its own flags, or else the stream's word
    bool damaged = false;                                   ///< the decoder reported errors in it
    PictureFormat format;
    std::array<Plane, 3> planes;        ///< Y', C_B, C_R; the last two are empty when there is no chroma
    std::shared_ptr<const void> owner;  ///< keeps the samples alive
};

/// A clip read from start to end, once.
class ClipReader {
public:
    virtual ~ClipReader() = default;
    virtual const ClipInfo& info() const = 0;

    /// The next frame in presentation order, or nothing at the end.
    /// @throws InputError if the file can't be read on or the picture size changes
    virtual std::optional<Frame> next() = 0;

    /// Asks for the clip's sound too, if it was opened with `ReadOptions::sound`: while `next` looks for a frame it
    /// calls `hear` for what the file has between the frames, in the file's order, which follows time but for the
    /// container's interleaving. Blocks live as long as the call. To be asked before the first `next`.
    virtual void listen(const std::function<void(const SoundBlock&)>& /*hear*/) {}

    /// Set when the end came early: the file is cut short or damaged. One line for people, else empty.
    virtual std::string trouble() const = 0;

    /// Bytes of the file consumed so far; for progress.
    virtual std::uint64_t bytes_read() const = 0;
};

/// What part of a clip to read.
struct ReadOptions {
    double start_s = 0;                ///< from the clip's first frame; frames before it are decoded and left out
    std::optional<double> duration_s;  ///< to the end if absent
    int threads = 0;                   ///< of the decoder; 0 chooses by the number of processors
    bool sound = false;                ///< read the first sound stream too, in the same pass
};

/// Opens a clip of any container and codec that the system's FFmpeg libraries read. The libraries are loaded here, at
/// the first call, and print nothing from then on. Pictures may be up to 8192 × 8192. Only the named file is read: no
/// address, no device, no other file that it may name. What the libraries cannot decode of it is left out and told by
/// `trouble`; a frame that they could only patch is marked `damaged`.
/// @throws InputError if the file is missing, not a clip, or has no video; or if FFmpeg's libraries are not installed
std::unique_ptr<ClipReader> open_clip(const std::string& path, const ReadOptions& options = {});

/// Does a media file hold moving pictures? @throws InputError if it is missing or no media file
bool has_video(const std::string& path);

}  // namespace guardband::media
