#include "measure/features.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "measure/comb_cell.h"
#include "quantity/errors.h"
#include "rows/kernels.h"

namespace guardband::measure {
namespace {

static_assert(FrameFeatures::segment == rows::segment_samples && CombEnergy::cell_samples == rows::comb_cell_samples);

constexpr int segments_per_cell = rows::comb_cell_samples / rows::segment_samples;
/// Rows whose columns fit 16 bits together.
constexpr int rows_together = 16;

template <typename T>
T* row_of(Grid<T>& grid, int y) {
    return grid.cells.data() + static_cast<std::ptrdiff_t>(y) * grid.width;
}

template <typename T>
void clear(Grid<T>& grid) {
    std::fill(grid.cells.begin(), grid.cells.end(), T{});
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
          code_squared_(std::pow(4.0, std::max(0, format.bit_depth - 10))),
          spare_(static_cast<std::size_t>(format.width / rows::segment_samples)),
          of_row_(spare_),
          counts_(std::size_t{4} << format.bit_depth) {
        set_up(features_, format);
        const int cells = format.width / rows::comb_cell_samples;
        products_.resize(static_cast<std::size_t>(cells)), squares_.resize(static_cast<std::size_t>(cells));
        cells_.reset(cells, format.height), cells_before_.reset(cells, format.height);
        for (auto& columns : columns_) columns.resize(static_cast<std::size_t>(format.width));
    }

    const FrameFeatures& extract(const media::Frame& frame) override {
        if (frame.format != format_) throw quantity::DomainError("a frame's format differs from the clip's");
        begin(frame);
        for (int y = 0; y < format_.height; ++y) {
            sum_row(y);
            add_columns(y);
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
        std::swap(cells_before_, cells_);
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
        std::uint32_t* sums = row_of(features_.segment_sums, y);
        std::uint32_t* steps = row_of(features_.line_change, y);
        kernels_.row_moments(samples, format_.width, sums, squares_.data());
        std::fill(steps, steps + features_.line_change.width, 0U);
        if (y >= 2) kernels_.add_segment_squared_differences(samples, row(*current_, y - 2), format_.width, steps);
        CellSums* cells = row_of(cells_, y);
        for (int i = 0; i < cells_.width; ++i)
            cells[i] = {sum_of_cell(sums, i), squares_[static_cast<std::size_t>(i)],
                        static_cast<std::uint32_t>(sum_of_cell(steps, i))};
    }

    template <typename T>
    static T sum_of_cell(const T* segments, int cell) {
        static_assert(segments_per_cell == 5);
        const T* s = segments + static_cast<std::ptrdiff_t>(cell) * segments_per_cell;
        return s[0] + s[1] + s[2] + s[3] + s[4];
    }

    void add_columns(int y) {
        auto& columns = features_.column_sums[static_cast<std::size_t>(y % 2)];
        auto& together = columns_[static_cast<std::size_t>(y % 2)];
        const int line = y / 2, band = line / FrameFeatures::column_rows;
        if (band >= columns.height) return;
        kernels_.add_to_columns(row(*current_, y), format_.width, together.data());
        static_assert(FrameFeatures::column_rows % rows_together == 0);
        if (line % rows_together < rows_together - 1 && y + 2 < format_.height) return;
        std::uint32_t* sums = row_of(columns, band);
        for (std::size_t x = 0; x < together.size(); ++x) sums[x] += together[x];
        std::fill(together.begin(), together.end(), std::uint16_t{0});
    }

    /// Of the row and the one above it in the field.
    void add_texture(int y) {
        FieldTexture& texture = features_.texture[static_cast<std::size_t>(y % 2)];
        const int cell_row = y / 2 / CombEnergy::cell_rows;
        if (cell_row >= texture.across.height) return;
        const Sample* lower = row(*current_, y);
        std::fill(of_row_.begin(), of_row_.end(), 0U);
        kernels_.add_segment_squared_differences(lower, lower + 1, format_.width - 1, of_row_.data());
        const std::uint32_t *lower_sums = row_of(features_.segment_sums, y),
                            *upper_sums = row_of(features_.segment_sums, y - 2);
        float *across = row_of(texture.across, cell_row), *along = row_of(texture.along, cell_row),
              *spread = row_of(texture.spread, cell_row);
        constexpr double n = rows::segment_samples;
        for (int i = 0; i < cells_.width; ++i) {
            double of_sums = 0, of_steps = 0;
            for (int s = i * segments_per_cell; s < (i + 1) * segments_per_cell; ++s) {
                const double below = lower_sums[s], above = upper_sums[s];
                of_steps += (below - above) * (below - above) / n;
                of_sums += (below * below + above * above) / n;
            }
            const CellSums &here = cells_.at(i, y), &upper = cells_.at(i, y - 2);
            across[i] += static_cast<float>(sum_of_cell(of_row_.data(), i));
            along[i] += static_cast<float>(here.steps - of_steps);
            spread[i] += static_cast<float>(static_cast<double>(here.squares) + upper.squares - of_sums);
        }
    }

    void compare_row(int y) {
        const auto parity = static_cast<std::size_t>(y % 2);
        const bool is_steady_row = y / 2 % FrameFeatures::steady_step == 0;
        const bool equal =
            is_steady_row ? add_steady_change(y, parity) : add_change(y, *previous_, features_.change[parity]);
        features_.identical[parity] = features_.identical[parity] && equal;
    }

    /// As `add_change`, and the change without what brightness explains: a row between two equal ones combs by twice
    /// their difference.
    bool add_steady_change(int y, std::size_t parity) {
        std::fill(of_row_.begin(), of_row_.end(), 0U);
        const bool equal = kernels_.add_segment_squared_differences(row(*current_, y), row(*previous_, y),
                                                                    format_.width, of_row_.data());
        const int block = y / 2 / FrameFeatures::block_rows;
        Grid<std::uint32_t>& change = features_.change[parity];
        if (block >= change.height) return equal;
        std::uint32_t* sums = row_of(change, block);
        for (std::size_t i = 0; i < of_row_.size(); ++i) sums[i] += of_row_[i];
        float* steady = row_of(features_.steady_change[parity], block);
        const CellSums *now = row_of(cells_, y), *before = row_of(cells_before_, y);
        for (int i = 0; i < cells_.width; ++i) {
            const double now_squares = now[i].squares, before_squares = before[i].squares;
            const double products =
                (now_squares + before_squares - static_cast<double>(sum_of_cell(of_row_.data(), i))) / 2;
            steady[i] += 0.25F * comb_energy({2.0 * now[i].sum, 2.0 * before[i].sum, 4 * now_squares, 4 * products,
                                              4 * before_squares},
                                             code_squared_);
        }
        return equal;
    }

    void compare_row_over_two(int y) {
        add_change(y, *before_previous_, features_.change_over_two[static_cast<std::size_t>(y % 2)]);
    }

    bool add_change(int y, const media::Frame& other, Grid<std::uint32_t>& change) {
        const int block = y / 2 / FrameFeatures::block_rows;
        std::uint32_t* sums = block < change.height ? row_of(change, block) : spare_.data();
        return kernels_.add_segment_squared_differences(row(*current_, y), row(other, y), format_.width, sums);
    }

    /// The comb signals around the bottom row `y`, which has a top row on either side.
    void comb_row(int y) {
        if (y / 2 / CombEnergy::cell_rows >= features_.own.cells.height) return;
        comb(features_.own, {*current_, cells_}, {*current_, cells_}, y);
        if (!previous_) return;
        comb(features_.top_with_previous_bottom, {*current_, cells_}, {*previous_, cells_before_}, y);
        comb(features_.bottom_with_previous_top, {*previous_, cells_before_}, {*current_, cells_}, y);
    }

    struct Summed {
        const media::Frame& frame;
        Grid<CellSums>& cells;
    };

    void comb(CombEnergy& comb, const Summed& top, const Summed& bottom, int y) {
        kernels_.comb_products(row(top.frame, y - 1), row(bottom.frame, y), row(top.frame, y + 1), format_.width,
                               products_.data());
        const CellSums *above = row_of(top.cells, y - 1), *middle = row_of(bottom.cells, y),
                       *below = row_of(top.cells, y + 1);
        float* cells = row_of(comb.cells, y / 2 / CombEnergy::cell_rows);
        for (int i = 0; i < cells_.width; ++i) {
            // (a + b)² = 2 a² + 2 b² − (a − b)²
            const double around_squares =
                2.0 * above[i].squares + 2.0 * below[i].squares - static_cast<double>(below[i].steps);
            cells[i] +=
                comb_energy({2.0 * middle[i].sum, static_cast<double>(above[i].sum) + below[i].sum,
                             4.0 * middle[i].squares, 2.0 * products_[static_cast<std::size_t>(i)], around_squares},
                            code_squared_);
        }
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
    double code_squared_;  ///< of 10 bits, or of fewer if the clip has them
    const rows::Kernels<Sample>& kernels_ = rows::fast_kernels<Sample>();
    FrameFeatures features_;
    Grid<CellSums> cells_, cells_before_;                ///< of each row of this frame and of the one before
    std::vector<std::uint32_t> spare_;                   ///< where the changes of rows below the last block go
    std::vector<std::uint32_t> of_row_;                  ///< squares of one row's segments
    std::vector<std::uint32_t> squares_, products_;      ///< of one row's cells
    std::array<std::vector<std::uint16_t>, 2> columns_;  ///< per parity: of the last rows, up to `rows_together`
    std::vector<std::uint32_t> counts_;                  ///< four tables, see `count_codes`
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
