#include "measure/clip/scaling.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>
#include <numeric>
#include <sstream>

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

/// Coherence as such, against its scatter, against that of other sizes.
constexpr double least_coherence = 0.12, least_over_scatter = 4, least_over_other = 1.5;
/// More than shrinking leaves, for a picture that was stretched; of whole frames, against that of fields.
constexpr double least_over_shrunk = 0.15, least_of_fields = 0.6;

struct Step {
    double cycles = 0, uncertainty = 0;  ///< of the trace, per sample
    StepCoherence::Reading coherence;

    double best() const { return std::max(coherence.around_zero, coherence.around_half); }
    bool is_around_half() const { return coherence.around_half >= coherence.around_zero; }
    bool is_coherent() const {
        const double other = std::min(coherence.around_zero, coherence.around_half);
        return best() >= least_coherence && best() >= least_over_scatter * coherence.scatter &&
               best() >= least_over_other * other && (is_around_half() || cycles > least_share);
    }
};

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

/// Most that shrinking leaves around a half: each new sample the nearest old one, which weakens the least.
double coherence_of_shrunk(double cycles) {
    const double aliased = std::pow(sinc(0.5), 2), direct = std::pow(sinc((1 - cycles) / (1 + cycles) / 2), 2);
    return aliased / (aliased + direct);
}

/// Those that may have stood there before, for all that the pictures show.
std::vector<double> sizes_of(const Step& step, int now) {
    const double f = step.cycles;
    if (!step.is_coherent()) return {};
    if (!step.is_around_half()) return {std::round(now * f)};
    if (step.coherence.around_half >= coherence_of_shrunk(f) + least_over_shrunk) return {std::round(now * (1 - f))};
    return {std::round(now * (1 - f)), std::round(now * (1 + f)), std::round(now * (2 - f))};
}

/// What stood there before; among several the one that is in use, if it alone is; the others are alternatives.
Figure size_of(const Step& step, int now, const std::vector<double>& in_use, const char* unit, const char* how) {
    std::vector<double> sizes = sizes_of(step, now);
    if (sizes.empty()) return Figure::unknown("a scaler left a trace, too weak to tell from which size");
    const double uncertainty = std::max(0.5, now * step.uncertainty);
    const auto is_used = [&](double size) {
        return std::ranges::any_of(in_use, [&](double one) { return std::abs(one - size) <= 2 * uncertainty; });
    };
    if (sizes.size() > 1) {
        if (std::ranges::count_if(sizes, is_used) != 1)
            return Figure::unknown(fmt::format("a scaler left a trace: from {:.0f}, {:.0f} or {:.0f} {}", sizes[0],
                                               sizes[1], sizes[2], unit));
        std::stable_partition(sizes.begin(), sizes.end(), is_used);
    }
    Figure figure = Figure::measured(sizes[0], uncertainty, unit);
    figure.with_alternatives({sizes.begin() + 1, sizes.end()});
    return figure.with_note(fmt::format("the pictures bear the step of a scaler{}", how));
}

/// Widths or heights of other sizes that such pictures are stored in, `704x576, 352x288`.
std::vector<double> other_sizes(const table::Raster& raster, bool heights) {
    std::vector<double> sizes;
    const table::Fact* fact = raster.facts.known("stored_sizes");
    std::istringstream words(fact != nullptr ? fact->printed : std::string());
    for (double width = 0, height = 0; words >> width; words.ignore()) {
        words.ignore() >> height;
        sizes.push_back(heights ? height : width);
    }
    return sizes;
}

std::vector<double> heights_in_use(const table::Table& table) {
    std::vector<double> heights;
    for (const table::Raster& raster : table.rasters) {
        heights.push_back(raster.height());
        std::ranges::copy(other_sizes(raster, true), std::back_inserter(heights));
    }
    return heights;
}

/// Those of the rasters, of their heights in square samples at 4:3 and 16:9, and of other stored sizes.
std::vector<double> widths_in_use(const table::Table& table) {
    std::vector<double> widths;
    for (const table::Raster& raster : table.rasters) {
        for (const double width : {raster.width() * 1.0, raster.height() * 4 / 3.0, raster.height() * 16 / 9.0})
            widths.push_back(width);
        std::ranges::copy(other_sizes(raster, false), std::back_inserter(widths));
    }
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
      along_coherence_(usable_ ? size(width_ - 2) : 0),
      down_coherence_(usable_ ? size(height_ - 2 * left_out_lines) : 0),
      column_levels_(usable_ ? size(width_) : 0),
      field_levels_(usable_ ? size(height_ / 2) : 0),
      frame_levels_(usable_ ? size(height_) : 0),
      sharpened_(usable_ ? size(width_ - 2) : 0),
      column_(usable_ ? size(height_ - 2 * left_out_lines) : 0),
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
        if (i % 2 == 0) add_sharpened(row);
    }
}

/// Second differences: what coheres is fine detail, next to which pictures have much that is coarse.
void Scaling::add_sharpened(std::span<const float> row) {
    for (std::size_t x = 0; x < sharpened_.size(); ++x) sharpened_[x] = row[x] - 2 * row[x + 1] + row[x + 2];
    along_coherence_.add(sharpened_);
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
    for (std::size_t column = 0; column < columns; column += 4) {
        for (std::size_t i = 0; i < column_.size(); ++i) column_[i] = row(left_out_lines + static_cast<int>(i))[column];
        down_coherence_.add(column_);
    }
}

Figure Scaling::width_figure() const {
    const auto trace = along_.trace(column_levels_);
    if (!trace) return Figure::unknown("no trace of a scaler along the lines");
    return size_of({trace->cycles, trace->uncertainty, along_coherence_.every_place(trace->cycles)}, width_,
                   widths_in_use(context_.table), "samples", "");
}

Figure Scaling::height_figure() const {
    const auto of_fields = down_fields_.trace(field_levels_), of_frames = down_frames_.trace(frame_levels_);
    if (!of_fields && !of_frames) return Figure::unknown("no trace of a scaler down the picture");
    Step field, frame;
    const auto try_field = [&](double cycles, double uncertainty) {
        const Step step{cycles, uncertainty, down_coherence_.every_second_place(cycles)};
        if (step.is_coherent() && step.best() > field.best()) field = step;
    };
    const auto try_frame = [&](double cycles, double uncertainty) {
        const Step step{cycles, uncertainty, down_coherence_.every_place(cycles)};
        if (step.is_coherent() && step.best() > frame.best()) frame = step;
    };
    // What comes round with a rate in one lattice does so in the other with one of these. Two moments in the lines of a
    // frame that was scaled as a whole come round as fast as its fields would.
    if (of_fields) {
        try_field(of_fields->cycles, of_fields->uncertainty);
        for (const double cycles : {of_fields->cycles, of_fields->cycles / 2, 0.5 - of_fields->cycles / 2})
            try_frame(cycles, of_fields->uncertainty);
    }
    if (of_frames) {
        try_frame(of_frames->cycles, of_frames->uncertainty);
        try_field(std::min(2 * of_frames->cycles, 1 - 2 * of_frames->cycles), 2 * of_frames->uncertainty);
    }
    const auto heights = heights_in_use(context_.table);
    if (frame.best() <= least_of_fields * field.best())
        return size_of(field, height_, heights, "lines", ", field by field");
    const bool mixed = context_.interlace.scan() == InterlaceEvidence::Scan::Interlaced;
    return size_of(frame, height_, heights, "lines", mixed ? ", frame by frame: its two fields are mixed" : "");
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
