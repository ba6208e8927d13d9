#include "measure/clip/field_shifts.h"

#include <algorithm>

#include "rows/shift_kernels.h"

namespace guardband::measure {

void FieldShifts::begin(int cells, std::size_t lines) {
    constexpr std::size_t group = rows::shift_line_group;
    cells_ = cells, lines_ = lines, stride_ = (lines + group - 1) / group * group;
    const std::size_t size = at(cells_);
    samples_.assign(size, 0), weights_.assign(size, 0);
    left_.assign(lines, 0), slopes_.assign(lines, 0);
}

void FieldShifts::put(std::size_t line, const CellShifts& shifts) {
    left_[line] = shifts.left, slopes_[line] = shifts.slopes;
    for (int c = 0; c < cells_; ++c) {
        samples_[at(c) + line] = shifts.samples[static_cast<std::size_t>(c)];
        weights_[at(c) + line] = shifts.weight[static_cast<std::size_t>(c)];
    }
}

void FieldShifts::differences(FieldShifts& out) const {
    out.begin(cells_, lines_);
    for (int c = 0; c < cells_; ++c) {
        const float *from = samples(c), *weight = weights(c);
        float *difference = out.samples_.data() + at(c), *sure = out.weights_.data() + at(c);
        constexpr float least = std::numeric_limits<float>::min();  // 0 where both are
        for (std::size_t i = 1; i < lines_; ++i) {
            difference[i] = from[i] - from[i - 1];
            sure[i] = weight[i] * weight[i - 1] / std::max(weight[i] + weight[i - 1], least);
        }
    }
}

void FieldShifts::means(float systematic, std::vector<ShiftMean>& out, int first, int end) {
    mean_.resize(stride_), mean_weight_.resize(stride_), out.resize(lines_);
    const int last = std::min(end, cells_);
    rows::fast_shift_kernels().means_of_lines(
        {samples_.data() + at(first), weights_.data() + at(first), stride_, std::max(0, last - first), lines_},
        systematic, mean_.data(), mean_weight_.data());
    for (std::size_t i = 0; i < lines_; ++i) out[i] = {mean_[i], mean_weight_[i]};
}

}  // namespace guardband::measure
