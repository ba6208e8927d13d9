#include "measure/clip/chroma_delay.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>

#include "measure/clip/sample_time.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int least_width = 320, least_height = 96;
/// Short clips are looked at closely; in long ones there is enough without.
constexpr std::int64_t early_frames = 100;
constexpr int early_blocks = 12, late_blocks = 2, column_interval = 4, early_strips = 8, late_strips = 3;
/// Rows of one field that are taken together, and frame lines from one to the next: so near that they cross the same
/// edges, so far that luma's texture beside these differs.
constexpr int rows_together = 6, rows_apart = 4;
constexpr int outer_px = 24, outer_lines = 8;  ///< left out at the raster's edges, where blanking may lie
constexpr int strip_px = 8;                    ///< of luma that make one column
constexpr double floor_codes = 1;
constexpr const char* too_few = "too few edges that luma and colour have in common";
/// By how many of their uncertainties the picture's left and right must disagree to be told apart.
constexpr double surely_apart = 3;
constexpr double most_uncertain_ns = 25, most_uncertain_lines = 0.5;
/// From one frame's first row to the next frame's, and to the next first window: neither falls in step with the
/// picture.
constexpr int row_stride = 37, window_stride = 13;

template <typename Sample>
void copy_row(const media::Plane& plane, int y, int first, float scale, std::vector<float>& out) {
    const auto* in = reinterpret_cast<const Sample*>(plane.row(y)) + first;
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = scale * static_cast<float>(in[i]);
}

/// Means of a strip, row by row of one field.
template <typename Sample>
void copy_strip(const media::Plane& plane, int parity, int first, int width, float scale, std::vector<float>& out) {
    for (std::size_t i = 0; i < out.size(); ++i) {
        const auto* in = reinterpret_cast<const Sample*>(plane.row(2 * static_cast<int>(i) + parity)) + first;
        int sum = 0;
        for (int x = 0; x < width; ++x) sum += in[x];
        out[i] = scale * static_cast<float>(sum) / static_cast<float>(width);
    }
}

const char* why_not(const media::PictureFormat& picture) {
    if (!picture.has_chroma) return "the clip has no colour";
    if (picture.width < least_width || picture.height < least_height) return "the picture is too small";
    return nullptr;
}

/// A comb filter of one line lowers colour by half of a field's line or by a whole one, each time that a tape is played
/// to be copied.
std::string passes_text(double lower_lines, double uncertainty) {
    if (lower_lines - 3 * uncertainty < 0.5) return "";
    const auto most = static_cast<int>(std::lround(std::max(1.0, lower_lines)));
    const auto least = static_cast<int>(std::ceil(std::max(1.0, lower_lines / 2 - uncertainty)));
    const std::string passes = least == most ? std::to_string(most) : fmt::format("{} to {}", least, most);
    return fmt::format("as {} pass{} through a comb filter of one line would leave it{}", passes, most == 1 ? "" : "es",
                       least > 1 ? ": a copy of a copy" : "");
}

}  // namespace

ChromaDelay::ChromaDelay(const ClipContext& context)
    : context_(context),
      unusable_(why_not(context.info.picture)),
      ns_per_px_(nanoseconds_per_sample(context.info.picture, context.table)),
      rows_(rows_together) {
    if (unusable_ != nullptr) return;
    const media::PictureFormat& picture = context.info.picture;
    along_.emplace(1 << picture.chroma_shift_x, EdgeSearch{});
    const int lines = 1 << picture.chroma_shift_y;
    const std::vector<CorrelationScale> all{{1.2, 1, 6, 32}, {2.4, 1, 8, 64}}, half{{2.4, 1, 8, 32}};
    if (lines <= 2) down_.emplace(lines, lines == 1 ? all : half, floor_codes);
}

void ChromaDelay::read_row(const media::Frame& frame, int y, std::array<std::vector<float>, 3>& out) {
    const media::PictureFormat& p = frame.format;
    const int step = 1 << p.chroma_shift_x, count = (p.width - 2 * outer_px) / step;
    const auto read = [&](std::size_t plane, int from, std::vector<float>& to) {
        const float scale = 1.0F / static_cast<float>(1 << (p.bit_depth - 8));
        to.resize(static_cast<std::size_t>(plane == 0 ? count * step : count));
        const int first = plane == 0 ? outer_px : outer_px / step;
        if (p.bit_depth == 8)
            copy_row<std::uint8_t>(frame.planes[plane], from, first, scale, to);
        else
            copy_row<std::uint16_t>(frame.planes[plane], from, first, scale, to);
    };
    if (p.chroma_shift_y == 0) {
        for (std::size_t plane = 0; plane < 3; ++plane) read(plane, y, out[plane]);
        return;
    }
    // A row of 4:2:0 stands for two of its field: where edges slant, both at once stand where it does.
    const int upper = y / 4 * 4 + y % 2, chroma_y = std::min(y / 4 * 2 + y % 2, frame.planes[1].height - 1);
    read(0, upper, out[0]), read(0, std::min(upper + 2, p.height - 1), lower_);
    for (std::size_t x = 0; x < lower_.size(); ++x) out[0][x] = (out[0][x] + lower_[x]) / 2;
    for (std::size_t plane = 1; plane < 3; ++plane) read(plane, chroma_y, out[plane]);
}

/// @param first  the uppermost of rows that are taken together, all of one field
void ChromaDelay::see_rows(const media::Frame& frame, int first) {
    std::array<ColourRow, rows_together> together;
    for (std::size_t i = 0; i < together.size(); ++i) {
        read_row(frame, first + static_cast<int>(i) * rows_apart, rows_[i]);
        together[i] = {rows_[i][0], rows_[i][1], rows_[i][2]};
    }
    const int middle = first + (rows_together - 1) * rows_apart / 2;
    const auto band =
        static_cast<std::size_t>(middle) * LagCurves::bands / static_cast<std::size_t>(frame.format.height);
    along_->add(together, band, static_cast<int>(frames_ * window_stride));
}

/// @param x  the first of the samples whose means are taken, line by line of one field
void ChromaDelay::see_column(const media::Frame& frame, int parity, int x) {
    const media::PictureFormat& p = frame.format;
    const float scale = 1.0F / static_cast<float>(1 << (p.bit_depth - 8));
    for (std::size_t plane = 0; plane < 3; ++plane) {
        auto& out = rows_.front()[plane];
        const int shift = plane == 0 ? 0 : p.chroma_shift_x;
        out.resize(static_cast<std::size_t>((frame.planes[plane].height - parity) / 2));
        if (p.bit_depth == 8)
            copy_strip<std::uint8_t>(frame.planes[plane], parity, x >> shift, strip_px >> shift, scale, out);
        else
            copy_strip<std::uint16_t>(frame.planes[plane], parity, x >> shift, strip_px >> shift, scale, out);
    }
    const auto band = static_cast<std::size_t>(x) * LagCurves::bands / static_cast<std::size_t>(p.width);
    const ColourRow column{rows_.front()[0], rows_.front()[1], rows_.front()[2]};
    down_->add({&column, 1}, band, static_cast<int>(frames_));
}

void ChromaDelay::see(const media::Frame& frame, const FrameFeatures&) {
    if (unusable_ != nullptr || frame.damaged) return;
    const media::PictureFormat& p = frame.format;
    const bool early = frames_ < early_frames;
    const int usable = p.height - 2 * outer_lines - (rows_together - 1) * rows_apart,
              blocks = early ? early_blocks : late_blocks;
    const int stride = usable / blocks, first = outer_lines + static_cast<int>(frames_ * row_stride % stride);
    for (int i = 0; i < blocks; ++i) see_rows(frame, first + i * stride);
    if (down_ && frames_ % column_interval == 0) {
        const int strips = early ? early_strips : late_strips;
        const int columns = (p.width - 2 * outer_px) / strip_px;
        const int apart = columns / strips;
        const int at = static_cast<int>(frames_ / column_interval * row_stride % apart);
        for (int parity = 0; parity < 2; ++parity)
            for (int i = 0; i < strips; ++i) see_column(frame, parity, outer_px + (at + i * apart) * strip_px);
    }
    ++frames_;
}

/// A tape or a machine delays colour by as much at the left as at the right. A lens spreads it from the picture's
/// middle, and a camera whose tubes do not agree shifts it by what varies over the picture: one delay may then be
/// anything between.
Figure ChromaDelay::delay() const {
    const media::PictureFormat& p = context_.info.picture;
    const double site_px = p.chroma_centred ? ((1 << p.chroma_shift_x) - 1) / 2.0 : 0;
    const auto ns = [&](const PlacedLag& placed) { return (site_px - placed.lag) * ns_per_px_; };
    const auto left = along_->find_at(0), right = along_->find_at(LagCurves::zones - 1);
    if (left && right) {
        const double apart_px = std::abs(left->lag - right->lag);
        if (apart_px * ns_per_px_ > 2 * most_uncertain_ns &&
            apart_px > surely_apart * std::hypot(left->uncertainty, right->uncertainty))
            return Figure::unknown(
                fmt::format("{:.0f} ns late at the left, {:.0f} at the right, as a lens or a camera leaves it",
                            ns(*left), ns(*right)));
    }
    const auto all = along_->find();
    if (!all || all->uncertainty * ns_per_px_ >= most_uncertain_ns) return Figure::unknown(too_few);
    return Figure::measured(ns(*all), all->uncertainty * ns_per_px_, "ns");
}

void ChromaDelay::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    const auto both_unknown = [&](const char* reason) {
        figures.add("chroma_delay", Figure::unknown(reason));
        figures.add("chroma_lower", Figure::unknown(reason));
    };
    if (unusable_ != nullptr) return both_unknown(unusable_);
    if (frames_ == 0) return both_unknown("no whole frame has been read");
    const media::PictureFormat& p = context_.info.picture;
    figures.add("chroma_delay", delay());
    // A field's line is two of the frame. A line of colour that stands for two of luma lies midway between these over
    // both fields, however files place it in either.
    const auto down = down_ ? down_->find() : std::nullopt;
    if (!down || 2 * down->uncertainty >= most_uncertain_lines)
        return void(figures.add("chroma_lower", Figure::unknown(too_few)));
    const double site_lines = ((1 << p.chroma_shift_y) - 1) / 2.0;
    const double lower = 2 * (site_lines - down->lag), uncertainty = 2 * down->uncertainty;
    figures.add("chroma_lower",
                Figure::measured(lower, uncertainty, "lines").with_note(passes_text(lower, uncertainty)));
}

}  // namespace guardband::measure
