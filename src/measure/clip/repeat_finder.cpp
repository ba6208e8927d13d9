#include "measure/clip/repeat_finder.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

namespace guardband::measure {
namespace {

constexpr float block_samples = FrameFeatures::segment * FrameFeatures::block_rows;
/// Changes below this are rounding: two codes in every sample, as in fades of pictures without noise.
constexpr float rounding = 4 * block_samples;
/// Blocks that must move before and after and pause between.
constexpr std::size_t fewest_blocks = 8;
/// Blocks that go on changing beyond the level of those that pause, of their number. A moving object beside one that
/// pauses is no repeat; nor are a few blocks in which a codec copied noise while the rest has new one.
constexpr double most_moving = 0.1;
constexpr float unlike_noise = 2;
/// Blocks that change beyond that level although they changed far more before and after, of all: what shows through
/// where something in front of it pauses. Measured in copies with new noise: below 0.01; in such pictures 0.13 to 0.29.
constexpr double most_unlike = 0.12;
/// Of the blocks that move beyond doubt before and after, those that still do so in the run, and those that change more
/// than noise does: where all else moves by far more than its detail is coarse, half a sample of movement is left as
/// something that rests, as where a camera that shakes turns round. Copies with new noise, lines of 20 ns of jitter: up
/// to 0.055 and 0.15; copies in MPEG-2, whose noise follows detail: 0.04 and 0.25; turns of a camera: 0.03 to 0.16, 0.2
/// to 0.3.
constexpr double most_still_moving = 0.08, most_still_changing = 0.18;
constexpr float beyond_doubt = 4;
constexpr int fewest_movers = 32;
/// What is left of a block's change goes with the change before and after by this share at most: a copy leaves noise,
/// which has nothing to do with motion; things that slow down or turn round leave a part of their motion.
constexpr double most_left = 0.03;
/// Change may grow outwards by this and no more, on one side at least. Constant motion gives 1; an object that turns
/// round 4, or 2 where it is sharper than its step, and down to 1.3 where it is smaller than that.
constexpr double most_growth = 1.25;
/// A field after a repeat lies one step from the one before it: its change over two fields is that of the step,
/// whatever moves and whatever noise there is. Scatter of their quotient, on made repeats: 0.88 to 1.15. Uneven steps
/// of even texture give 1.3 to 2.
constexpr double most_of_one_step = 1.3;
/// Of the blocks that pause, how many must do so without what a change of brightness explains.
constexpr double steady_share = 0.5;
/// Likeness of the movement after a repeat to that before it; see `MovementMemory`. Turns of a camera: -0.77 to -1.00;
/// what changes without moving, where pieces match by chance: -0.6 to 0.4 mostly; repeats in steady movement: 0.6 to 1.
constexpr double least_likeness = -0.6;
/// Change of a field of the other parity beside a repeat, noise taken out, over the lesser of the changes before and
/// after: where it moves on, and where it rests. At a turn it is a quarter, as speed is half. Repeats in movement that
/// slows down: 0.4 and more; repeats beside repeats: below 0.01.
constexpr double least_full = 0.33, most_resting = 0.12;
/// Spread between deciles of an even field; see `quiet_spread`.
constexpr float even_spread = 1.35F;
/// How far to look outwards for fields that move, and how many of the pausing blocks must do so.
constexpr int look_out = 3;
constexpr double movers_share = 0.5;
constexpr std::int64_t longest_run = 4;
/// Fields after a position that are needed to judge it.
constexpr std::int64_t look_ahead = longest_run + look_out;
/// A field is quiet where the tenth and the third decile of its blocks' changes hardly differ: that is noise, as motion
/// depends on what moves. White noise gives 1.1, band-limited noise 1.2, motion of natural pictures from 2 up.
constexpr float quiet_spread = 1.5F;
/// Below half a squared code per sample there may be no noise, only rounding.
constexpr float least_noise = 0.5F * block_samples;
/// Every such block counts in quantiles.
constexpr std::size_t quantile_step = 4;
/// Change after a freeze, over that of a single step.
constexpr float catch_up = 1.5F;
constexpr std::size_t capacity = 100'000;

/// The lesser of two changes if both are motion of about the same speed; else 0.
float steady_motion(float a, float b) {
    const float lesser = std::min(a, b);
    return lesser > 4 * rounding && std::max(a, b) <= 2 * lesser ? lesser : 0;
}

/// Quantiles of the same values, asked for from the greatest to the least: each look leaves fewer values for the next.
class Falling {
public:
    explicit Falling(std::vector<float>& values) : values_(values), end_(values.end()) {}

    float quantile(double share) {
        if (values_.empty()) return 0;
        const auto nth = values_.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values_.size() - 1));
        if (nth < end_) std::nth_element(values_.begin(), nth, std::exchange(end_, nth));
        return *nth;
    }

private:
    std::vector<float>& values_;
    std::vector<float>::iterator end_;
};

float quantile(std::vector<float>& values, double share) { return Falling(values).quantile(share); }

void note(std::vector<RepeatRun>& runs, const RepeatRun& run) {
    if (runs.size() < capacity) runs.push_back(run);
}

}  // namespace

void RepeatFinder::add(const FrameFeatures& features, std::int64_t frame, double time_s, const RepeatFinder& other) {
    if (!features.has_previous) return;
    movement_.keep(features, static_cast<Parity>(parity_), added_);
    const auto& grid = features.change[parity_].cells;
    Change& change = at(added_);
    if (added_ == 0) first_frame_ = frame;
    change.frame = frame, change.time_s = time_s, change.repeated = false;
    change.identical = features.identical[parity_];
    change.blocks.assign(grid.begin(), grid.end());

    change.cells = features.steady_change[parity_].cells;
    change.over_two.clear();
    if (features.has_two_previous) {
        const auto& over_two = features.change_over_two[parity_].cells;
        change.over_two.assign(over_two.begin(), over_two.end());
    }
    width_ = features.change[parity_].width, cells_width_ = features.steady_change[parity_].width;

    note_bands(features, change);
    sample_blocks(change);
    Falling blocks(scratch_);
    const float ninth = blocks.quantile(0.9);
    change.median = blocks.quantile(0.5);
    change.lively = ninth;
    const float third = blocks.quantile(0.3);
    const float tenth = blocks.quantile(0.1);
    change.even = third <= even_spread * tenth && ninth <= even_spread * even_spread * change.median;
    scratch_.assign(features.own.cells.cells.begin(), features.own.cells.cells.end());
    change.detail = quantile(scratch_, 0.1);
    if (!change.identical) {
        ++changed_;
        if (tenth >= least_noise && third <= quiet_spread * tenth) note_quiet(features, change);
    }
    ++added_;
    if (added_ > look_ahead) decide(added_ - 1 - look_ahead, other);
}

void RepeatFinder::note_bands(const FrameFeatures& features, Change& change) {
    const std::vector<bool>& now = noise_rows_.find(features, parity_);
    const std::size_t rows = now.size();
    noisy_before_.resize(rows);
    change.noisy.assign(rows, false);
    for (std::size_t row = 0; row < rows; ++row)
        for (std::size_t beside = row > 0 ? row - 1 : 0; beside < std::min(rows, row + 2); ++beside)
            if (now[beside] || noisy_before_[beside]) change.noisy[row] = true;
    noisy_before_ = now;
}

/// Some blocks of a field, those in bands of noise left out, unless they are nearly all.
void RepeatFinder::sample_blocks(const Change& change) {
    const auto width = static_cast<std::size_t>(std::max(1, width_));
    scratch_.clear();
    for (std::size_t i = 0; i < change.blocks.size(); i += quantile_step)
        if (!change.noisy[i / width]) scratch_.push_back(change.blocks[i]);
    if (4 * quantile_step * scratch_.size() >= change.blocks.size()) return;
    scratch_.clear();
    for (std::size_t i = 0; i < change.blocks.size(); i += quantile_step) scratch_.push_back(change.blocks[i]);
}

/// Counts a field whose blocks change alike as quiet if they change as much over two frames: a fade changes four times
/// as much.
void RepeatFinder::note_quiet(const FrameFeatures& features, const Change& change) {
    if (!features.has_two_previous || at(added_ - 1).identical) return;
    scratch_.clear();
    const auto& over_two = features.change_over_two[parity_].cells;
    for (std::size_t i = 0; i < over_two.size(); i += quantile_step)
        scratch_.push_back(FrameFeatures::over_two_step * static_cast<float>(over_two[i]));
    if (quantile(scratch_, 0.3) > quiet_spread * change.median) return;
    const double weight = 1.0 / static_cast<double>(++quiet_.fields);
    quiet_.change += weight * (static_cast<double>(change.median) - quiet_.change);
    quiet_.detail += weight * (static_cast<double>(change.detail) - quiet_.detail);
}

void RepeatFinder::end(const RepeatFinder& other) {
    while (decided_ < added_) decide(decided_, other);
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
    if (!at(position).repeated) {
        // A block pauses if it changes less than a quarter as much as before and after; in amplitude, half. Under noise
        // no block may do so, but many together change less: of blocks of white noise, 1 % are by chance 1.4 times
        // below both neighbours.
        std::int64_t length = run_length(position, {.pause = 4, .least_share = 0.005, .even = false});
        if (length == 0) length = run_length(position, {.pause = 1.4F, .least_share = 0.2, .even = true});
        if (length > 0) {
            note(repeats_, describe(position, length, other));
            const auto& goes_on = repeats_.back().goes_on;
            if (goes_on[0] || goes_on[1]) longest_ = std::max(longest_, length);
        }
        for (std::int64_t i = 0; i < length; ++i) at(position + i).repeated = true;
        count_ += length;
    }
    const Change& change = at(position);
    if (change.identical && !change.repeated) {
        if (freeze_.frames == 0) {
            freeze_ = {change.frame, 0, change.time_s, false, change.detail};
            before_freeze_ = holds(position - 2) ? steady_motion(at(position - 1).lively, at(position - 2).lively) : 0;
        }
        ++freeze_.frames;
    } else {
        if (freeze_.frames > 0) freeze_.catches_up = catches_up(position);
        end_freeze();
    }
}

RepeatRun RepeatFinder::describe(std::int64_t position, std::int64_t length, const RepeatFinder& other) {
    const Change& first = at(position);
    RepeatRun run{first.frame, length, first.time_s, false, first.detail};
    run.exact = true;
    for (std::int64_t i = 0; i < length; ++i) run.exact = run.exact && at(position + i).identical;
    const auto likeness = movement_.likeness(position - 1, position + length);
    run.goes_on = likeness && *likeness < least_likeness ? std::array{false, false} : goes_on(position, length, other);
    return run;
}

/// Rows of blocks in which either parity has a band of noise in a run or beside it.
std::vector<bool> RepeatFinder::noisy_around(std::int64_t position, std::int64_t length,
                                             const RepeatFinder& other) const {
    std::vector<bool> noisy(run_.size() / static_cast<std::size_t>(std::max(1, width_)) + 1, false);
    for (std::int64_t i = position - 1; i <= position + length; ++i)
        for (const RepeatFinder* finder : {this, &other}) {
            if (!finder->holds(i)) continue;
            const std::vector<bool>& now = finder->at(i).noisy;
            for (std::size_t row = 0; row < std::min(now.size(), noisy.size()); ++row)
                if (now[row]) noisy[row] = true;
        }
    return noisy;
}

/// Whether the fields of the other parity beside a run move on by full steps or rest, but nothing between. Looks at the
/// blocks that `pauses` has found.
/// @returns that if the run's parity comes first in its frames, and if it comes second
std::array<bool, 2> RepeatFinder::goes_on(std::int64_t position, std::int64_t length, const RepeatFinder& other) const {
    const std::vector<bool> noisy = noisy_around(position, length, other);
    const auto sum = [&](const std::vector<float>& blocks) {
        double all = 0;
        for (const std::uint32_t b : moving_)
            if (b < blocks.size() && !noisy[b / static_cast<std::size_t>(width_)])
                all += static_cast<double>(blocks[b]);
        return all;
    };
    const double left = sum(run_);
    double full = sum(at(position - 1).blocks) - left;
    if (holds(position + length)) full = std::min(full, sum(at(position + length).blocks) - left);
    std::array<bool, 2> out{true, true};
    for (std::int64_t second = 0; second < 2; ++second)
        // The other parity's fields from just before the run to just after it.
        for (std::int64_t i = position - 1 + second; i < position + length + second; ++i) {
            if (!other.holds(i)) continue;
            const double change = sum(other.at(i).blocks) - left;
            if (change > most_resting * full && change < least_full * full)
                out[static_cast<std::size_t>(second)] = false;
        }
    return out;
}

/// Whether the field after a freeze lies further on than motion before and after it would take it in one step.
bool RepeatFinder::catches_up(std::int64_t after) const {
    if (!holds(after + 2)) return false;
    const float going_on = steady_motion(at(after + 1).lively, at(after + 2).lively);
    const float around = std::max(before_freeze_, going_on);
    return steady_motion(before_freeze_, going_on) > 0 && at(after).lively > catch_up * around;
}

void RepeatFinder::end_freeze() {
    if (freeze_.frames > 0) note(freezes_, freeze_);
    freeze_.frames = 0;
}

/// Length of the run of repeats that begins here; 0 if none does.
std::int64_t RepeatFinder::run_length(std::int64_t position, const Demand& demand) {
    demand_ = demand;
    if (!holds(position - 1) || at(position - 1).repeated) return 0;
    run_.assign(at(position).blocks.size(), 0);
    for (std::int64_t length = 1; length <= longest_run && holds(position + length - 1); ++length) {
        if (!extends(position, length)) return 0;
        const std::int64_t before = position - 1, after = position + length;
        if (holds(after) && pauses(before, after, after) && surroundings_move(before, after) &&
            is_one_step(position, before) && is_one_step(after, after))
            return length;
        // The clip's last fields have nothing after them. They are repeats if they are like those before.
        if (!holds(after) && length <= longest_ && pauses(before, before, after) &&
            look_outwards(before, -1).movers > 0)
            return length;
    }
    return 0;
}

/// Whether enough blocks that move in the fields `before` and `beside` pause in those between `before` and `after`, and
/// hardly any go on. Leaves those that pause in `moving_`.
bool RepeatFinder::pauses(std::int64_t before, std::int64_t beside, std::int64_t after) {
    const auto around = [&a = at(before).blocks, &b = at(beside).blocks](std::size_t i) {
        return std::min(a[i], b[i]);
    };
    moving_.clear();
    for (std::size_t b = 0; b < run_.size(); ++b)
        if (around(b) > demand_.pause * run_[b] + rounding) moving_.push_back(static_cast<std::uint32_t>(b));
    const auto pausing = static_cast<double>(moving_.size());
    if (moving_.size() < fewest_blocks || pausing < demand_.least_share * static_cast<double>(run_.size()))
        return false;
    if (brightness_explains(before, beside, after) || (!demand_.even && goes_on_slowly(before, beside))) return false;
    scratch_.clear();
    for (const std::uint32_t b : moving_) scratch_.push_back(run_[b]);
    const float level = quantile(scratch_, 0.5);  // noise, where there is some
    std::size_t going_on = 0, unlike = 0;
    for (std::int64_t i = before + 1; i < after; ++i) {
        const Change& now = at(i);
        for (std::size_t b = 0; b < run_.size(); ++b) {
            if (now.noisy[b / static_cast<std::size_t>(width_)]) continue;
            const bool plain = now.blocks[b] > unlike_noise * level + rounding;
            unlike += plain ? 1 : 0;
            going_on += plain && demand_.pause * now.blocks[b] > around(b) ? 1 : 0;
        }
    }
    if (still_moves(before, beside, after, level)) return false;
    const auto all = static_cast<double>(run_.size()) * static_cast<double>(after - before - 1);
    if (!demand_.even && static_cast<double>(unlike) > most_unlike * all) return false;
    return static_cast<double>(going_on) <= most_moving * pausing;
}

/// Whether too many of the blocks that move before and after do so in the run.
/// @param level  of the noise, in changes of a block
bool RepeatFinder::still_moves(std::int64_t before, std::int64_t beside, std::int64_t after, float level) const {
    const float moves = beyond_doubt * (level + rounding), changes = unlike_noise * level + rounding;
    int movers = 0, moving = 0, changing = 0;
    for (std::int64_t i = before + 1; i < after; ++i) {
        const Change& now = at(i);
        for (std::size_t b = 0; b < run_.size(); ++b) {
            if (std::min(at(before).blocks[b], at(beside).blocks[b]) <= moves) continue;
            if (now.noisy[b / static_cast<std::size_t>(width_)]) continue;
            ++movers;
            moving += now.blocks[b] > moves ? 1 : 0, changing += now.blocks[b] > changes ? 1 : 0;
        }
    }
    if (movers < fewest_movers) return false;
    return moving > most_still_moving * movers || (!is_lossy_ && changing > most_still_changing * movers);
}

/// Whether the blocks that move most before and after still change more in the run than those that move least.
bool RepeatFinder::goes_on_slowly(std::int64_t before, std::int64_t beside) {
    const auto around = [&a = at(before).blocks, &b = at(beside).blocks](std::uint32_t i) {
        return std::min(a[i], b[i]);
    };
    std::ranges::sort(moving_, {}, around);
    const auto third = static_cast<std::ptrdiff_t>(moving_.size() / 3);
    const auto median_of = [this](auto first, auto last, const auto& value) {
        scratch_.clear();
        std::transform(first, last, std::back_inserter(scratch_), value);
        return static_cast<double>(quantile(scratch_, 0.5));
    };
    const auto rise = [&](const auto& value) {
        return median_of(moving_.end() - third, moving_.end(), value) -
               median_of(moving_.begin(), moving_.begin() + third, value);
    };
    const double left = rise([this](std::uint32_t b) { return run_[b]; });
    return left > static_cast<double>(rounding) && left > most_left * rise(around);
}

/// Whether the blocks that pause lie no further from two fields back than one step takes them, as a repeat lies
/// between.
/// @param step  which of the steps to `position` that is
bool RepeatFinder::is_one_step(std::int64_t position, std::int64_t step) const {
    if (at(position).over_two.empty()) return true;
    double over_two = 0, over_one = 0;
    for (const std::uint32_t b : moving_) {
        over_two += static_cast<double>(at(position).over_two[b]);
        over_one += static_cast<double>(at(step).blocks[b]);
    }
    return FrameFeatures::over_two_step * over_two <= most_of_one_step * over_one;
}

/// Takes the last field of the run in. @returns whether enough blocks pause in it, compared with the field before the
/// run
bool RepeatFinder::extends(std::int64_t position, std::int64_t length) {
    const Change &before = at(position - 1), &last = at(position + length - 1);
    if (demand_.even && !last.even) return false;
    std::size_t pausing = 0;
    for (std::size_t b = 0; b < run_.size(); ++b) {
        run_[b] = std::max(run_[b], last.blocks[b]);
        pausing += before.blocks[b] > demand_.pause * run_[b] + rounding ? 1 : 0;
    }
    return pausing >= fewest_blocks;
}

/// Whether the run's neighbours differ from it by a change of brightness alone: before a picture tube, brightness may
/// stand still for a field.
bool RepeatFinder::brightness_explains(std::int64_t before, std::int64_t beside, std::int64_t after) const {
    if (cells_width_ == 0) return true;
    constexpr int blocks = CombEnergy::cell_samples / FrameFeatures::segment;
    std::size_t steady = 0;
    for (const std::uint32_t b : moving_) {
        const auto x = static_cast<int>(b) % width_ / blocks, y = static_cast<int>(b) / width_;
        if (x >= cells_width_) continue;
        const auto cell = static_cast<std::size_t>(y * cells_width_ + x);
        float run = 0;
        for (std::int64_t i = before + 1; i < after; ++i) run = std::max(run, at(i).cells[cell]);
        steady += std::min(at(before).cells[cell], at(beside).cells[cell]) > demand_.pause * run ? 1 : 0;
    }
    return static_cast<double>(steady) < steady_share * static_cast<double>(moving_.size());
}

/// Whether the blocks that pause move further out, too, on both sides, and don't move ever more on both.
bool RepeatFinder::surroundings_move(std::int64_t before, std::int64_t after) {
    const Outwards back = look_outwards(before, -1), on = look_outwards(after, 1);
    if (back.grows && on.grows) return false;
    return (back.movers > 0 || back.edge) && (on.movers > 0 || on.edge) && back.movers + on.movers > 0;
}

RepeatFinder::Outwards RepeatFinder::look_outwards(std::int64_t from, int direction) {
    Outwards seen;
    for (int step = 1; step <= look_out; ++step) {
        const std::int64_t position = from + direction * step;
        if (!holds(position)) {
            seen.edge = true;
            break;
        }
        std::size_t moving = 0;
        double here = 0, nearest = 0;
        for (const std::uint32_t b : moving_) {
            const float now = at(position).blocks[b];
            moving += now > demand_.pause * run_[b] + rounding ? 1 : 0;
            here += static_cast<double>(now - run_[b]);
            nearest += static_cast<double>(at(from).blocks[b] - run_[b]);
        }
        if (static_cast<double>(moving) < movers_share * static_cast<double>(moving_.size())) continue;
        if (seen.movers++ == 0) seen.grows = here > most_growth * nearest;
    }
    return seen;
}

}  // namespace guardband::measure
