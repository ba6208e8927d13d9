#include "measure/clip/timed_lines.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr std::size_t first_line = 2;

}  // namespace

TimedLines::TimedLines(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
                       std::size_t lines_of_mean, std::size_t frames) {
    end = std::min(end, series.lines());
    if (end < first_line + lines_of_mean) return;
    places_ = (end - first_line) / lines_of_mean;
    place_s_.resize(2 * places_);
    for (std::size_t i = 0; i < std::min(frames, series.frames().size()); ++i) {
        const DisplacementSeries::Frame& frame = series.frames()[i];
        for (std::size_t turn = 0; turn < 2; ++turn) {
            const std::size_t parity = timing.bottom_first ? 1 - turn : turn;
            const double field_s = timing.field_s(frame.index - series.frames().front().index, parity);
            for (std::size_t p = 0; p < places_; ++p) {
                double sum = 0, line_sum = 0, count = 0, apart = 0, pairs = 0;
                for (std::size_t k = first_line + p * lines_of_mean; k < first_line + (p + 1) * lines_of_mean; ++k) {
                    const DisplacementSeries::Line& line = frame.fields[parity][k];
                    if (std::isnan(line.place_px)) continue;
                    sum += static_cast<double>(line.place_px), line_sum += static_cast<double>(k), ++count;
                    if (line.has_pair()) apart += static_cast<double>(line.left_px - line.right_px) / 2, ++pairs;
                }
                const double middle =
                    static_cast<double>(first_line + p * lines_of_mean) + static_cast<double>(lines_of_mean - 1) / 2;
                place_s_[parity * places_ + p] = timing.field_s(0, parity) + middle / timing.line_hz;
                if (2 * count < static_cast<double>(lines_of_mean)) continue;
                all.times_s.push_back(field_s + line_sum / count / timing.line_hz);
                all.values.push_back(sum / count);
                apart_.push_back(pairs > 0 ? apart / pairs : NAN);
                place_.push_back(parity * places_ + p);
            }
        }
    }
}

std::optional<dsp::UnevenSeries> TimedLines::apart() const {
    dsp::UnevenSeries out;
    for (std::size_t n = 0; n < apart_.size(); ++n)
        if (!std::isnan(apart_[n])) out.times_s.push_back(all.times_s[n]), out.values.push_back(apart_[n]);
    if (2 * out.values.size() < apart_.size()) return std::nullopt;
    return out;
}

std::vector<double> TimedLines::pattern(const std::vector<double>& values, Locked locked) const {
    std::vector<double> sums(2 * places_), counts(2 * places_);
    for (std::size_t n = 0; n < values.size(); ++n)
        if (!std::isnan(values[n])) sums[place_[n]] += values[n], ++counts[place_[n]];
    double sum = 0, known = 0;
    for (std::size_t p = 0; p < sums.size(); ++p)
        if (counts[p] > 0) sums[p] /= counts[p], sum += sums[p], ++known;
    for (std::size_t p = 0; p < sums.size(); ++p) sums[p] = counts[p] > 0 ? sums[p] - sum / known : 0;
    for (std::size_t p = 0; p < places_; ++p) {
        const double alike = locked.alike ? (sums[p] + sums[p + places_]) / 2 : 0;
        const double apart = locked.apart ? (sums[p] - sums[p + places_]) / 2 : 0;
        sums[p] = alike + apart, sums[p + places_] = alike - apart;
    }
    return sums;
}

std::vector<double> TimedLines::pattern_of_apart(Locked locked) const { return pattern(apart_, locked); }

dsp::UnevenSeries TimedLines::pattern_series(const std::vector<double>& pattern) const { return {place_s_, pattern}; }

void TimedLines::subtract(const std::vector<double>& pattern, std::vector<double>& values) const {
    for (std::size_t n = 0; n < values.size() && !pattern.empty(); ++n) values[n] -= pattern[place_[n]];
}

}  // namespace guardband::measure
