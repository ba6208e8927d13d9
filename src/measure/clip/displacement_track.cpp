#include "measure/clip/displacement_track.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "dsp/robust.h"
#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// What is known of a step before anything is seen: 4 samples, 300 ns, RMS.
constexpr float loose_step = 1.0F / 16;
/// By how much what returns in each field may change from frame to frame, squared samples: 1 ns.
constexpr float step_drift = 0.0002F;
/// By how much cells differ whatever the noise, squared samples: outlines slant (2 ns), things move apart (1.5 ns).
constexpr float slant_spread = 0.001F, motion_spread = 0.0004F;
/// The slant of the picture's outlines is alike for about as many frames.
constexpr float slant_alike = 5;
/// What the variances of steps are multiplied by beside edges: with it they state what is found in clips of known
/// truth.
constexpr float scale_beside_edges = 2;
/// An edge this many deviations off what all other evidence says is taken for none.
constexpr float most_deviations = 4;
/// Either part of a line must place its step within 0.2 samples, 15 ns.
constexpr float half_weight = 25;
/// ... and within half a sample to say whether both parts see the same step.
constexpr float seen_weight = 4;
/// ... of rows that go together: the fit leaves over at most so much of the squared slopes. Rows of one scene leave 1.5
/// at most, such as lie on either side of a horizon 5 and more.
constexpr float most_left = 2.6F;
constexpr float anchor_weight = 1e-3F;
/// The first whose changes count for the jitter; those after the head switch don't.
constexpr std::size_t first_line = 3;

}  // namespace

DisplacementTrack::DisplacementTrack(const media::PictureFormat& format, double black_code, double codec_error)
    : format_(format), edges_(black_code, codec_error), shifts_(format) {}

void DisplacementTrack::see(const media::Frame& frame) {
    for (std::size_t parity = 0; parity < 2; ++parity) see_field(frame, parity);
    previous_ = frame;  // shares the samples
}

std::optional<float> DisplacementTrack::moved_down() const {
    const auto one = edges_.moved_down(0), other = edges_.moved_down(1);
    if (one && other) return (*one + *other) / 2;
    return one ? one : other;
}

void DisplacementTrack::see_field(const media::Frame& frame, std::size_t parity) {
    Field& field = fields_[parity];
    edges_.see(frame, static_cast<int>(parity), places_);
    edges_.rests(rests_);
    // Where edges place the lines, the frame before helps while the scene rests.
    const bool with_before = previous_ && field.lines.size() == places_.size() && (!edges_.found() || most_rest());
    compare_rows(frame, parity, with_before);
    step_left_.assign(places_.size(), std::numeric_limits<float>::quiet_NaN());
    step_right_ = step_left_;
    add_steps();
    field.steps.clear();
    if (!edges_.found()) add_halves(field.steps);
    if (with_before && !edges_.found())
        add_changes(field);
    else
        field.wander.restart();
    if (!with_before || !field.has_edges || !edges_.found()) field.earlier.forget();
    solve(field);
}

/// By how much a line lies to the right of the one above. @param last  the field's lines a frame ago; may be nothing
float DisplacementTrack::guess_above(std::size_t line, const PlacedLines* last) const {
    if (places_[line].weight > 0 && places_[line - 1].weight > 0)
        return places_[line].place_px - places_[line - 1].place_px;
    return last != nullptr ? last->place_px[line] - last->place_px[line - 1] : 0;
}

bool DisplacementTrack::most_rest() const {
    return 2 * std::ranges::count(rests_, 1) > static_cast<std::ptrdiff_t>(rests_.size());
}

void DisplacementTrack::compare_rows(const media::Frame& frame, std::size_t parity, bool with_before) {
    const PlacedLines& last = fields_[parity].lines;
    above_.begin(shifts_.cells(), places_.size());
    before_.begin(shifts_.cells(), with_before ? places_.size() : 0);
    CellShifts found;
    int guess_before = 0;
    for (std::size_t line = 0; line < places_.size(); ++line) {
        const int y = static_cast<int>(2 * line + parity);
        FilteredRow &row = rows_[line % 2], &row_above = rows_[1 - line % 2];
        shifts_.filter(frame, y, row);
        const bool sure = places_[line].weight > 0;
        if (line > 0) {
            int guess = static_cast<int>(std::lround(guess_above(line, with_before ? &last : nullptr)));
            shifts_.compare(row, row_above, guess, sure && places_[line - 1].weight > 0, found);
            // What detail errs by stays with a line while the scene moves along it: where the few lines after a head
            // switch lie on average is told better by the rest.
            if (edges_.found() && line + switch_zone < places_.size())
                shifts_.compare_detail(row, row_above, guess, found);
            above_.put(line, found);
        }
        if (!with_before) continue;
        // Filtered again rather than kept: a field of filtered rows is twice as much to fetch as the samples.
        shifts_.filter(*previous_, y, row_before_);
        if (sure) guess_before = static_cast<int>(std::lround(places_[line].place_px - last.place_px[line]));
        shifts_.compare(row, row_before_, guess_before, sure, found);
        before_.put(line, found);
    }
}

/// Steps by each line alone, and by its left and its right part where these see them well.
void DisplacementTrack::add_halves(std::vector<SeenStep>& seen) {
    above_.means(slant_spread, left_, 0, above_.cells() / 2);
    above_.means(slant_spread, right_, (above_.cells() + 1) / 2);
    seen.resize(places_.size());
    for (std::size_t i = 1; i < places_.size(); ++i) {
        if (from_above_[i].weight > 0) seen[i].px = from_above_[i].samples;
        const bool alike = above_.left()[i] <= most_left * above_.slopes()[i];
        if (alike && left_[i].weight >= seen_weight) seen[i].left_px = left_[i].samples;
        if (alike && right_[i].weight >= seen_weight) seen[i].right_px = right_[i].samples;
        if (left_[i].weight >= half_weight && right_[i].weight >= half_weight)
            step_left_[i] = left_[i].samples, step_right_[i] = right_[i].samples;
    }
}

/// Steps by the lines above alone.
void DisplacementTrack::add_steps() {
    above_.means(slant_spread, from_above_);
    const float scale = edges_.found() ? scale_beside_edges : scale_ * slant_alike;
    steps_.assign(places_.size(), {0, loose_step});
    for (std::size_t i = 1; i < places_.size(); ++i)
        if (from_above_[i].weight > 0) steps_[i] = {from_above_[i].samples, from_above_[i].weight / scale + loose_step};
}

/// Adds to the steps what those of the frame before, and what has changed since, say.
void DisplacementTrack::add_changes(Field& field) {
    const PlacedLines& last = field.lines;
    before_.differences(changes_);
    changes_.means(motion_spread, changed_);
    step_changes_.see(before_, changes_, first_line, std::max(places_.size(), first_line + switch_zone) - switch_zone);
    for (std::size_t i = 1; i < places_.size(); ++i) {
        if (changed_[i].weight <= 0) continue;
        const float value = last.place_px[i] - last.place_px[i - 1] + changed_[i].samples;
        const float variance = scale_ / changed_[i].weight + last.step_variance[i] + step_drift;
        const float weight_above = steps_[i].weight - loose_step, weights = weight_above + 1 / variance;
        if (weight_above > 0) calibrate(steps_[i].place_px - value, 1 / weight_above + variance);
        steps_[i] = {(weight_above * steps_[i].place_px + value / variance) / weights, weights + loose_step};
    }
    field.wander.see(before_, changed_);
}

/// How far two kinds of evidence lie apart says by how much their variances are off.
void DisplacementTrack::calibrate(float apart, float stated) {
    constexpr float most = 9;  // outliers count as three deviations
    apart_squares_ += static_cast<double>(std::min(apart * apart, most * stated));
    apart_stated_ += static_cast<double>(stated);
}

void DisplacementTrack::solve(Field& field) {
    field.has_edges = edges_.found();
    if (field.has_edges) {
        edges_.pairs(field.lines.left_px, field.lines.right_px, field.lines.pair_variance);
        edges_.others(other_places_);
        consensus_.settle(field.lines.left_px, other_places_, places_, steps_, {0, loose_step});
        for (std::size_t i = 0; i < places_.size(); ++i)
            if (places_[i].weight <= 0)
                field.lines.left_px[i] = field.lines.right_px[i] = std::numeric_limits<float>::quiet_NaN();
        weak_stretches_.lessen(places_);
    } else {
        places_[places_.size() / 2] = {0, anchor_weight};
    }
    chain_.solve(places_, steps_, field.lines);
    if (field.has_edges) {
        bool changed = false;
        for (std::size_t i = 0; i < places_.size(); ++i) {
            if (places_[i].weight <= 0) continue;
            const float off = places_[i].place_px - field.lines.place_px[i];
            if (off * off * places_[i].weight < most_deviations * most_deviations) continue;
            places_[i].weight = 0, changed = true;
        }
        if (changed) chain_.solve(places_, steps_, field.lines);
        if (field.earlier.add(before_, field.lines, rests_, places_)) chain_.solve(places_, steps_, field.lines);
        field.earlier.keep(field.lines);
        const auto parity = static_cast<std::size_t>(&field - fields_.data());
        still_errors_.see(parity, field.lines, rests_);
        still_errors_.take_out(parity, field.lines);
    } else {
        centre(field.lines);
    }
    field.lines.off_mean_px.clear();
    if (!field.has_edges) field.wander.give(field.lines.off_mean_px);
    if (!field.has_edges) {
        field.lines.left_px = step_left_, field.lines.right_px = step_right_;
        field.lines.pair_variance.clear();
    }
    if (apart_stated_ > 0)
        scale_ = std::clamp(scale_ * static_cast<float>(std::pow(apart_squares_ / apart_stated_, 0.2)), 0.7F, 50.0F);
    apart_squares_ = apart_stated_ = 0;
}

/// Relative places: the mean over the middle half is 0, and the anchor's uncertainty is none of the lines'.
void DisplacementTrack::centre(PlacedLines& lines) {
    const std::size_t count = lines.size();
    spare_.clear();
    for (std::size_t i = count / 4; i < count - count / 4; ++i)
        if (lines.variance[i] - 1 / anchor_weight < placed_variance) spare_.push_back(lines.place_px[i]);
    const auto middle = spare_.empty() ? 0.0F : static_cast<float>(dsp::median(std::span<const float>(spare_)));
    for (std::size_t i = 0; i < count; ++i) {
        lines.place_px[i] -= middle;
        lines.variance[i] = std::max(lines.variance[i] - 1 / anchor_weight, 0.0F);
    }
}

}  // namespace guardband::measure
