#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

namespace guardband::measure {

/// By how much luma lies beside the colour.
struct PlacedLag {
    double lag = 0;          ///< luma samples that luma lies to the right of the colour
    double uncertainty = 0;  ///< one standard uncertainty
};

/// How well each lag explains what parts of the picture show, part by part: bands by zones along the rows. Leaving out
/// one part after another tells how sure the best lag of all is.
class LagCurves {
public:
    using Curve = std::vector<double>;  ///< by lag
    /// Where a curve is greatest, lags from its middle; nothing where it can't be told.
    using Peak = std::function<std::optional<double>(const Curve&)>;

    static constexpr std::size_t bands = 6, zones = 3;

    explicit LagCurves(std::size_t lags) : by_part_(bands * zones, Curve(lags)) {}

    std::size_t lags() const { return by_part_.front().size(); }
    /// Of one part. @param band, zone  beyond the last: the last
    Curve& part(std::size_t band, std::size_t zone);
    /// Of all parts together.
    Curve total() const { return without(by_part_.size()); }
    /// The peak of all, and its scatter by the jack-knife; nothing if a part decides whether there is one, or if fewer
    /// than four show anything. In lags.
    std::optional<PlacedLag> place(const Peak& peak) const;
    /// The parts of one zone alone.
    LagCurves of_zone(std::size_t zone) const;

private:
    Curve without(std::size_t left_out) const;

    std::vector<Curve> by_part_;
};

}  // namespace guardband::measure
