#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace guardband::measure {

/// What a scaler leaves behind: places where a sample stands between two old ones are smoother than those where it
/// stands on one, and they come round again and again.
struct ResamplingTrace {
    double cycles = 0;       ///< how often they come round, per sample, above 0 to 0.5
    double uncertainty = 0;  ///< of that
    double depth = 0;        ///< amplitude, as a share of smoothness from 0 to 1
    double clearness = 0;    ///< that amplitude over the middle one of other rates
};

/// How smooth a picture is at each place of its lines, or of its columns.
///
/// Method: b of three samples a, b, c that follow one another lies more or less on the line between a and c; its
/// roughness q = d² / (d² + 3 g² + e) with d = a − 2b + c, g = c − a, is from 0 to 1, so that no edge outweighs the
/// others. (That interpolation makes the second derivative's variance come round with its step: "Detection
/// of linear and cubic interpolation in JPEG compressed images", 2005, from memory.) Its mean over many lines is
/// transformed; a line that stands at least eight times above the middle one is a trace if even and odd frames and the
/// three thirds of the picture show it alike: patterns of the picture itself end somewhere, or move.
///
/// Can't tell: scaling by whole factors and by those whose trace lies on a sixteenth of the sampling rate, where block
/// codecs leave theirs; fewer than twelve periods in the picture.
class RoughnessProfile {
public:
    static constexpr std::size_t parts = 3;

    explicit RoughnessProfile(std::size_t places = 0);

    /// Of each sample of a line but the first and the last, at places 0 to `samples - 3`.
    /// @param line  as many samples as places and two more  @param part  0 to 2: which third of the picture, by height
    /// for lines, by width for columns
    void add_along(std::span<const float> line, std::size_t part);
    /// Of samples in three rows, one below the other, at one place.
    void add_across(const float* above, const float* here, const float* below, std::size_t count, std::size_t place,
                    std::size_t part);
    /// To be called once for each line or set of columns that was added; all places have then been seen.
    void count(std::size_t part) { counts_[part] += 1; }

    double lines() const { return counts_[0] + counts_[1] + counts_[2]; }
    /// @param levels  mean level of the pictures at each place, or sums: what comes round in them too is a pattern,
    /// such as a fence, and no scaler's step, which leaves levels alone
    std::optional<ResamplingTrace> trace(std::span<const double> levels) const;

private:
    bool is_everywhere(const std::vector<float>& mean, const ResamplingTrace& trace) const;

    std::array<std::vector<float>, parts> sums_;
    std::array<double, parts> counts_{};
};

}  // namespace guardband::measure
