#include "measure/clip/scaling.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "measure/interlace_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int least_width = 256, least_height = 192;
constexpr std::int64_t early_frames = 60, late_step = 4;
constexpr int rows_of_frame = 10, columns_of_frame = 24;
/// From one frame to the next, in step with nothing that moves.
constexpr std::int64_t row_stride = 37, column_stride = 151;
/// Blanking and lines below the head switch.
constexpr int left_out_lines = 8;
/// Mean square of the change, in squared codes of the clip: less is rounding.
constexpr float least_change = 1;
/// Of the clip's size: what was smaller before is not thought of.
constexpr double least_share = 0.3;

template <typename Sample>
void differ(const std::byte* now, const std::byte* before, int x, int count, float* out) {
    const auto *a = reinterpret_cast<const Sample*>(now) + x, *b = reinterpret_cast<const Sample*>(before) + x;
    for (int i = 0; i < count; ++i) out[i] = static_cast<float>(static_cast<int>(a[i]) - static_cast<int>(b[i]));
}

bool changes(std::span<const float> values) {
    float squares = 0;
    for (const float value : values) squares += value * value;
    return squares >= least_change * static_cast<float>(values.size());
}

std::size_t size(int n) { return static_cast<std::size_t>(std::max(0, n)); }

/// What stood there before: one of the sizes that leave this trace, one that is in use if there is; the others are
/// alternatives.
Figure size_of(const ResamplingTrace& trace, int now, const std::vector<double>& in_use, const char* unit,
               const char* how) {
    std::vector<double> sizes{std::round(now * (1 - trace.cycles)), std::round(now * (1 + trace.cycles))};
    if (trace.cycles > least_share) sizes.push_back(std::round(now * trace.cycles));
    sizes.push_back(std::round(now * (2 - trace.cycles)));
    const double uncertainty = std::max(0.5, now * trace.uncertainty);
    const auto used = std::ranges::find_if(sizes, [&](double size) {
        return std::ranges::any_of(in_use, [&](double one) { return std::abs(one - size) <= 2 * uncertainty; });
    });
    if (used != sizes.end()) std::rotate(sizes.begin(), used, used + 1);
    Figure figure = Figure::measured(sizes[0], uncertainty, unit);
    figure.with_alternatives({sizes.begin() + 1, sizes.end()});
    return figure.with_note(fmt::format("the pictures bear the step of a scaler{}", how));
}

std::vector<double> heights_in_use(const table::Table& table) {
    std::vector<double> heights;
    for (const table::Raster& raster : table.rasters) heights.push_back(raster.height());
    return heights;
}

/// Those of the rasters, and of their heights in square samples at 4:3 and 16:9.
std::vector<double> widths_in_use(const table::Table& table) {
    std::vector<double> widths;
    for (const table::Raster& raster : table.rasters)
        for (const double width : {raster.width() * 1.0, raster.height() * 4 / 3.0, raster.height() * 16 / 9.0})
            widths.push_back(width);
    return widths;
}

}  // namespace

Scaling::Scaling(const ClipContext& context)
    : context_(context),
      width_(context.info.picture.width),
      height_(context.info.picture.height / 2 * 2),
      usable_(width_ >= least_width && height_ >= least_height),
      along_(usable_ ? size(width_ - 2) : 0),
      down_fields_(usable_ ? size(height_ / 2 - 1 - left_out_lines) : 0),
      down_frames_(usable_ ? size(height_ - 2 - 2 * left_out_lines) : 0),
      column_levels_(usable_ ? size(width_) : 0),
      field_levels_(usable_ ? size(height_ / 2) : 0),
      frame_levels_(usable_ ? size(height_) : 0),
      change_(usable_ ? std::max(size(width_), size(height_ * columns_of_frame)) : 0) {}

void Scaling::read_change(const media::Frame& frame, int y, int x, int count, float* out) const {
    const std::byte *now = frame.planes[0].row(y), *before = previous_->planes[0].row(y);
    if (frame.format.bit_depth == 8)
        differ<std::uint8_t>(now, before, x, count, out);
    else
        differ<std::uint16_t>(now, before, x, count, out);
}

void Scaling::see(const media::Frame& frame, const FrameFeatures& features) {
    if (!usable_) return;
    if (frame.damaged) {
        previous_.reset();
        return;
    }
    if (previous_ && (frames_ < early_frames || frames_ % late_step == 0)) {
        add_levels(features);
        see_rows(frame);
        see_columns(frame);
        ++looked_at_;
    }
    ++frames_;
    previous_ = frame;  // shares the samples
}

void Scaling::add_levels(const FrameFeatures& features) {
    for (const Grid<std::uint32_t>& sums : features.column_sums)
        for (std::size_t i = 0; i < sums.cells.size(); ++i)
            column_levels_[i % size(width_)] += static_cast<double>(sums.cells[i]);
    for (int y = 0; y < height_; ++y) {
        const auto first =
            features.segment_sums.cells.begin() + static_cast<std::ptrdiff_t>(y) * features.segment_sums.width;
        const auto sum =
            static_cast<double>(std::accumulate(first, first + features.segment_sums.width, std::uint32_t{0}));
        field_levels_[size(y / 2)] += sum, frame_levels_[size(y)] += sum;
    }
}

void Scaling::see_rows(const media::Frame& frame) {
    const int usable = height_ - 2 * left_out_lines, apart = usable / rows_of_frame;
    for (int i = 0; i < rows_of_frame; ++i) {
        const int y = left_out_lines + i * apart + static_cast<int>((looked_at_ + i) * row_stride % apart);
        const std::span<float> row(change_.data(), size(width_));
        read_change(frame, y, 0, width_, row.data());
        if (!changes(row)) continue;
        const std::size_t third = size(y) * RoughnessProfile::parts / size(height_);
        along_.add_along(row, third);
        along_.count(third);
    }
}

void Scaling::see_columns(const media::Frame& frame) {
    constexpr std::size_t columns = columns_of_frame;
    const int x = static_cast<int>(looked_at_ * column_stride % (width_ - columns_of_frame));
    for (int y = 0; y < height_; ++y)
        read_change(frame, y, x, columns_of_frame, change_.data() + static_cast<std::size_t>(y) * columns);
    if (!changes({change_.data(), static_cast<std::size_t>(height_) * columns})) return;
    const std::size_t third = size(x) * RoughnessProfile::parts / size(width_);
    const auto row = [this](int y) { return change_.data() + static_cast<std::size_t>(y) * columns; };
    const int end = height_ - 2 * left_out_lines;
    for (int y = 2; y < end; ++y) {
        down_fields_.add_across(row(y - 2), row(y), row(y + 2), columns, size(y / 2 - 1), third);
        down_frames_.add_across(row(y - 1), row(y), row(y + 1), columns, size(y - 2), third);
    }
    for (int field = 0; field < 2; ++field) down_fields_.count(third);
    down_frames_.count(third);
}

Figure Scaling::width_figure() const {
    const auto trace = along_.trace(column_levels_);
    return trace ? size_of(*trace, width_, widths_in_use(context_.table), "samples", "")
                 : Figure::unknown("no trace of a scaler along the lines");
}

Figure Scaling::height_figure() const {
    const auto field = down_fields_.trace(field_levels_), frame = down_frames_.trace(frame_levels_);
    if (!field && !frame) return Figure::unknown("no trace of a scaler down the picture");
    if (field && (!frame || field->depth > frame->depth))
        return size_of(*field, height_, heights_in_use(context_.table), "lines", ", field by field");
    const bool mixed = context_.interlace.scan() == InterlaceEvidence::Scan::Interlaced;
    return size_of(*frame, height_, heights_in_use(context_.table), "lines",
                   mixed ? ", frame by frame: its two fields are mixed" : "");
}

void Scaling::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    const char* nothing = !usable_              ? "the picture is too small"
                          : looked_at_ == 0     ? "no two whole frames have been read"
                          : along_.lines() == 0 ? "nothing moves and there is no noise"
                                                : nullptr;
    figures.add("scaled_from_width", nothing != nullptr ? Figure::unknown(nothing) : width_figure());
    figures.add("scaled_from_height", nothing != nullptr ? Figure::unknown(nothing) : height_figure());
}

}  // namespace guardband::measure
