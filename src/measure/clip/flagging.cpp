#include "measure/clip/flagging.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace guardband::measure {
namespace {

constexpr std::size_t first_line = 2, flagged_lines = 8, fewest_fields = 4;
/// Of the lines in the middle every fourth tells as much, beside sines.
constexpr std::size_t coarse = 4;

/// What sines do in a field, samples.
class Motion {
public:
    Motion(const LineTiming& timing, std::span<const dsp::Sine> sines) : timing_(timing), sines_(sines) {}

    /// @param frame  from the first of the series
    double at(std::int64_t frame, std::size_t parity, std::size_t line) const {
        const double time_s = timing_.field_s(frame, parity) + static_cast<double>(line) / timing_.line_hz;
        double sum = 0;
        for (const dsp::Sine& sine : sines_) sum += sine.at(time_s);
        return sum;
    }

private:
    const LineTiming& timing_;
    std::span<const dsp::Sine> sines_;
};

/// Mean of the first lines less that of the middle half. @param value  of a line; not a number where it isn't known
template <typename Value>
std::optional<double> top_less_middle(std::size_t lines, std::size_t middle_step, const Value& value) {
    if (lines < 4 * (first_line + flagged_lines)) return std::nullopt;
    double top = 0, middle = 0, middles = 0;
    for (std::size_t i = first_line; i < first_line + flagged_lines; ++i) top += value(i);
    for (std::size_t i = lines / 4; i < lines - lines / 4; i += middle_step)
        if (const double one = value(i); !std::isnan(one)) middle += one, ++middles;
    // Which of the first lines are lost depends on how far they lie off.
    if (std::isnan(top) || middles == 0) return std::nullopt;
    return top / flagged_lines - middle / middles;
}

std::optional<Estimated> mean_of(std::span<const double> by_field_px) {
    if (by_field_px.size() < fewest_fields) return std::nullopt;
    double sum = 0, squares = 0;
    for (const double one : by_field_px) sum += one, squares += one * one;
    const auto count = static_cast<double>(by_field_px.size());
    const double scatter = std::sqrt(std::max(squares / count - sum * sum / count / count, 0.0));
    constexpr double alike = 5;  // fields whose pictures err alike
    return Estimated{sum / count, scatter * std::sqrt(alike / count) + 0.03};
}

}  // namespace

std::optional<Estimated> flagging(const DisplacementStore& store) {
    std::vector<double> by_field;
    for (std::size_t frame = 0; frame < store.frames(); ++frame)
        for (const std::vector<StoredLine>& field : store.frame(frame))
            if (const auto one = top_less_middle(field.size(), 1, [&](std::size_t i) {
                    return field[i].placed() ? static_cast<double>(field[i].place_px) : NAN;
                }))
                by_field.push_back(*one);
    return mean_of(by_field);
}

std::optional<Estimated> flagging_beside_sines(const DisplacementSeries& series, std::int64_t frames,
                                               const LineTiming& timing, std::span<const dsp::Sine> sines) {
    const std::size_t lines = series.lines();
    if (series.frames().empty()) return std::nullopt;
    const Motion motion(timing, sines);
    const std::int64_t first = series.frames().front().index;
    std::vector<double> left;
    for (const DisplacementSeries::Frame& frame : series.frames())
        for (std::size_t parity = 0; parity < 2; ++parity)
            if (const auto one = top_less_middle(lines, coarse, [&](std::size_t i) {
                    const auto place = static_cast<double>(frame.fields[parity][i].place_px);
                    return place - motion.at(frame.index - first, parity, i);
                }))
                left.push_back(*one);
    std::optional<Estimated> out = mean_of(left);
    if (!out) return std::nullopt;
    double moved = 0;
    for (std::int64_t frame = 0; frame < frames; ++frame)
        for (std::size_t parity = 0; parity < 2; ++parity)
            moved +=
                *top_less_middle(lines, coarse, [&](std::size_t i) { return motion.at(frame - first, parity, i); });
    moved /= 2 * static_cast<double>(frames);
    constexpr double of_amplitude = 0.03;  // what the sines may be wrong by
    out->value += moved;
    out->error = std::hypot(out->error, of_amplitude * moved);
    return out;
}

}  // namespace guardband::measure
