#include "rows/kernels.h"

namespace guardband::rows {
namespace {

template <typename Sample>
void add_segment_sums(const Sample* row, int width, std::uint32_t* sums) {
    for (int x = 0; x < width / segment_samples * segment_samples; ++x) sums[x / segment_samples] += row[x];
}

template <typename Sample>
bool add_segment_squared_differences(const Sample* row, const Sample* other, int width, std::uint32_t* sums) {
    bool equal = true;
    for (int x = 0; x < width; ++x) {
        const int difference = row[x] - other[x];
        equal = equal && difference == 0;
        if (x < width / segment_samples * segment_samples)
            sums[x / segment_samples] += static_cast<std::uint32_t>(difference * difference);
    }
    return equal;
}

template <typename Sample>
void row_moments(const Sample* row, int width, std::uint32_t* sums, std::uint32_t* squares) {
    for (int segment = 0; segment < width / segment_samples; ++segment) sums[segment] = 0;
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) squares[cell] = 0;
    add_segment_sums(row, width, sums);
    for (int x = 0; x < width / comb_cell_samples * comb_cell_samples; ++x)
        squares[x / comb_cell_samples] += static_cast<std::uint32_t>(row[x] * row[x]);
}

template <typename Sample>
void comb_products(const Sample* above, const Sample* middle, const Sample* below, int width, std::uint32_t* products) {
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) {
        products[cell] = 0;
        for (int x = cell * comb_cell_samples; x < (cell + 1) * comb_cell_samples; ++x)
            products[cell] += static_cast<std::uint32_t>(middle[x] * (above[x] + below[x]));
    }
}

template <typename Sample>
void comb_moments(const Sample* above, const Sample* middle, const Sample* below, int width, int shift,
                  CombMoments* cells) {
    for (int cell = 0; cell < width / comb_cell_samples; ++cell) {
        CombMoments sum;
        for (int x = cell * comb_cell_samples; x < (cell + 1) * comb_cell_samples; ++x) {
            const int around = (above[x] >> shift) + (below[x] >> shift);
            const int comb = 2 * (middle[x] >> shift) - around, mean = 2 * (middle[x] >> shift) + around;
            sum.comb += comb;
            sum.mean += mean;
            sum.comb_squares += comb * comb;
            sum.products += comb * mean;
            sum.mean_squares += mean * mean;
        }
        cells[cell] = sum;
    }
}

template <typename Sample>
void add_to_columns(const Sample* row, int width, std::uint16_t* sums) {
    for (int x = 0; x < width; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + row[x]);
}

template <typename Sample>
void count_codes(const Sample* row, int width, int codes, std::uint32_t* counts) {
    for (int x = 0; x < width; ++x)
        if (row[x] < codes) ++counts[row[x]];
}

template <typename Sample>
void smooth_and_slope(const Sample* row, int width, int bits, std::int16_t* smooth, std::int16_t* slope) {
    const int before = bits > 10 ? bits - 10 : 0, after = bits > 10 ? 3 : bits - 7;
    const auto at = [row, before](int x) { return row[x] >> before; };
    for (int x = 0; x < width; ++x) {
        const bool inside = x >= 2 && x + 2 < width;
        const int sum = inside ? at(x - 2) + at(x + 2) + 8 * (at(x - 1) + at(x + 1)) + 14 * at(x) : 32 * at(x);
        const int rise = inside ? 7 * (at(x + 2) - at(x - 2)) + 18 * (at(x + 1) - at(x - 1)) : 0;
        smooth[x] = static_cast<std::int16_t>(sum >> after);
        slope[x] = static_cast<std::int16_t>(rise >> after);
    }
}

template <typename Sample>
constexpr Kernels<Sample> table{add_segment_sums<Sample>, add_segment_squared_differences<Sample>,
                                row_moments<Sample>,      comb_products<Sample>,
                                comb_moments<Sample>,     add_to_columns<Sample>,
                                count_codes<Sample>,      smooth_and_slope<Sample>};

}  // namespace

template <typename Sample>
const Kernels<Sample>& plain_kernels() {
    return table<Sample>;
}

template const Kernels<std::uint8_t>& plain_kernels();
template const Kernels<std::uint16_t>& plain_kernels();

}  // namespace guardband::rows
