#include "measure/clip/vertical_jumps.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// A jump is this many rows of the field, and this many times what the shifts of the frames before scatter by.
constexpr double least_jump = 2, jump_in_scatters = 8;
/// How far a field may lie from where a tape's jump leaves it, rows: what a shift of a detailed picture errs by, and
/// what the camera does, over its scatter, but no more than makes a part of the jump.
constexpr double most_off = 0.25, off_in_scatters = 2, off_in_jumps = 0.25;
/// RMS of the second differences of the shifts from field to field, over that of the shifts. A movement of so many
/// cycles per field has 2 - 2 cos 2πf: a camera that is struck or carried, below 10 Hz at 50 fields a second, up to
/// 1.4. Places that are each field's own have 2.2.
constexpr double least_ragged = 1.6;

/// Second differences of a series over the series, RMS.
double raggedness(std::span<const double> shifts) {
    double squares = 0, differences = 0;
    for (std::size_t i = 1; i + 1 < shifts.size(); ++i) {
        const double difference = shifts[i - 1] - 2 * shifts[i] + shifts[i + 1];
        squares += shifts[i] * shifts[i], differences += difference * difference;
    }
    return squares > 0 ? std::sqrt(differences / squares) : 0;
}

}  // namespace

std::optional<VerticalJumps::Expected> VerticalJumps::expected() const {
    if (upper_.size() < frames_before) return std::nullopt;
    return Expected{dsp::median(std::span<const double>(upper_)), dsp::spread(std::span<const double>(upper_))};
}

bool VerticalJumps::stands_out(double rows, const Expected& expected) {
    return std::abs(rows - expected.rows) >= std::max(least_jump, jump_in_scatters * expected.scatter);
}

void VerticalJumps::add(const Shifts& shifts, bool jumps, bool lower_first, std::int64_t frame, double time_s) {
    last_[count_ % around] = shifts;
    const bool decides = decides_next();
    if (const auto now = expected(); jumps && now && shifts.upper)
        candidates_.push_back({count_, {frame, time_s, *shifts.upper - now->rows}, *now});
    if (shifts.upper)
        upper_.push_back(*shifts.upper);
    else
        upper_.clear();
    if (upper_.size() > frames_before) upper_.erase(upper_.begin());
    if (decides) {
        if (is_tape_s(candidates_.front(), lower_first)) found_.push_back(candidates_.front().jump);
        candidates_.pop_front();
    }
    ++count_;
}

/// Whether a shift beyond the expected one is none, the jump, or its way back.
bool VerticalJumps::fits(double off, const Candidate& candidate) {
    const double jump = std::abs(candidate.jump.rows);
    const double most = std::min(most_off + off_in_scatters * candidate.expected.scatter, off_in_jumps * jump);
    return std::abs(off) <= most || std::abs(std::abs(off) - jump) <= most;
}

bool VerticalJumps::is_tape_s(const Candidate& candidate, bool lower_first) const {
    const Shifts& next = at(candidate.position + 1);
    if (!next.upper) return false;
    // A movement that begins goes on.
    if (std::abs(*next.upper - candidate.expected.rows - candidate.jump.rows) < std::abs(candidate.jump.rows) / 2)
        return false;
    return is_apart(candidate) || is_ragged(candidate, lower_first);
}

/// Whether all fields around move as before, or by the jump.
bool VerticalJumps::is_apart(const Candidate& candidate) const {
    const std::size_t first = candidate.position - std::min(before, candidate.position);
    for (std::size_t position = first; position <= candidate.position + after; ++position)
        for (const auto& shift : {at(position).upper, at(position).lower})
            if (shift && !fits(*shift - candidate.expected.rows, candidate)) return false;
    return true;
}

/// Whether the fields around lie each elsewhere, as no camera takes them.
bool VerticalJumps::is_ragged(const Candidate& candidate, bool lower_first) const {
    if (candidate.position < before) return false;
    std::vector<double> shifts;
    for (std::size_t i = 0; i < around; ++i) {
        const auto& [upper, lower] = at(candidate.position - before + i);
        if (!upper || !lower) break;
        shifts.push_back((lower_first ? *lower : *upper) - candidate.expected.rows);
        shifts.push_back((lower_first ? *upper : *lower) - candidate.expected.rows);
    }
    return shifts.size() >= 2 * fewest_around && raggedness(shifts) >= least_ragged;
}

std::vector<VerticalJumps::Jump> VerticalJumps::take() { return std::exchange(found_, {}); }

}  // namespace guardband::measure
