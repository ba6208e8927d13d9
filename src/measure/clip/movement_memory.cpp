#include "measure/clip/movement_memory.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// The picture is cut up as what moves by itself is seldom all of it: bands and strips into so many pieces.
constexpr std::size_t sections = 3, strips = 4, halves = 2;
constexpr std::size_t fewest_pieces = 3;
/// Squared movement of a piece that counts in full, over the middle one's: what matched by chance lies far away.
constexpr double most_power = 4;
/// Least movement of a piece that counts, samples, and over its error: less may be what changes without moving.
constexpr double least_movement = 0.1, least_over_error = 4;

/// And over its error that counts of a field between two others.
constexpr double rest_over_error = 2;

double power_of(double first, double second) { return first * first + second * second; }

bool moves(const std::optional<ProfileShift>& shift) {
    return shift && std::abs(shift->samples) >= std::max(least_movement, least_over_error * shift->error);
}

/// The i-th of so many equal pieces.
std::span<const float> piece_of(std::span<const float> profile, std::size_t i, std::size_t pieces) {
    const std::size_t length = profile.size() / pieces;
    return profile.subspan(i * length, length);
}

void take_columns(const Grid<std::uint32_t>& sums, std::vector<float>& columns) {
    columns.resize(sums.cells.size());
    for (std::size_t i = 0; i < columns.size(); ++i)  // signed numbers convert faster
        columns[i] = static_cast<float>(static_cast<std::int32_t>(sums.cells[i])) / FrameFeatures::column_rows;
}

void take_rows(const Grid<std::uint32_t>& sums, std::size_t parity, std::vector<float>& rows) {
    const auto width = static_cast<std::size_t>(sums.width), height = static_cast<std::size_t>(sums.height);
    const std::size_t field_rows = (height + 1 - parity) / 2, segments = width / strips;
    rows.assign(strips * field_rows, 0);
    const auto samples = static_cast<float>(std::max<std::size_t>(1, segments) * FrameFeatures::segment);
    for (std::size_t row = 0; row < field_rows; ++row) {
        const std::uint32_t* from = sums.cells.data() + (2 * row + parity) * width;
        for (std::size_t strip = 0; strip < strips; ++strip, from += segments) {
            std::uint32_t sum = 0;
            for (std::size_t i = 0; i < segments; ++i) sum += from[i];
            rows[strip * field_rows + row] = static_cast<float>(sum) / samples;
        }
    }
}

}  // namespace

void MovementMemory::keep(const FrameFeatures& features, Parity parity, std::int64_t position) {
    const auto index = static_cast<std::size_t>(parity);
    Sketch& sketch = sketches_[static_cast<std::size_t>(position % size)];
    sketch.position = position, sketch.bands = features.column_sums[index].height;
    take_columns(features.column_sums[index], sketch.columns);
    take_rows(features.segment_sums, index, sketch.rows);
}

/// The shifts of all pieces to a field from the one before. @returns whether both are remembered
bool MovementMemory::follow(std::int64_t position, Shifts& shifts) {
    shifts.clear();
    if (!holds(position) || !holds(position - 1)) return false;
    const Sketch &before = at(position - 1), &now = at(position);
    const auto follow_pieces = [&](ProfileMatcher& matcher, std::span<const float> from, std::span<const float> to,
                                   std::size_t pieces, double unit) {
        if (from.size() != to.size()) return;
        for (std::size_t i = 0; i < pieces; ++i) {
            ProfileMatcher::prepare(piece_of(from, i, pieces), before_);
            ProfileMatcher::prepare(piece_of(to, i, pieces), now_);
            auto shift = matcher.shift(before_, now_);
            if (shift) shift->samples *= unit, shift->error *= unit;
            shifts.push_back(shift);
        }
    };
    follow_pieces(across_, before.columns, now.columns, sections * static_cast<std::size_t>(now.bands), 1);
    follow_pieces(along_, before.rows, now.rows, strips * halves, 2);  // frame lines, about as large as samples
    return true;
}

std::optional<double> MovementMemory::likeness(std::int64_t first, std::int64_t second) {
    if (!follow(first, first_) || !follow(second, second_) || first_.size() != second_.size()) return std::nullopt;
    std::vector<double> powers;
    for (std::size_t i = 0; i < first_.size(); ++i)
        if (moves(first_[i]) && moves(second_[i])) powers.push_back(power_of(first_[i]->samples, second_[i]->samples));
    if (powers.size() < fewest_pieces) return std::nullopt;
    const double most = most_power * dsp::median(std::span<const double>(powers));
    double products = 0, first_squares = 0, second_squares = 0;
    for (std::size_t i = 0; i < first_.size(); ++i) {
        if (!moves(first_[i]) || !moves(second_[i])) continue;
        const double first_shift = first_[i]->samples, second_shift = second_[i]->samples;
        const double weight = std::min(1.0, most / power_of(first_shift, second_shift));
        products += weight * first_shift * second_shift;
        first_squares += weight * first_shift * first_shift, second_squares += weight * second_shift * second_shift;
    }
    return products / std::sqrt(first_squares * second_squares);
}

double MovementMemory::rest(std::int64_t first, std::int64_t between, std::int64_t second) {
    if (!follow(first, first_) || !follow(between, between_) || !follow(second, second_)) return 0;
    if (first_.size() != between_.size() || first_.size() != second_.size()) return 0;
    std::vector<double> shares, over_errors;
    for (std::size_t i = 0; i < first_.size(); ++i) {
        if (!moves(first_[i]) || !moves(second_[i]) || !between_[i]) continue;
        const double shift = std::abs(between_[i]->samples);
        shares.push_back(shift / std::min(std::abs(first_[i]->samples), std::abs(second_[i]->samples)));
        over_errors.push_back(shift / std::max(between_[i]->error, 1e-6));
    }
    if (shares.size() < fewest_pieces) return 0;
    if (dsp::median(std::span<const double>(over_errors)) < rest_over_error) return 0;
    return dsp::median(std::span<const double>(shares));
}

}  // namespace guardband::measure
