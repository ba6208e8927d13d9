#include "measure/features.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "quantity/errors.h"
#include "rows/kernels.h"

namespace guardband::measure {
namespace {

static_assert(FrameFeatures::segment == rows::segment_samples && CombEnergy::cell_samples == rows::comb_cell_samples);

/// Comb moments fit their sums up to this depth; deeper codes are shifted down.
constexpr int comb_bit_depth = 10;
constexpr std::size_t segments_per_cell = rows::comb_cell_samples / rows::segment_samples;

template <typename T>
T* row_of(Grid<T>& grid, int y) {
    return grid.cells.data() + static_cast<std::ptrdiff_t>(y) * grid.width;
}

template <typename T>
void clear(Grid<T>& grid) {
    std::fill(grid.cells.begin(), grid.cells.end(), T{});
}

/// Sum of squares of the comb signal in one row of a cell, less what its mean and its regression on the picture
/// explain.
float residual_energy(const rows::CombMoments& m) {
    constexpr float n = rows::comb_cell_samples;
    const float comb = static_cast<float>(m.comb), mean = static_cast<float>(m.mean);
    const float comb_squares = static_cast<float>(m.comb_squares) - comb * comb / n;
    const float products = static_cast<float>(m.products) - comb * mean / n;
    const float mean_squares = static_cast<float>(m.mean_squares) - mean * mean / n;
    constexpr float flat = n;  // a row that varies by less than a code has no picture to regress on
    return std::max(0.0F, comb_squares - products * products / (mean_squares + flat));
}

void set_up(CombEnergy& comb, const media::PictureFormat& format) {
    const int between = std::max(0, (format.height + 1) / 2 - 1);  // bottom rows that lie between two top rows
    comb.cells.reset(format.width / CombEnergy::cell_samples, between / CombEnergy::cell_rows);
}

std::array<Grid<float>*, 3> grids_of(FieldTexture& texture) {
    return {&texture.across, &texture.along, &texture.spread};
}

void set_up(FrameFeatures& features, const media::PictureFormat& format) {
    const int segments = format.width / FrameFeatures::segment;
    features.segment_sums.reset(segments, format.height);
    features.line_change.reset(segments, format.height);
    for (int parity = 0; parity < 2; ++parity) {
        const int field_rows = (format.height + 1 - parity) / 2;
        features.column_sums[static_cast<std::size_t>(parity)].reset(
            format.width, std::max(1, field_rows / FrameFeatures::column_rows));
    }
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const int field_rows = (format.height + 1 - static_cast<int>(parity)) / 2;
        for (auto* grid : grids_of(features.texture[parity]))
            grid->reset(format.width / CombEnergy::cell_samples, field_rows / CombEnergy::cell_rows);
    }
    set_up(features.own, format);
    features.histogram.assign(std::size_t{1} << format.bit_depth, 0);
}

void set_up_comparisons(FrameFeatures& features, const media::PictureFormat& format) {
    for (int parity = 0; parity < 2; ++parity)
        features.change[static_cast<std::size_t>(parity)].reset(
            format.width / FrameFeatures::segment, (format.height + 1 - parity) / 2 / FrameFeatures::block_rows);
    for (std::size_t parity = 0; parity < 2; ++parity)
        features.steady_change[parity].reset(format.width / CombEnergy::cell_samples, features.change[parity].height);
    set_up(features.top_with_previous_bottom, format);
    set_up(features.bottom_with_previous_top, format);
    features.has_previous = true;
}

void set_up_change_over_two(FrameFeatures& features) {
    for (std::size_t parity = 0; parity < 2; ++parity)
        features.change_over_two[parity].reset(features.change[parity].width, features.change[parity].height);
    features.has_two_previous = true;
}

}  // namespace

struct FeatureExtractor::State {
    State() = default;
    State(const State&) = delete;
    State& operator=(const State&) = delete;
    virtual ~State() = default;
    virtual const FrameFeatures& extract(const media::Frame& frame) = 0;
};

namespace {

/// Walks down the rows of a frame once; every sum that needs a row takes it while it is in the processor's cache.
template <typename Sample, typename Base>
class Walk final : public Base {
public:
    explicit Walk(const media::PictureFormat& format)
        : format_(format),
          shift_(std::max(0, format.bit_depth - comb_bit_depth)),
          moments_(static_cast<std::size_t>(format.width / rows::comb_cell_samples)),
          spare_(static_cast<std::size_t>(format.width / rows::segment_samples)),
          across_(spare_),
          along_(spare_),
          squares_(spare_),
          zeros_(static_cast<std::size_t>(format.width)),
          counts_(std::size_t{4} << format.bit_depth) {
        set_up(features_, format);
    }

    const FrameFeatures& extract(const media::Frame& frame) override {
        if (frame.format != format_) throw quantity::DomainError("a frame's format differs from the clip's");
        begin(frame);
        for (int y = 0; y < format_.height; ++y) {
            sum_row(y);
            if (y / 2 % CombEnergy::cell_rows % FieldTexture::pair_step == FieldTexture::first_of_pair + 1)
                add_texture(y);
            if (previous_) compare_row(y);
            if (before_previous_ && y / 2 % FrameFeatures::over_two_step == 0) compare_row_over_two(y);
            if (y % 2 == 0 && y >= 2) comb_row(y - 1);
            if ((y + frame.index) % FrameFeatures::histogram_step == 0)
                kernels_.count_codes(row(*current_, y), format_.width, 1 << format_.bit_depth, counts_.data());
        }
        finish_histogram();
        finish(features_.own);
        finish(features_.top_with_previous_bottom);
        finish(features_.bottom_with_previous_top);
        std::swap(before_previous_, previous_);
        previous_ = frame;  // shares the samples
        return features_;
    }

private:
    static const Sample* row(const media::Frame& frame, int y) {
        return reinterpret_cast<const Sample*>(frame.planes[0].row(y));
    }

    void begin(const media::Frame& frame) {
        if (previous_ && !features_.has_previous) set_up_comparisons(features_, format_);
        if (before_previous_ && !features_.has_two_previous) set_up_change_over_two(features_);
        clear(features_.segment_sums);
        clear(features_.line_change);
        for (auto& grid : features_.column_sums) clear(grid);
        for (auto& texture : features_.texture)
            for (auto* grid : grids_of(texture)) clear(*grid);
        for (auto& grid : features_.change) clear(grid);
        for (auto& grid : features_.change_over_two) clear(grid);
        for (auto& grid : features_.steady_change) clear(grid);
        for (auto* comb : {&features_.own, &features_.top_with_previous_bottom, &features_.bottom_with_previous_top})
            clear(comb->cells);
        features_.identical = {previous_.has_value(), previous_.has_value()};
        current_ = &frame;
    }

    void sum_row(int y) {
        const Sample* samples = row(*current_, y);
        kernels_.add_segment_sums(samples, format_.width, row_of(features_.segment_sums, y));
        if (y >= 2)
            kernels_.add_segment_squared_differences(samples, row(*current_, y - 2), format_.width,
                                                     row_of(features_.line_change, y));
        auto& columns = features_.column_sums[static_cast<std::size_t>(y % 2)];
        const int band = y / 2 / FrameFeatures::column_rows;
        if (band < columns.height) kernels_.add_to_columns(samples, format_.width, row_of(columns, band));
    }

    /// Of the row and the one above it in the field.
    void add_texture(int y) {
        FieldTexture& texture = features_.texture[static_cast<std::size_t>(y % 2)];
        const int cell_row = y / 2 / CombEnergy::cell_rows;
        if (cell_row >= texture.across.height) return;
        for (auto* sums : {&across_, &along_, &squares_}) std::fill(sums->begin(), sums->end(), 0U);
        const Sample *lower = row(*current_, y), *upper = row(*current_, y - 2);
        kernels_.add_segment_squared_differences(lower, lower + 1, format_.width - 1, across_.data());
        kernels_.add_segment_squared_differences(lower, upper, format_.width, along_.data());
        for (const Sample* one : {lower, upper})
            kernels_.add_segment_squared_differences(one, zeros_.data(), format_.width, squares_.data());
        const std::uint32_t *lower_sums = row_of(features_.segment_sums, y),
                            *upper_sums = row_of(features_.segment_sums, y - 2);
        float *across = row_of(texture.across, cell_row), *along = row_of(texture.along, cell_row),
              *spread = row_of(texture.spread, cell_row);
        constexpr float n = rows::segment_samples;
        const std::size_t segments = moments_.size() * segments_per_cell;
        for (std::size_t s = 0; s < segments; ++s) {
            const auto below = static_cast<float>(lower_sums[s]), above = static_cast<float>(upper_sums[s]);
            across[s / segments_per_cell] += static_cast<float>(across_[s]);
            along[s / segments_per_cell] += static_cast<float>(along_[s]) - (below - above) * (below - above) / n;
            spread[s / segments_per_cell] += static_cast<float>(squares_[s]) - (below * below + above * above) / n;
        }
    }

    void compare_row(int y) {
        const auto parity = static_cast<std::size_t>(y % 2);
        const bool equal = add_change(y, *previous_, features_.change[parity]);
        features_.identical[parity] = features_.identical[parity] && equal;
        if (y / 2 % FrameFeatures::steady_step == 0) add_steady_change(y, features_.steady_change[parity]);
    }

    /// A row between two equal ones combs by twice their difference.
    void add_steady_change(int y, Grid<float>& change) {
        const Sample* before = row(*previous_, y);
        add_residuals(before, row(*current_, y), before, 0.25F, y / 2 / FrameFeatures::block_rows, change);
    }

    void compare_row_over_two(int y) {
        add_change(y, *before_previous_, features_.change_over_two[static_cast<std::size_t>(y % 2)]);
    }

    bool add_change(int y, const media::Frame& other, Grid<std::uint64_t>& change) {
        const int block = y / 2 / FrameFeatures::block_rows;
        std::uint64_t* sums = block < change.height ? row_of(change, block) : spare_.data();
        return kernels_.add_segment_squared_differences(row(*current_, y), row(other, y), format_.width, sums);
    }

    /// The comb signals around the bottom row `y`, which has a top row on either side.
    void comb_row(int y) {
        comb(features_.own, *current_, *current_, y);
        if (!previous_) return;
        comb(features_.top_with_previous_bottom, *current_, *previous_, y);
        comb(features_.bottom_with_previous_top, *previous_, *current_, y);
    }

    void comb(CombEnergy& comb, const media::Frame& top, const media::Frame& bottom, int y) {
        add_residuals(row(top, y - 1), row(bottom, y), row(top, y + 1), 1, y / 2 / CombEnergy::cell_rows, comb.cells);
    }

    void add_residuals(const Sample* above, const Sample* middle, const Sample* below, float factor, int cell_row,
                       Grid<float>& grid) {
        if (cell_row >= grid.height) return;
        kernels_.comb_moments(above, middle, below, format_.width, shift_, moments_.data());
        float* cells = row_of(grid, cell_row);
        factor *= static_cast<float>(1 << 2 * shift_);
        for (std::size_t i = 0; i < moments_.size(); ++i) cells[i] += factor * residual_energy(moments_[i]);
    }

    static void finish(CombEnergy& comb) {
        comb.energy = 0;
        for (const float cell : comb.cells.cells) comb.energy += static_cast<double>(cell);
        comb.samples =
            static_cast<std::int64_t>(comb.cells.cells.size()) * CombEnergy::cell_samples * CombEnergy::cell_rows;
    }

    void finish_histogram() {
        const std::size_t codes = features_.histogram.size();
        for (std::size_t code = 0; code < codes; ++code)
            features_.histogram[code] =
                counts_[code] + counts_[codes + code] + counts_[2 * codes + code] + counts_[3 * codes + code];
        std::fill(counts_.begin(), counts_.end(), 0U);
    }

    media::PictureFormat format_;
    int shift_;
    const rows::Kernels<Sample>& kernels_ = rows::fast_kernels<Sample>();
    FrameFeatures features_;
    std::vector<rows::CombMoments> moments_;               ///< of one row
    std::vector<std::uint64_t> spare_;                     ///< where the changes of rows below the last block go
    std::vector<std::uint64_t> across_, along_, squares_;  ///< of one row's segments
    std::vector<Sample> zeros_;
    std::vector<std::uint32_t> counts_;  ///< four tables, see `count_codes`
    const media::Frame* current_ = nullptr;
    std::optional<media::Frame> previous_, before_previous_;
};

}  // namespace

FeatureExtractor::FeatureExtractor(const media::PictureFormat& format) {
    if (format.width < 1 || format.height < 1 || format.bit_depth < 8 || format.bit_depth > 12)
        throw quantity::DomainError("features need a picture of at least one sample, of 8 to 12 bits");
    if (format.bit_depth == 8)
        state_ = std::make_unique<Walk<std::uint8_t, State>>(format);
    else
        state_ = std::make_unique<Walk<std::uint16_t, State>>(format);
}

FeatureExtractor::~FeatureExtractor() = default;

const FrameFeatures& FeatureExtractor::extract(const media::Frame& frame) { return state_->extract(frame); }

}  // namespace guardband::measure
