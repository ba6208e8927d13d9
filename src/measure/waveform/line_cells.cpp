#include "measure/waveform/line_cells.h"

#include <algorithm>
#include <cmath>

#include "rows/signal_kernels.h"

namespace guardband::measure {
namespace {

constexpr double wanted_us = 0.5;
constexpr int least_samples = 8;   ///< fewer beat with the subcarrier
constexpr double margin_us = 0.8;  ///< of the picture, left out at either end: its own edges
/// Where the table has no times: of a line, as in 625 lines.
constexpr double usual_start = 10.5 / 64, usual_porch = 1.5 / 64;

double fact_us(const FieldLayout& layout, const char* key, double otherwise) {
    const table::Fact* fact = layout.scanning == nullptr ? nullptr : layout.scanning->facts.known(key);
    return fact != nullptr && fact->is_number() ? fact->in("µs") : otherwise;
}

}  // namespace

CellReader::CellReader(const FieldLayout& layout, double rate_hz, double line_samples)
    : samples_per_us_(rate_hz * 1e-6),
      length_(std::max(least_samples, static_cast<int>(std::lround(wanted_us * samples_per_us_)))) {
    const double line_us = line_samples / samples_per_us_;
    from_us_ = fact_us(layout, "sync_to_picture", usual_start * line_us) + margin_us;
    const double to_us = line_us - fact_us(layout, "front_porch", usual_porch * line_us) - margin_us;
    cells_ = static_cast<std::size_t>(std::max(0.0, (to_us - from_us_) / cell_us()));
}

bool CellReader::read(const SampleWindow& window, float blanking, PictureLine& line) const {
    const auto first = static_cast<std::int64_t>(std::lround(line.place + from_us_ * samples_per_us_));
    const auto count = static_cast<std::int64_t>(cells_) * length_ + 1;
    if (!window.holds(first, first + count)) return false;
    line.cells.level.resize(cells_);
    line.cells.rough.resize(cells_);
    rows::fast_signal_kernels().cells(window.at(first, count).data(), static_cast<int>(cells_), length_,
                                      line.cells.level.data(), line.cells.rough.data());
    for (float& level : line.cells.level) level -= blanking;
    return true;
}

}  // namespace guardband::measure
