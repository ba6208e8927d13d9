#include "measure/clip/repeat_finder.h"

#include <algorithm>
#include <cstddef>
#include <span>

#include "measure/clip/falling_quantiles.h"

namespace guardband::measure {
namespace {

/// Likeness of the movement after a repeat to that before it; see `MovementMemory`. Turns of a camera: -0.77 to -1.00;
/// what changes without moving, where pieces match by chance: -0.6 to 0.4 mostly; repeats in steady movement: 0.6 to 1.
constexpr double least_likeness = -0.6;
/// Where no more of the picture than this pauses, and none of it can be followed, it may be one thing that is drawn
/// anew from field to field, a meter or a clock, and shows the same twice of itself.
constexpr double most_of_one_thing = 0.025;
/// What moves before and after a repeat goes on by less than this in it. Measured on blots at 28 to 48 dB that move by
/// 0.5 to 8 samples a field: repeats 0 in all of 19 cases, as nothing stands out of the error; what goes on by a tenth
/// of its step 0 to 0.09, by a fifth 0 to 0.17, by three tenths 0.13 to 0.26 (0 below 40 dB, where it is half a sample
/// that has a step). Copies in DV: up to 0.043. So what goes on by a quarter is told from a repeat, on the average.
constexpr double most_rest = 0.15;
/// Change of a field of the other parity beside a repeat, noise taken out, over the lesser of the changes before
/// and after: where it moves on, and where it rests. At a turn it is a quarter, as speed is half. Repeats in movement
/// that slows down: 0.4 and more; repeats beside repeats: below 0.01.
constexpr double least_full = 0.33, most_resting = 0.12;
/// Change after a freeze, over that of a single step.
constexpr float catch_up = 1.5F;
constexpr std::size_t capacity = 100'000;

/// The lesser of two changes if both are motion of about the same speed; else 0.
float steady_motion(float a, float b) {
    const float lesser = std::min(a, b);
    return lesser > 4 * FieldChange::rounding && std::max(a, b) <= 2 * lesser ? lesser : 0;
}

/// What a field of the other parity does, of what pauses in a run.
enum class Step { Unknown, Rest, Part, Full };

/// Whether the fields of the other parity move on by full steps or rest, but nothing between; and rest for as long as
/// the run, to a field, as where a frame is held.
/// @param steps  of those from just before the run to just after it, and of one more on either side
bool fits_a_repeat(std::span<const Step> steps) {
    const auto beside = steps.subspan(1, steps.size() - 2);
    const auto count = [beside](Step step) { return std::ranges::count(beside, step); };
    const auto length = static_cast<std::ptrdiff_t>(beside.size()) - 1, rests = count(Step::Rest);
    const bool too_long = rests > length && (steps.front() == Step::Rest || steps.back() == Step::Rest);
    return count(Step::Part) == 0 && !too_long && rests + count(Step::Unknown) + 1 >= length;
}

void note(std::vector<RepeatRun>& runs, const RepeatRun& run) {
    if (runs.size() < capacity) runs.push_back(run);
}

}  // namespace

void RepeatFinder::add(const FrameFeatures& features, std::int64_t frame, double time_s, const RepeatFinder& other) {
    if (!features.has_previous) return;
    movement_.keep(features, parity_, changes_.count());
    const FieldChange& change = changes_.add(features, frame, time_s);
    if (changes_.count() == 1) first_frame_ = frame;
    if (!change.identical) {
        ++changed_;
        if (change.quiet) note_quiet(change);
    }
    if (const auto next = changes_.count() - 1 - PauseSearch::look_ahead; next >= 0) decide(next, other);
}

/// Counts a field whose blocks change alike as quiet if they change as much over two frames: a fade changes four times
/// as much.
void RepeatFinder::note_quiet(const FieldChange& change) {
    if (change.over_two.empty() || changes_.at(changes_.count() - 2).identical) return;
    scratch_.clear();
    for (std::size_t i = 0; i < change.over_two.size(); i += quantile_step)
        scratch_.push_back(FrameFeatures::over_two_step * change.over_two[i]);
    if (quantile(scratch_, 0.3) > quiet_spread * change.median) return;
    const double weight = 1.0 / static_cast<double>(++quiet_.fields);
    quiet_.change += weight * (static_cast<double>(change.median) - quiet_.change);
    quiet_.detail += weight * (static_cast<double>(change.detail) - quiet_.detail);
}

void RepeatFinder::end(const RepeatFinder& other) {
    while (decided_ < changes_.count()) decide(decided_, other);
    end_freeze();
    // The clip's first fields have nothing before them. They are repeats if they are like those after.
    std::erase_if(freezes_, [this](const RepeatRun& run) {
        if (run.first_frame > first_frame_ || run.frames > longest_) return false;
        note(repeats_, run);
        count_ += run.frames;
        return true;
    });
}

void RepeatFinder::decide(std::int64_t position, const RepeatFinder& other) {
    decided_ = position + 1;
    if (!changes_.at(position).repeated) {
        const std::int64_t length = search_.run_length(position, longest_);
        if (length > 0) {
            note(repeats_, describe(position, length, other));
            const auto& goes_on = repeats_.back().goes_on;
            if (goes_on[0] || goes_on[1]) longest_ = std::max(longest_, length);
        }
        for (std::int64_t i = 0; i < length; ++i) changes_.at(position + i).repeated = true;
        count_ += length;
    }
    const FieldChange& change = changes_.at(position);
    if (change.identical && !change.repeated) {
        if (freeze_.frames == 0) {
            freeze_ = {change.frame, 0, change.time_s, false, change.detail};
            before_freeze_ = changes_.holds(position - 2)
                                 ? steady_motion(changes_.at(position - 1).lively, changes_.at(position - 2).lively)
                                 : 0;
        }
        ++freeze_.frames;
    } else {
        if (freeze_.frames > 0) freeze_.catches_up = catches_up(position);
        end_freeze();
    }
}

bool RepeatFinder::may_be_one_thing() const {
    return static_cast<double>(search_.moving().size()) <=
           most_of_one_thing * static_cast<double>(search_.largest().size());
}

RepeatRun RepeatFinder::describe(std::int64_t position, std::int64_t length, const RepeatFinder& other) {
    const FieldChange& first = changes_.at(position);
    RepeatRun run{first.frame, length, first.time_s, false, first.detail};
    run.exact = true;
    for (std::int64_t i = 0; i < length; ++i) run.exact = run.exact && changes_.at(position + i).identical;
    const auto likeness = movement_.likeness(position - 1, position + length);
    bool scene_s_own = likeness ? *likeness < least_likeness : !run.exact && may_be_one_thing();
    for (std::int64_t i = 0; i < length && !scene_s_own; ++i)
        scene_s_own = movement_.rest(position - 1, position + i, position + length) > most_rest;
    run.goes_on = scene_s_own ? std::array{false, false} : goes_on(position, length, other);
    return run;
}

/// Rows of blocks in which either parity has a band of noise in a run or beside it.
std::vector<bool> RepeatFinder::noisy_around(std::int64_t position, std::int64_t length,
                                             const RepeatFinder& other) const {
    std::vector<bool> noisy(search_.largest().size() / static_cast<std::size_t>(std::max(1, changes_.width())) + 1,
                            false);
    for (std::int64_t i = position - 1; i <= position + length; ++i)
        for (const RepeatFinder* finder : {this, &other}) {
            if (!finder->changes_.holds(i)) continue;
            const std::vector<bool>& now = finder->changes_.at(i).noisy;
            for (std::size_t row = 0; row < std::min(now.size(), noisy.size()); ++row)
                if (now[row]) noisy[row] = true;
        }
    return noisy;
}

/// Whether the fields of the other parity do as beside a repeat, those of the blocks that the search has found to
/// pause.
/// @returns that if the run's parity comes first in its frames, and if it comes second
std::array<bool, 2> RepeatFinder::goes_on(std::int64_t position, std::int64_t length, const RepeatFinder& other) const {
    const std::vector<bool> noisy = noisy_around(position, length, other);
    const auto sum = [&](const std::vector<float>& blocks) {
        double all = 0;
        for (const std::uint32_t b : search_.moving())
            if (b < blocks.size() && !noisy[b / static_cast<std::size_t>(changes_.width())])
                all += static_cast<double>(blocks[b]);
        return all;
    };
    const double left = sum(search_.largest());
    double full = sum(changes_.at(position - 1).blocks) - left;
    if (changes_.holds(position + length)) full = std::min(full, sum(changes_.at(position + length).blocks) - left);
    const auto step = [&](std::int64_t i) {
        if (!other.changes_.holds(i)) return Step::Unknown;
        const double change = sum(other.changes_.at(i).blocks) - left;
        if (change <= most_resting * full) return Step::Rest;
        return change < least_full * full ? Step::Part : Step::Full;
    };
    std::vector<Step> steps;  // from two fields before the run to two after it
    for (std::int64_t i = position - 2; i <= position + length + 1; ++i) steps.push_back(step(i));
    const std::span all(steps);
    return {fits_a_repeat(all.first(all.size() - 1)), fits_a_repeat(all.last(all.size() - 1))};
}

/// Whether the field after a freeze lies further on than motion before and after it would take it in one step.
bool RepeatFinder::catches_up(std::int64_t after) const {
    if (!changes_.holds(after + 2)) return false;
    const float going_on = steady_motion(changes_.at(after + 1).lively, changes_.at(after + 2).lively);
    const float around = std::max(before_freeze_, going_on);
    return steady_motion(before_freeze_, going_on) > 0 && changes_.at(after).lively > catch_up * around;
}

void RepeatFinder::end_freeze() {
    if (freeze_.frames > 0) note(freezes_, freeze_);
    freeze_.frames = 0;
}

}  // namespace guardband::measure
