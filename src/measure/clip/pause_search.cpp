#include "measure/clip/pause_search.h"

#include <algorithm>
#include <iterator>

#include "measure/clip/falling_quantiles.h"

namespace guardband::measure {
namespace {

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
/// Of the blocks that pause, how many must move in a field further out.
constexpr double movers_share = 0.5;

}  // namespace

std::int64_t PauseSearch::run_length(std::int64_t position, std::int64_t longest_seen) {
    // A block pauses if it changes less than a quarter as much as before and after; in amplitude, half. Under noise no
    // block may do so, but many together change less: of blocks of white noise, 1 % are by chance 1.4 times below both
    // neighbours.
    const auto length = run_length(position, {.pause = 4, .least_share = 0.005, .even = false}, longest_seen);
    if (length > 0) return length;
    return run_length(position, {.pause = 1.4F, .least_share = 0.2, .even = true}, longest_seen);
}

std::int64_t PauseSearch::run_length(std::int64_t position, const Demand& demand, std::int64_t longest_seen) {
    demand_ = demand;
    if (!changes_.holds(position - 1) || changes_.at(position - 1).repeated) return 0;
    run_.assign(changes_.at(position).blocks.size(), 0);
    for (std::int64_t length = 1; length <= longest_run && changes_.holds(position + length - 1); ++length) {
        if (!extends(position, length)) return 0;
        const std::int64_t before = position - 1, after = position + length;
        if (changes_.holds(after) && pauses(before, after, after) && surroundings_move(before, after) &&
            is_one_step(position, before) && is_one_step(after, after))
            return length;
        // The clip's last fields have nothing after them. They are repeats if they are like those before.
        if (!changes_.holds(after) && length <= longest_seen && pauses(before, before, after) &&
            look_outwards(before, -1).movers > 0)
            return length;
    }
    return 0;
}

/// Whether enough blocks that move in the fields `before` and `beside` pause in those between `before` and `after`, and
/// hardly any go on. Leaves those that pause in `moving_`.
bool PauseSearch::pauses(std::int64_t before, std::int64_t beside, std::int64_t after) {
    const auto around = [&a = changes_.at(before).blocks, &b = changes_.at(beside).blocks](std::size_t i) {
        return std::min(a[i], b[i]);
    };
    moving_.clear();
    for (std::size_t b = 0; b < run_.size(); ++b)
        if (around(b) > demand_.pause * run_[b] + FieldChange::rounding)
            moving_.push_back(static_cast<std::uint32_t>(b));
    const auto pausing = static_cast<double>(moving_.size());
    if (moving_.size() < fewest_blocks || pausing < demand_.least_share * static_cast<double>(run_.size()))
        return false;
    if (brightness_explains(before, beside, after) || (!demand_.even && goes_on_slowly(before, beside))) return false;
    scratch_.clear();
    for (const std::uint32_t b : moving_) scratch_.push_back(run_[b]);
    const float level = quantile(scratch_, 0.5);  // noise, where there is some
    std::size_t going_on = 0, unlike = 0;
    for (std::int64_t i = before + 1; i < after; ++i) {
        const FieldChange& now = changes_.at(i);
        for (std::size_t b = 0; b < run_.size(); ++b) {
            if (now.noisy[b / static_cast<std::size_t>(changes_.width())]) continue;
            const bool plain = now.blocks[b] > unlike_noise * level + FieldChange::rounding;
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
bool PauseSearch::still_moves(std::int64_t before, std::int64_t beside, std::int64_t after, float level) const {
    const float moves = beyond_doubt * (level + FieldChange::rounding),
                changes = unlike_noise * level + FieldChange::rounding;
    int movers = 0, moving = 0, changing = 0;
    for (std::int64_t i = before + 1; i < after; ++i) {
        const FieldChange& now = changes_.at(i);
        for (std::size_t b = 0; b < run_.size(); ++b) {
            if (std::min(changes_.at(before).blocks[b], changes_.at(beside).blocks[b]) <= moves) continue;
            if (now.noisy[b / static_cast<std::size_t>(changes_.width())]) continue;
            ++movers;
            moving += now.blocks[b] > moves ? 1 : 0, changing += now.blocks[b] > changes ? 1 : 0;
        }
    }
    if (movers < fewest_movers) return false;
    return moving > most_still_moving * movers || (!is_lossy_ && changing > most_still_changing * movers);
}

/// Whether the blocks that move most before and after still change more in the run than those that move least.
bool PauseSearch::goes_on_slowly(std::int64_t before, std::int64_t beside) {
    const auto around = [&a = changes_.at(before).blocks, &b = changes_.at(beside).blocks](std::uint32_t i) {
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
    return left > static_cast<double>(FieldChange::rounding) && left > most_left * rise(around);
}

/// Whether the blocks that pause lie no further from two fields back than one step takes them, as a repeat lies
/// between.
/// @param step  which of the steps to `position` that is
bool PauseSearch::is_one_step(std::int64_t position, std::int64_t step) const {
    if (changes_.at(position).over_two.empty()) return true;
    double over_two = 0, over_one = 0;
    for (const std::uint32_t b : moving_) {
        over_two += static_cast<double>(changes_.at(position).over_two[b]);
        over_one += static_cast<double>(changes_.at(step).blocks[b]);
    }
    return FrameFeatures::over_two_step * over_two <= most_of_one_step * over_one;
}

/// Takes the last field of the run in. @returns whether enough blocks pause in it, compared with the field before the
/// run
bool PauseSearch::extends(std::int64_t position, std::int64_t length) {
    const FieldChange &before = changes_.at(position - 1), &last = changes_.at(position + length - 1);
    if (demand_.even && !last.even) return false;
    std::size_t pausing = 0;
    for (std::size_t b = 0; b < run_.size(); ++b) {
        run_[b] = std::max(run_[b], last.blocks[b]);
        pausing += before.blocks[b] > demand_.pause * run_[b] + FieldChange::rounding ? 1 : 0;
    }
    return pausing >= fewest_blocks;
}

/// Whether the run's neighbours differ from it by a change of brightness alone: before a picture tube, brightness may
/// stand still for a field.
bool PauseSearch::brightness_explains(std::int64_t before, std::int64_t beside, std::int64_t after) const {
    if (changes_.cells_width() == 0) return true;
    constexpr int blocks = CombEnergy::cell_samples / FrameFeatures::segment;
    std::size_t steady = 0;
    for (const std::uint32_t b : moving_) {
        const auto x = static_cast<int>(b) % changes_.width() / blocks, y = static_cast<int>(b) / changes_.width();
        if (x >= changes_.cells_width()) continue;
        const auto cell = static_cast<std::size_t>(y * changes_.cells_width() + x);
        float run = 0;
        for (std::int64_t i = before + 1; i < after; ++i) run = std::max(run, changes_.at(i).cells[cell]);
        steady +=
            std::min(changes_.at(before).cells[cell], changes_.at(beside).cells[cell]) > demand_.pause * run ? 1 : 0;
    }
    return static_cast<double>(steady) < steady_share * static_cast<double>(moving_.size());
}

/// Whether the blocks that pause move further out, too, on both sides, and don't move ever more on both.
bool PauseSearch::surroundings_move(std::int64_t before, std::int64_t after) {
    const Outwards back = look_outwards(before, -1), on = look_outwards(after, 1);
    if (back.grows && on.grows) return false;
    return (back.movers > 0 || back.edge) && (on.movers > 0 || on.edge) && back.movers + on.movers > 0;
}

PauseSearch::Outwards PauseSearch::look_outwards(std::int64_t from, int direction) {
    Outwards seen;
    for (int step = 1; step <= look_out; ++step) {
        const std::int64_t position = from + direction * step;
        if (!changes_.holds(position)) {
            seen.edge = true;
            break;
        }
        std::size_t moving = 0;
        double here = 0, nearest = 0;
        for (const std::uint32_t b : moving_) {
            const float now = changes_.at(position).blocks[b];
            moving += now > demand_.pause * run_[b] + FieldChange::rounding ? 1 : 0;
            here += static_cast<double>(now - run_[b]);
            nearest += static_cast<double>(changes_.at(from).blocks[b] - run_[b]);
        }
        if (static_cast<double>(moving) < movers_share * static_cast<double>(moving_.size())) continue;
        if (seen.movers++ == 0) seen.grows = here > most_growth * nearest;
    }
    return seen;
}

}  // namespace guardband::measure
