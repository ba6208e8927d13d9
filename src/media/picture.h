#pragma once

#include <optional>
#include <string>

#include "media/clip.h"
#include "media/handle.h"

namespace guardband::media {

/// Turns what decoders give into planar Y'CbCr of 8 to 12 bits. Planar pictures are passed through without a copy;
/// packed ones, RGB, samples in the high bits and depths above 12 are converted to the planar format with the same
/// chroma raster and the least depth that holds theirs, at most
/// 12. RGB becomes limited-range 4:4:4 by the matrix that the file names, or that of BT.601 if it names none.
class PictureMaker {
public:
    /// @param path  for errors
    explicit PictureMaker(std::string path) : path_(std::move(path)) {}

    /// Takes the samples out of `decoded`; the frame's `index`, `pts` and order are the caller's to set.
    /// @throws InputError if its size or format differ from the first picture's, or the format can't be converted
    Frame make(AVFrame& decoded);

    /// Format of the first picture, once there was one.
    const std::optional<PictureFormat>& format() const { return format_; }

private:
    Handle<AVFrame> planar(AVFrame& decoded);
    void prepare(const AVFrame& decoded);
    void require_unchanged(const AVFrame& decoded) const;

    std::string path_;
    std::optional<PictureFormat> format_;
    AVPixelFormat source_ = AV_PIX_FMT_NONE, target_ = AV_PIX_FMT_NONE;
    Handle<SwsContext> converter_;  ///< null when pictures are passed through
};

/// The planar format that pictures of `source` are handed out in: `source` itself if it is one, or else the nearest;
/// `AV_PIX_FMT_NONE` if there is none.
AVPixelFormat planar_format_for(AVPixelFormat source);

}  // namespace guardband::media
