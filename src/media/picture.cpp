#include "media/picture.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <tuple>

#include "media/damage.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

constexpr int greatest_depth = 12;

bool is_yuvj(AVPixelFormat format) {
    switch (format) {
        case AV_PIX_FMT_YUVJ411P:
        case AV_PIX_FMT_YUVJ420P:
        case AV_PIX_FMT_YUVJ422P:
        case AV_PIX_FMT_YUVJ440P:
        case AV_PIX_FMT_YUVJ444P:
            return true;
        default:
            return false;
    }
}

bool has_flag(const AVPixFmtDescriptor& d, std::uint64_t flag) { return (d.flags & flag) != 0; }
bool has_alpha(const AVPixFmtDescriptor& d) { return has_flag(d, AV_PIX_FMT_FLAG_ALPHA); }
bool is_rgb(const AVPixFmtDescriptor& d) {
    return has_flag(d, AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BAYER);
}
bool has_chroma(const AVPixFmtDescriptor& d) { return is_rgb(d) || d.nb_components >= 3; }

bool in_machine_order(const AVPixFmtDescriptor& d) {
    return d.comp[0].depth <= 8 || has_flag(d, AV_PIX_FMT_FLAG_BE) == (std::endian::native == std::endian::big);
}

/// Does component `i` fill plane `i` by itself, value in the low bits?
bool lies_alone(const AVPixFmtDescriptor& d, int i) {
    const AVComponentDescriptor& c = d.comp[i];
    return c.plane == i && c.offset == 0 && c.shift == 0 && c.step == (c.depth > 8 ? 2 : 1) &&
           c.depth == d.comp[0].depth;
}

/// Is it what `Frame` promises? An alpha plane behind the others does no harm: it is not handed on.
bool is_planar(const AVPixFmtDescriptor& d) {
    constexpr std::uint64_t others = AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_BITSTREAM;
    if (is_rgb(d) || has_flag(d, others) || !in_machine_order(d)) return false;
    if (d.comp[0].depth < 8 || d.comp[0].depth > greatest_depth) return false;
    const int components = has_chroma(d) ? 3 : 1;
    for (int i = 0; i < components; ++i)
        if (!lies_alone(d, i)) return false;
    return true;
}

/// How badly a planar format suits a source: loss of depth or chroma raster first, then surplus. Lower is better.
auto misfit(const AVPixFmtDescriptor& source, const AVPixFmtDescriptor& target) {
    const int wanted_depth = std::clamp(source.comp[0].depth, 8, greatest_depth);
    const int shift_x = is_rgb(source) ? 0 : source.log2_chroma_w, shift_y = is_rgb(source) ? 0 : source.log2_chroma_h;
    const int lost = std::max(0, target.log2_chroma_w - shift_x) + std::max(0, target.log2_chroma_h - shift_y);
    const int surplus = std::max(0, shift_x - target.log2_chroma_w) + std::max(0, shift_y - target.log2_chroma_h);
    const int depth = target.comp[0].depth;
    return std::tuple(has_chroma(source) != has_chroma(target), std::max(0, wanted_depth - depth), lost, surplus,
                      std::max(0, depth - wanted_depth));
}

PictureFormat describe(const AVFrame& frame, AVPixelFormat format) {
    const AVPixFmtDescriptor& d = *libav().av_pix_fmt_desc_get(format);
    PictureFormat picture;
    picture.width = frame.width;
    picture.height = frame.height;
    picture.bit_depth = d.comp[0].depth;
    picture.has_chroma = has_chroma(d);
    picture.chroma_shift_x = picture.has_chroma ? d.log2_chroma_w : 0;
    picture.chroma_shift_y = picture.has_chroma ? d.log2_chroma_h : 0;
    picture.chroma_centred = frame.chroma_location == AVCHROMA_LOC_CENTER ||
                             frame.chroma_location == AVCHROMA_LOC_TOP || frame.chroma_location == AVCHROMA_LOC_BOTTOM;
    picture.full_range = frame.color_range == AVCOL_RANGE_JPEG || is_yuvj(static_cast<AVPixelFormat>(frame.format));
    return picture;
}

std::array<Plane, 3> planes_of(const AVFrame& frame, const PictureFormat& format) {
    std::array<Plane, 3> planes;
    for (int i = 0; i < (format.has_chroma ? 3 : 1); ++i) {
        const int shift_x = i == 0 ? 0 : format.chroma_shift_x, shift_y = i == 0 ? 0 : format.chroma_shift_y;
        auto& plane = planes[static_cast<std::size_t>(i)];
        plane.data = reinterpret_cast<const std::byte*>(frame.data[i]);
        plane.stride_bytes = frame.linesize[i];
        plane.width = AV_CEIL_RSHIFT(format.width, shift_x);
        plane.height = AV_CEIL_RSHIFT(format.height, shift_y);
    }
    return planes;
}

/// Keeps the range as it is, except that RGB becomes limited-range Y'CbCr.
void set_colour(SwsContext& converter, const AVFrame& frame, bool source_is_rgb) {
    const int* matrix =
        libav().sws_getCoefficients(frame.colorspace == AVCOL_SPC_RGB ? SWS_CS_DEFAULT : frame.colorspace);
    const int full = frame.color_range == AVCOL_RANGE_JPEG ? 1 : 0;
    constexpr int unity = 1 << 16;
    libav().sws_setColorspaceDetails(&converter, matrix, source_is_rgb ? 1 : full, matrix, source_is_rgb ? 0 : full, 0,
                                     unity, unity);
}

Handle<SwsContext> make_converter(const AVFrame& frame, AVPixelFormat source, AVPixelFormat target) {
    constexpr int flags = SWS_BICUBIC | SWS_ACCURATE_RND | SWS_FULL_CHR_H_INP;
    auto converter = own(libav().sws_getContext(frame.width, frame.height, source, frame.width, frame.height, target,
                                                flags, nullptr, nullptr, nullptr));
    set_colour(*converter, frame, is_rgb(*libav().av_pix_fmt_desc_get(source)));
    return converter;
}

}  // namespace

AVPixelFormat planar_format_for(AVPixelFormat source) {
    const AVPixFmtDescriptor* wanted = libav().av_pix_fmt_desc_get(source);
    if (wanted == nullptr) return AV_PIX_FMT_NONE;
    if (is_planar(*wanted)) return source;
    if (libav().sws_isSupportedInput(source) == 0) return AV_PIX_FMT_NONE;
    const AVPixFmtDescriptor* best = nullptr;
    for (const AVPixFmtDescriptor* d = nullptr; (d = libav().av_pix_fmt_desc_next(d)) != nullptr;) {
        const AVPixelFormat format = libav().av_pix_fmt_desc_get_id(d);
        if (!is_planar(*d) || has_alpha(*d) || is_yuvj(format) || libav().sws_isSupportedOutput(format) == 0) continue;
        if (best == nullptr || misfit(*wanted, *d) < misfit(*wanted, *best)) best = d;
    }
    return best != nullptr ? libav().av_pix_fmt_desc_get_id(best) : AV_PIX_FMT_NONE;
}

void PictureMaker::prepare(const AVFrame& decoded) {
    source_ = static_cast<AVPixelFormat>(decoded.format);
    target_ = planar_format_for(source_);
    if (target_ == AV_PIX_FMT_NONE) {
        const char* name = libav().av_get_pix_fmt_name(source_);
        throw InputError(
            path_, fmt::format("its samples lie in a way that can't be read ({})", name != nullptr ? name : "unknown"),
            "convert it to planar Y'CbCr, e.g. yuv422p10");
    }
    if (target_ != source_) converter_ = make_converter(decoded, source_, target_);
    format_ = describe(decoded, target_);
}

void PictureMaker::require_unchanged(const AVFrame& decoded) const {
    if (decoded.width != format_->width || decoded.height != format_->height)
        throw InputError(path_,
                         fmt::format("the picture changes from {}×{} to {}×{}", format_->width, format_->height,
                                     decoded.width, decoded.height),
                         "cut it into one file per size");
    if (decoded.format != source_)
        throw InputError(path_, "the format of its samples changes on the way", "cut it into one file per format");
}

Handle<AVFrame> PictureMaker::planar(AVFrame& decoded) {
    auto result = own(libav().av_frame_alloc());
    if (!converter_) {
        libav().av_frame_move_ref(result.get(), &decoded);
        return result;
    }
    result->width = decoded.width;
    result->height = decoded.height;
    result->format = target_;
    if (libav().av_frame_get_buffer(result.get(), 0) < 0) throw std::bad_alloc();
    libav().sws_scale(converter_.get(), decoded.data, decoded.linesize, 0, decoded.height, result->data,
                      result->linesize);
    return result;
}

Frame PictureMaker::make(AVFrame& decoded) {
    if (format_)
        require_unchanged(decoded);
    else
        prepare(decoded);
    Frame frame;
    frame.damaged = is_damaged(decoded);
    frame.format = *format_;
    std::shared_ptr<AVFrame> picture = planar(decoded);
    frame.planes = planes_of(*picture, *format_);
    frame.owner = std::move(picture);
    return frame;
}

}  // namespace guardband::media
