#include "measure/clip/drawn_picture.h"

#include <algorithm>
#include <cstring>
#include <numeric>

#include <fmt/format.h>

#include "measure/clip/flat_picture.h"
#include "measure/clip/luma_range.h"
#include "measure/clip/picture_sketch.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Severity;

/// All in 8-bit codes: how far a flat frame's level may wander; from where on it has a colour; how near black and white
/// it may lie.
constexpr double most_wander = 2, least_colour = 10, near_black = 10, near_white = 20;
constexpr double chroma_zero = 128;
/// Likeness of the pictures before and after.
constexpr double same_picture = 0.8;
/// Contrast of a picture at the moment when it is cut off, of what it was in the last seconds; in fades it sinks first.
constexpr double abruptly = 0.6, forgotten = 0.99;
/// Of a picture that black could interrupt, at most so much is black itself: titles on black come and go by themselves.
constexpr double most_black = 0.75;
constexpr double longest_black_s = 5;
/// Something moves in a frame if this share of its blocks changes by so many 8-bit codes, RMS; and in a stretch, if it
/// does so in half of its frames.
constexpr double moving_share = 0.005, moving_codes = 6;
constexpr std::int64_t still_of_restless = 2;
constexpr std::int64_t fewest_frames = 2;
constexpr std::size_t capacity = 1000;

/// Share of the samples at a code and below.
double share_below(const std::vector<std::uint32_t>& histogram, double code) {
    const auto end = static_cast<std::size_t>(std::clamp(code + 1, 0.0, static_cast<double>(histogram.size())));
    const double all = std::accumulate(histogram.begin(), histogram.end(), 0.0);
    const auto last = histogram.begin() + static_cast<std::ptrdiff_t>(end);
    return all > 0 ? std::accumulate(histogram.begin(), last, 0.0) / all : 1;
}

/// Of some rows in the middle of a plane.
double mean_of(const media::Plane& plane, int bit_depth) {
    double sum = 0, count = 0;
    for (int y = plane.height / 8; y < plane.height; y += std::max(1, plane.height / 8))
        for (int x = plane.width / 8; x < plane.width * 7 / 8; x += 4) {
            if (bit_depth > 8) {
                std::uint16_t sample = 0;
                std::memcpy(&sample, plane.row(y) + 2 * static_cast<std::ptrdiff_t>(x), 2);
                sum += sample;
            } else {
                sum += static_cast<double>(plane.row(y)[x]);
            }
            ++count;
        }
    return count > 0 ? sum / count : 0;
}

}  // namespace

DrawnPicture::DrawnPicture(const ClipContext& context) : clock_(context.info.time_base) {
    const LumaRange range = luma_range(context.info.picture, context.table);
    code_ = range.per_8_bit_code, black_ = range.to_8_bit(range.black), white_ = range.to_8_bit(range.white);
}

std::optional<DrawnPicture::Flat> DrawnPicture::flat_of(const media::Frame& frame,
                                                        const FrameFeatures& features) const {
    const LumaSpan span = luma_span(features.histogram);
    if (!span.is_flat(code_)) return std::nullopt;
    Flat flat{Colour::Grey, (span.low + span.high) / 2 / code_, chroma_zero, chroma_zero};
    if (frame.format.has_chroma) {
        flat.cb = mean_of(frame.planes[1], frame.format.bit_depth) / code_;
        flat.cr = mean_of(frame.planes[2], frame.format.bit_depth) / code_;
    }
    const double blue = flat.cb - chroma_zero, red = flat.cr - chroma_zero;
    if (std::hypot(blue, red) >= least_colour)
        flat.colour = blue > std::abs(red) ? Colour::Blue : Colour::Other;
    else if (flat.level >= white_ - near_white)
        return std::nullopt;
    else if (flat.level <= black_ + near_black)
        flat.colour = Colour::Black;
    return flat;
}

bool DrawnPicture::is_restless(const FrameFeatures& features) const {
    if (!features.has_previous) return false;
    const double least_code = moving_codes * code_;
    const auto least =
        static_cast<std::uint64_t>(FrameFeatures::segment * FrameFeatures::block_rows * least_code * least_code);
    std::size_t blocks = 0, moving = 0;
    for (const auto& change : features.change) {
        blocks += change.cells.size();
        moving +=
            static_cast<std::size_t>(std::ranges::count_if(change.cells, [least](auto one) { return one >= least; }));
    }
    return static_cast<double>(moving) > moving_share * static_cast<double>(blocks);
}

void DrawnPicture::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    const auto flat = flat_of(frame, features);
    if (!flat) {
        sketch_picture(features, now_);
        const bool dark = share_below(features.histogram, (black_ + near_black) * code_) > most_black;
        if (stretch_) end_stretch(dark ? nullptr : &now_);
        usual_contrast_ = std::max(rms(now_), forgotten * usual_contrast_);
        std::swap(before_, now_), before_is_dark_ = dark;
        return;
    }
    if (stretch_ && stretch_->flat.colour != flat->colour) end_stretch(nullptr);
    if (!stretch_) stretch_ = Stretch{frame.index, 0, 0, time_s, time_s, *flat};
    // The first one's change is that from another picture.
    stretch_->restless += stretch_->frames > 0 && is_restless(features) ? 1 : 0;
    ++stretch_->frames, stretch_->last_s = time_s;
    const Flat& first = stretch_->flat;
    if (std::abs(flat->level - first.level) > most_wander || std::abs(flat->cb - first.cb) > most_wander ||
        std::abs(flat->cr - first.cr) > most_wander)
        stretch_->steady = false;
}

void DrawnPicture::end_stretch(const Sketch* after) {
    const bool abrupt =
        after != nullptr && !before_is_dark_ && std::min(rms(before_), rms(*after)) >= abruptly * usual_contrast_;
    stretch_->returns = abrupt && likeness(before_, *after) >= same_picture;
    const bool black = stretch_->flat.colour == Colour::Black;
    const bool brief = stretch_->last_s - stretch_->time_s <= longest_black_s;
    const bool counts = black ? stretch_->returns && brief : stretch_->frames >= fewest_frames;
    const bool restless = still_of_restless * stretch_->restless >= stretch_->frames;
    if (counts && stretch_->steady && !restless && stretches_.size() < capacity) stretches_.push_back(*stretch_);
    stretch_.reset();
}

void DrawnPicture::finish(quantity::Figures&, std::vector<Event>& events) {
    if (stretch_) end_stretch(nullptr);
    for (const Stretch& s : stretches_) {
        // What is drawn repeats by itself.
        std::erase_if(events, [&s](const Event& other) {
            return (other.kind == "repeated" || other.kind == "freeze") && other.frame >= s.frame &&
                   other.frame < s.frame + s.frames;
        });
        Event event;
        event.kind = "drawn picture", event.severity = Severity::Fault;
        event.time_s = s.time_s, event.frame = s.frame, event.count = s.frames;
        const char* colour = s.flat.colour == Colour::Black  ? "black"
                             : s.flat.colour == Colour::Grey ? "grey"
                             : s.flat.colour == Colour::Blue ? "blue"
                                                             : "coloured";
        event.what = fmt::format("flat {}, {} {}", colour, s.frames, s.frames == 1 ? "frame" : "frames");
        if (s.returns) event.what += "; the picture before comes back";
        events.push_back(std::move(event));
    }
}

}  // namespace guardband::measure
