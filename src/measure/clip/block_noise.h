#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <optional>
#include <vector>

#include "measure/clip/block_search.h"
#include "media/clip.h"
#include "rows/spectra.h"

namespace guardband::measure {

/// What two frames differ by in one block when motion has been taken out. Variances are of one sample of one frame, in
/// squared 8-bit codes.
struct BlockNoise {
    static constexpr std::size_t bands = 8;  ///< of equal width, from 0 to half the sampling rate

    std::array<float, bands> band{};  ///< variance by frequency along the line
    float temporal = 0;               ///< their sum
    float spatial = 0;                ///< against the lines above and below instead of the frame before
    float detail = 0;                 ///< how much there is that could be misplaced: mean square of the slopes along
                                      ///< the line and across lines together, noise not counted
    float moved_samples = 0;          ///< to the right, the part of a sample included
    float moved_lines = 0;            ///< down, in lines of the field, likewise
};

/// Measures the noise of blocks.
///
/// Method: lines of the block and of the place it came from are transformed (64 samples, Hann window); what is left of
/// the motion is found on lines 0, 2, 4, 6 and taken out as a phase, which moves a line by any part of a sample without
/// changing its noise; what lines 1, 3, 5, 7 then differ by is noise, half of it in either frame. Each of these lines
/// may lie a little aside by itself, as those of a tape do. A part of a line in height is taken out to first order, by
/// the slope across lines. What is common to a block (light that changes) doesn't count, nor what is the same in both
/// frames.
class BlockNoiseMeter {
public:
    /// @param bit_depth  of the planes, 8 to 12
    explicit BlockNoiseMeter(int bit_depth) : bit_depth_(bit_depth) {}

    /// @param shift  of the block, whole samples and lines
    BlockNoise luma(const media::Plane& now, const media::Plane& before, const FieldBlock& block, BlockShift shift);
    /// Of a colour plane, motion known. @param block  in samples and rows of the plane
    /// @param moved_samples, lines  as they are in the plane
    BlockNoise chroma(const media::Plane& now, const media::Plane& before, const FieldBlock& block, float moved_samples,
                      int lines);

    /// Power along the lines of the block that was measured last, by frequency, of one sample, squared 8-bit codes: all
    /// of them together are its variance.
    std::array<float, FieldBlock::samples / 2 + 1> power() const;

    /// About the mean level of the block that was measured last, 8-bit codes.
    float level() const { return level_; }
    /// How alike the noise of lines is, from -1 to 1: of the next line of the frame, and of the next of the field. For
    /// a block that stands still; what changes by as much everywhere doesn't count. Nothing without noise, or where the
    /// other field moves.
    std::optional<std::array<float, 2>> likeness_of_lines(const media::Plane& now, const media::Plane& before,
                                                          const FieldBlock& block);

private:
    static constexpr std::size_t samples = FieldBlock::samples, bins = samples / 2 + 1, lines = FieldBlock::lines;
    static_assert(samples == rows::spectrum_samples && bins == rows::spectrum_bins);
    using Spectrum = std::array<std::complex<float>, bins>;

    void set_window(float shift);
    void transform(const media::Plane& plane, int y, int x, Spectrum& out);
    void transform_block(const media::Plane& now, const media::Plane& before, const FieldBlock& block, int x_before,
                         int lines_before, float part);
    void transform_before(const media::Plane& before, const FieldBlock& block, int x_before, int lines_before,
                          float part);
    float part_of_sample(std::size_t first, std::size_t step, float start, float anchor) const;
    float anchor_of(std::size_t first, std::size_t step, float part) const;
    float slope_share(float part) const;
    BlockNoise differ(bool lines_lie_apart, float part);

    int bit_depth_;
    rows::WindowedSpectrum spectrum_ = rows::fast_spectrum();
    float level_ = 0;  ///< of the block, about which all is reckoned
    std::array<float, samples> row_{}, window_{};
    std::array<Spectrum, lines> now_{};
    std::array<Spectrum, lines + 1> before_{};  ///< and the line below the block
};

}  // namespace guardband::measure
