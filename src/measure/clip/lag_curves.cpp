#include "measure/clip/lag_curves.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr std::size_t fewest_parts = 4;

}  // namespace

LagCurves::Curve& LagCurves::part(std::size_t band, std::size_t zone) {
    return by_part_[std::min(band, bands - 1) * zones + std::min(zone, zones - 1)];
}

LagCurves LagCurves::of_zone(std::size_t zone) const {
    LagCurves out(lags());
    for (std::size_t p = 0; p < by_part_.size(); ++p)
        if (p % zones == zone) out.by_part_[p] = by_part_[p];
    return out;
}

LagCurves::Curve LagCurves::without(std::size_t left_out) const {
    Curve sum(lags());
    for (std::size_t p = 0; p < by_part_.size(); ++p)
        if (p != left_out)
            for (std::size_t i = 0; i < sum.size(); ++i) sum[i] += by_part_[p][i];
    return sum;
}

std::optional<PlacedLag> LagCurves::place(const Peak& peak) const {
    const auto place = peak(total());
    if (!place) return std::nullopt;
    double squares = 0;
    std::size_t used = 0;
    for (std::size_t p = 0; p < by_part_.size(); ++p) {
        if (*std::ranges::max_element(by_part_[p]) <= 0) continue;
        const auto moved = peak(without(p));
        if (!moved) return std::nullopt;
        squares += (*moved - *place) * (*moved - *place), ++used;
    }
    if (used < fewest_parts) return std::nullopt;
    const auto parts = static_cast<double>(used);
    return PlacedLag{*place, std::sqrt(squares * (parts - 1) / parts)};
}

}  // namespace guardband::measure
