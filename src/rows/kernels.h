#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace guardband::rows {

/// Samples in a segment of a row. What is left over at the right end of a row belongs to no segment.
inline constexpr int segment_samples = 16;

/// Samples in a comb cell: five segments, because 640, 720, 1280 and 1920 all hold a whole number of them.
inline constexpr int comb_cell_samples = 80;

/// Sums over one comb cell of a row, from which its variances and the covariance follow.
struct CombMoments {
    std::int32_t comb = 0;          ///< sum of d = 2 middle − above − below
    std::int32_t mean = 0;          ///< sum of m = 2 middle + above + below
    std::int32_t comb_squares = 0;  ///< sum of d²
    std::int32_t products = 0;      ///< sum of d m
    std::int32_t mean_squares = 0;  ///< sum of m²

    friend bool operator==(const CombMoments&, const CombMoments&) = default;
};

/// A smoothed row at 4 times the codes of 10 bits, its slope per sample at 8 times. Both filters have five taps, of one
/// design: the slope is the derivative of the smoothed row within 2.5 % up to 0.2 cycles per sample, within 1 % up to
/// 0.13.
inline constexpr float smooth_scale = 4, slope_scale = 8;

/// What is done to a row of samples, for samples of 8 bits (`std::uint8_t`) or of up to 12 bits (`std::uint16_t`;
/// higher codes overflow). Rows need no alignment and nothing beyond their last sample is read. All sums are exact, so
/// the two versions agree to the bit.
template <typename Sample>
struct Kernels {
    /// Adds the sum of each segment's samples to `sums[segment]`; `width / segment_samples` of them.
    void (*add_segment_sums)(const Sample* row, int width, std::uint32_t* sums);

    /// Adds the sum of each segment's squared differences of two rows to `sums[segment]`; those of 16
    /// rows fit in there.
    /// @returns whether the rows are equal over their whole width, the samples past the last segment included
    bool (*add_segment_squared_differences)(const Sample* row, const Sample* other, int width, std::uint32_t* sums);

    /// Writes the sum of each segment's samples to `sums[segment]`, and the sum of the squares of each comb cell's to
    /// `squares[cell]`.
    void (*row_moments)(const Sample* row, int width, std::uint32_t* sums, std::uint32_t* squares);

    /// Writes the sum of `middle` times the sum of the rows around it, over each comb cell, to `products[cell]`.
    void (*comb_products)(const Sample* above, const Sample* middle, const Sample* below, int width,
                          std::uint32_t* products);

    /// Writes how `middle` combs against the rows around it to `cells[cell]`; `width / comb_cell_samples` of them.
    /// Samples are shifted down by `shift` bits first; the sums fit when that leaves 10 bits.
    void (*comb_moments)(const Sample* above, const Sample* middle, const Sample* below, int width, int shift,
                         CombMoments* cells);

    /// Adds each column's sample to `sums[column]`; `width` of them. Sixteen rows fit.
    void (*add_to_columns)(const Sample* row, int width, std::uint16_t* sums);

    /// Counts each sample in `counts[code]`. `counts` holds four tables of `codes` entries, one after another, that the
    /// caller adds up when it wants the histogram: neighbours are often equal, and two additions to one counter would
    /// wait for each other. Samples of `codes` and more are not counted.
    void (*count_codes)(const Sample* row, int width, int codes, std::uint32_t* counts);

    /// Writes the row smoothed by (1 8 14 8 1)/32, and its slope by (−7 −18 0 18 7)/64. The two samples at either end
    /// are not smoothed and have no slope. Samples of `bits` bits, 8 to 12; those beyond 10 lose the bits below.
    void (*smooth_and_slope)(const Sample* row, int width, int bits, std::int16_t* smooth, std::int16_t* slope);
};

/// Written for the reader; the truth that the fast version is tested against.
template <typename Sample>
const Kernels<Sample>& plain_kernels();

/// Chosen at the first call for the processor that runs it.
template <typename Sample>
const Kernels<Sample>& fast_kernels();

template <typename Sample>
struct NamedKernels {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    const Kernels<Sample>* kernels;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen. Not while another
/// thread uses rows.
template <typename Sample>
std::vector<NamedKernels<Sample>> fast_kernels_of_each_target();

}  // namespace guardband::rows
