#include "measure/clip/flat_picture.h"

#include <numeric>

namespace guardband::measure {
namespace {

constexpr double apart = 0.05;

/// Code below which a share of the samples lies.
double quantile(const std::vector<std::uint32_t>& histogram, double least) {
    double sum = 0;
    for (std::size_t code = 0; code < histogram.size(); ++code)
        if ((sum += histogram[code]) >= least) return static_cast<double>(code);
    return static_cast<double>(histogram.size()) - 1;
}

}  // namespace

LumaSpan luma_span(const std::vector<std::uint32_t>& histogram) {
    const double all = std::accumulate(histogram.begin(), histogram.end(), 0.0);
    return {quantile(histogram, apart * all), quantile(histogram, (1 - apart) * all)};
}

}  // namespace guardband::measure
