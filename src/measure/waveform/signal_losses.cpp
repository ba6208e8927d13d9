#include "measure/waveform/signal_losses.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string_view>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

enum Kind : unsigned { Bright = 1, Dark = 2, Noisy = 4, Calm = 8, Sync = 16 };

constexpr std::size_t lines_after = 4;
constexpr float least_level = 0.2F;                              ///< of white, that a cell stands out by
constexpr float alike_level = 0.1F;                              ///< of white, that cells which are alike may differ by
constexpr float least_rough_ratio = 3;                           ///< of mean squares
constexpr float rough_floor = 0.0018F;                           ///< of white squared: noise of 30 dB
constexpr double strong_level = 0.28, strong_rough_ratio = 5;    ///< of a piece as a whole
constexpr double largest_spread = 0.12, spread_of_change = 0.3;  ///< of its levels; of white, of its change
constexpr double least_rough_share = 0.8;                        ///< of a noisy piece's cells
constexpr float least_colour = 0.02F;                            ///< likewise, that must be there to be lost
constexpr double shortest_us = 4;                                ///< thin things that move are shorter in most pictures
constexpr std::size_t largest_gap = 1;
constexpr std::int64_t longest_sync_gap = 4;  ///< lines whose places are known though their sync is missing
constexpr std::size_t most_losses = 20'000;
constexpr double near_sync_us = 4;  ///< of the picture's ends: a loss there has taken the sync with it
constexpr std::int64_t least_lines = 500;
constexpr double most_moved_us = 0.3;  ///< of a line against its neighbours, that is still the machine's doing
constexpr double switch_lines = 2;     ///< to either side of the heads' changing over
constexpr double farthest_switch_lines = 12;
constexpr std::size_t most_events = 1000;

/// How one cell stands out from another.
unsigned difference(float level, float rough, float other_level, float other_rough, float white) {
    const float square = white * white, floor = rough_floor * square;
    unsigned kinds = 0;
    if (level - other_level > least_level * white) kinds |= Bright;
    if (other_level - level > least_level * white) kinds |= Dark;
    if (rough > least_rough_ratio * (other_rough + floor)) kinds |= Noisy;
    if (other_rough > least_colour * square && least_rough_ratio * (rough + floor) < other_rough) kinds |= Calm;
    return kinds;
}

bool alike(float level, float rough, float other_level, float other_rough, float white) {
    return std::abs(level - other_level) < alike_level * white &&
           difference(level, rough, other_level, other_rough, white) == 0;
}

/// The word for people; noise that is also bright or dark is noise.
const char* word(unsigned kinds) {
    if ((kinds & Sync) != 0) return "sync";
    if ((kinds & Noisy) != 0) return "noisy";
    if ((kinds & Bright) != 0) return "bright";
    return (kinds & Dark) != 0 ? "dark" : "colour";
}

/// Means over a piece, and over the same place of another line.
struct PieceMeans {
    double level = 0, other_level = 0, rough = 0, other_rough = 0;
    double spread = 0;       ///< of the levels of its cells, without those at its ends
    double rough_share = 0;  ///< of its cells, that are about as rough as all of it
};

PieceMeans means_of(const Cells& piece, const Cells& other, std::size_t begin) {
    PieceMeans means;
    const std::size_t cells = piece.level.size();
    const auto count = static_cast<double>(cells);
    for (std::size_t i = 0; i < cells; ++i) {
        means.level += piece.level[i] / count, means.other_level += other.level[begin + i] / count;
        means.rough += piece.rough[i] / count, means.other_rough += other.rough[begin + i] / count;
    }
    double inner = 0;
    for (std::size_t i = 1; i + 1 < cells; ++i) inner += piece.level[i] / (count - 2);
    for (std::size_t i = 0; i < cells; ++i) {
        if (i > 0 && i + 1 < cells) means.spread += std::pow(piece.level[i] - inner, 2) / (count - 2);
        if (piece.rough[i] > means.rough / 5) means.rough_share += 1 / count;
    }
    means.spread = std::sqrt(means.spread);
    return means;
}

/// Cells that stand out one after another, gaps of a cell included, and the ways in which at least half of them do.
struct MarkedRun {
    std::size_t begin = 0, end = 0;
    unsigned kinds = 0;
};

std::vector<MarkedRun> runs_of(const std::vector<unsigned>& marks) {
    std::vector<MarkedRun> runs;
    for (std::size_t begin = 0; begin < marks.size(); ++begin) {
        if (marks[begin] == 0) continue;
        MarkedRun run{begin, begin + 1, 0};
        for (std::size_t c = begin + 1; c < marks.size() && c <= run.end + largest_gap; ++c)
            if (marks[c] != 0) run.end = c + 1;
        for (const unsigned kind : {Bright, Dark, Noisy, Calm}) {
            std::size_t votes = 0;
            for (std::size_t c = run.begin; c < run.end; ++c) votes += (marks[c] & kind) != 0 ? 1 : 0;
            if (2 * votes >= run.end - run.begin) run.kinds |= kind;
        }
        runs.push_back(run);
        begin = run.end;
    }
    return runs;
}

}  // namespace

SignalLosses::SignalLosses(const FieldLayout& layout, double rate_hz, const SyncShape& sync, double white,
                           int lines_per_frame, int lines_alike)
    : layout_(layout),
      reader_(layout, rate_hz, sync.line_samples),
      rate_hz_(rate_hz),
      sync_width_(sync.width_samples),
      line_us_(1e6 * sync.line_samples / rate_hz),
      field_lines_(lines_per_frame / 2.0),
      white_(static_cast<float>(white)),
      stride_(static_cast<std::size_t>(lines_alike)) {}

bool SignalLosses::counts(std::int64_t field, int in_field) const {
    return field >= 0 && in_field >= layout_.blanking_end &&
           (field_lines_ <= 0 || field_lines_ - in_field > layout_.last_uncounted + 1);
}

void SignalLosses::see_line(const VideoLine& line, const SampleWindow& window) {
    ++seen_;
    VideoLine now = line;
    now.sync.lead = place_of(line);
    if (last_ && last_->field) see_picture(now, window);
    before_last_ = last_;
    last_ = now;
    porches_[static_cast<std::size_t>(porch_count_++) % porches_.size()] = line.sync.back;
}

/// The picture of the last line and of those whose sync is missing since.
void SignalLosses::see_picture(const VideoLine& after, const SampleWindow& window) {
    const std::int64_t gap = after.number - last_->number;
    if (gap > 1) note_missing_sync(*last_, after);
    const double place = place_of_last(after);
    for (std::int64_t i = 0; i < std::min(gap, longest_sync_gap + 1); ++i) {
        PictureLine picture;
        picture.number = last_->number + i;
        picture.place = place + static_cast<double>(i) * (after.sync.lead - place) / static_cast<double>(gap);
        picture.field = last_->field->field;
        picture.half_line = last_->field->half_line;
        picture.in_field = last_->in_field + static_cast<int>(i);
        if (!counts(picture.field, picture.in_field) || !reader_.read(window, blanking(), picture)) continue;
        add_line(std::move(picture));
    }
}

/// Where a line begins: where its sync does, or is due, if a loss has changed its width.
double SignalLosses::place_of(const VideoLine& line) const {
    const double most = most_moved_us * 1e-6 * rate_hz_;
    if (!last_ || line.kind == PulseKind::Broad || std::abs(line.sync.width() - sync_width_) < most)
        return line.sync.lead;
    const double due = last_->sync.lead + static_cast<double>(line.number - last_->number) * line.period;
    return std::abs(line.sync.lead - due) < most ? line.sync.lead : due;
}

/// Where the last line begins; between its neighbours, if a loss has moved its sync away from there.
double SignalLosses::place_of_last(const VideoLine& after) const {
    const double lead = last_->sync.lead;
    if (!before_last_ || before_last_->number + 1 != last_->number || last_->number + 1 != after.number) return lead;
    const double most = most_moved_us * 1e-6 * rate_hz_, length = (after.sync.lead - before_last_->sync.lead) / 2;
    const double between = before_last_->sync.lead + length;
    return std::abs(length - last_->period) < most && std::abs(lead - between) > most ? between : lead;
}

/// Of the latest lines, so that a loss on one back porch does not move the level of its line.
float SignalLosses::blanking() const {
    return static_cast<float>(dsp::median(std::span<const float>(porches_).first(
        std::min<std::size_t>(porches_.size(), static_cast<std::size_t>(std::max<std::int64_t>(1, porch_count_))))));
}

void SignalLosses::note_missing_sync(const VideoLine& before, const VideoLine& after) {
    const int first = before.in_field + 1;
    const std::int64_t gap = after.number - before.number;
    if (!counts(before.field->field, first)) return;
    if (losses_.size() >= most_losses) {
        ++beyond_;
        return;
    }
    Loss loss;
    loss.time_s = (before.sync.lead + (after.sync.lead - before.sync.lead) / static_cast<double>(gap)) / rate_hz_;
    loss.field = before.field->field;
    loss.in_field = first;
    loss.lines = gap - 1;
    loss.kinds = Sync;
    losses_.push_back(loss);
}

void SignalLosses::add_line(PictureLine line) {
    if (!lines_.empty() && (line.field != lines_.back().field || line.number != lines_.back().number + 1)) end_field();
    lines_.push_back(std::move(line));
    if (lines_.size() == stride_ + 1 + lines_after) {
        search();
        lines_.pop_front();
    }
}

/// Searches what has at least one line of the same colour after it.
void SignalLosses::end_field() {
    while (lines_.size() > 2 * stride_) {
        search();
        lines_.pop_front();
    }
    lines_.clear();
}

/// Searches the line after the first ones of `lines_`. Its losses are then filled in from the line before of the same
/// colour: what comes next is held against that.
void SignalLosses::search() {
    ++searched_;
    PictureLine& line = lines_[stride_];
    Kept& kept = frame_[{line.half_line, line.in_field, line.number % static_cast<std::int64_t>(stride_)}];
    confirm(kept, line.cells);
    take_pieces(marks(kept), kept);
    kept.cells = line.cells;
}

/// For each cell, the ways in which it stands out from all that it is held against.
std::vector<unsigned> SignalLosses::marks(const Kept& kept) const {
    const Cells &before = lines_[0].cells, &here = lines_[stride_].cells;
    std::vector<unsigned> all(here.level.size(), 0);
    for (std::size_t c = 0; c < all.size(); ++c) {
        const auto from = [&](const Cells& other) {
            return difference(here.level[c], here.rough[c], other.level[c], other.rough[c], white_);
        };
        unsigned kinds = from(before);
        if (kinds == 0) continue;
        if (!kept.cells.level.empty()) kinds &= from(kept.cells);
        // Where colour comes by turns the line right before tells of the level at least.
        kinds &= from(lines_[stride_ - 1].cells) | Noisy | Calm;
        unsigned after = 0;
        for (std::size_t k = 2 * stride_; k < lines_.size() && kinds != 0; k += stride_) {
            const Cells& later = lines_[k].cells;
            if (alike(before.level[c], before.rough[c], later.level[c], later.rough[c], white_)) after |= from(later);
        }
        all[c] = kinds & after;
    }
    return all;
}

/// The ways in which a piece as a whole stands out well enough from the line before. What is lost is alike all along:
/// letters that move are not.
unsigned SignalLosses::strong_kinds(const Cells& piece, std::size_t begin) const {
    const PieceMeans means = means_of(piece, lines_[0].cells, begin);
    const double floor = double{rough_floor} * white_ * white_, change = means.level - means.other_level;
    const bool level = std::abs(change) > strong_level * white_ &&
                       means.spread < std::max(largest_spread * white_, spread_of_change * std::abs(change));
    unsigned kinds = 0;
    if (level) kinds |= change > 0 ? Bright : Dark;
    if (means.rough > strong_rough_ratio * (means.other_rough + floor) && means.rough_share > least_rough_share)
        kinds |= Noisy;
    if (strong_rough_ratio * (means.rough + floor) < means.other_rough) kinds |= Calm;
    return kinds;
}

/// Runs of marked cells become losses that wait for the next frame.
void SignalLosses::take_pieces(const std::vector<unsigned>& marks, Kept& kept) {
    for (const MarkedRun& run : runs_of(marks)) {
        if (static_cast<double>(run.end - run.begin) * reader_.cell_us() < shortest_us - 0.01) continue;
        PictureLine& line = lines_[stride_];
        const auto first = static_cast<std::ptrdiff_t>(run.begin), last = static_cast<std::ptrdiff_t>(run.end);
        Waiting waiting;
        waiting.begin = run.begin;
        waiting.cells.level.assign(line.cells.level.begin() + first, line.cells.level.begin() + last);
        waiting.cells.rough.assign(line.cells.rough.begin() + first, line.cells.rough.begin() + last);
        waiting.loss.start_us = reader_.start_us(run.begin);
        waiting.loss.length_us = static_cast<double>(run.end - run.begin) * reader_.cell_us();
        waiting.loss.time_s = line.place / rate_hz_ + 1e-6 * waiting.loss.start_us;
        waiting.loss.field = line.field;
        waiting.loss.in_field = line.in_field;
        waiting.loss.kinds = run.kinds & strong_kinds(waiting.cells, run.begin);
        if (waiting.loss.kinds != 0) kept.waiting.push_back(std::move(waiting));
        const Cells& before = lines_[0].cells;
        std::copy(before.level.begin() + first, before.level.begin() + last, line.cells.level.begin() + first);
        std::copy(before.rough.begin() + first, before.rough.begin() + last, line.cells.rough.begin() + first);
    }
}

/// A loss is gone in the next frame; what is still there was picture.
void SignalLosses::confirm(Kept& kept, const Cells& now) {
    for (const Waiting& waiting : kept.waiting) {
        int gone = 0;
        const std::size_t count = waiting.cells.level.size();
        for (std::size_t i = 0; i < count; ++i)
            if ((difference(waiting.cells.level[i], waiting.cells.rough[i], now.level[waiting.begin + i],
                            now.rough[waiting.begin + i], white_) &
                 waiting.loss.kinds) != 0)
                ++gone;
        if (2 * gone < static_cast<int>(count)) continue;
        if (losses_.size() < most_losses)
            losses_.push_back(waiting.loss);
        else
            ++beyond_;
    }
    kept.waiting.clear();
}

/// Does a piece of picture reach the sync that is missing?
bool SignalLosses::touches(const Loss& piece, const Loss& sync) const {
    if ((piece.kinds & Sync) != 0 || piece.field != sync.field) return false;
    const double end_us = piece.start_us + piece.length_us;
    const bool before = piece.in_field == sync.in_field - 1 && line_us_ - end_us < near_sync_us;
    const bool within = piece.in_field >= sync.in_field && piece.in_field < sync.in_field + sync.lines &&
                        piece.start_us - reader_.start_us(0) < near_sync_us;
    return before || within;
}

/// `12 noisy, 3 dark`
std::string SignalLosses::kinds_text(const std::vector<Loss>& all) {
    std::string text;
    for (const char* kind : {"bright", "dark", "noisy", "colour", "sync"}) {
        const auto count =
            std::ranges::count_if(all, [&](const Loss& loss) { return std::string_view(word(loss.kinds)) == kind; });
        if (count > 0) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", count, kind);
    }
    return text.empty() ? "none found" : text;
}

/// In the order of time, without what is no loss; sync that went with a piece of picture is no loss of its own.
std::vector<SignalLosses::Loss> SignalLosses::all_losses(std::optional<double> head_switch_line) {
    end_field();
    frame_.clear();  // what no next frame has confirmed may be a new scene
    std::erase_if(losses_, [&](const Loss& loss) {
        const double before_sync = field_lines_ - loss.in_field;
        // Heads that change over by many microseconds lose lines, in every field.
        if ((loss.kinds & Sync) != 0 && before_sync < farthest_switch_lines) return true;
        return head_switch_line && std::abs(before_sync - *head_switch_line) < switch_lines;
    });
    std::ranges::stable_sort(losses_, {}, &Loss::time_s);
    std::vector<Loss> all;
    for (const Loss& loss : losses_) {
        const bool sync = (loss.kinds & Sync) != 0;
        if (sync && std::ranges::any_of(losses_, [&](const Loss& other) { return touches(other, loss); })) continue;
        all.push_back(loss);
    }
    return all;
}

quantity::Event SignalLosses::event_of(const Loss& loss) const {
    quantity::Event event;
    event.kind = word(loss.kinds);
    event.severity = quantity::Severity::Warning;
    event.time_s = loss.time_s;
    event.field = loss.field;
    event.line = loss.in_field;
    if ((loss.kinds & Sync) != 0) {
        event.count = loss.lines;
        event.what = fmt::format("{} line{} without sync", loss.lines, loss.lines == 1 ? "" : "s");
        return event;
    }
    event.start_us = loss.start_us;
    event.length_us = loss.length_us;
    event.what = fmt::format("dropout, {}, {:.1f} µs of line {}", word(loss.kinds), loss.length_us, loss.in_field);
    return event;
}

void SignalLosses::finish(quantity::Figures& figures, std::vector<quantity::Event>& events,
                          std::optional<double> head_switch_line) {
    const std::vector<Loss> all = all_losses(head_switch_line);
    if (searched_ < least_lines || white_ <= 0) {
        for (const char* id : {"dropouts_per_minute", "dropout_length_median"})
            figures.add(id, Figure::unknown("fewer than 500 lines of picture were seen between field syncs"));
        return;
    }
    const double minutes = static_cast<double>(seen_) * line_us_ / 60e6;
    const auto count = static_cast<double>(all.size()) + static_cast<double>(beyond_);
    figures.add(
        "dropouts_per_minute",
        Figure::measured(count / minutes, std::sqrt(std::max(count, 1.0)) / minutes, "").with_note(kinds_text(all)));
    std::vector<double> lengths;
    for (const Loss& loss : all) {
        if (loss.length_us > 0) lengths.push_back(loss.length_us);
        if (events.size() < most_events) events.push_back(event_of(loss));
    }
    if (lengths.empty())
        figures.add("dropout_length_median", Figure::unknown("no dropout was found"));
    else
        figures.add("dropout_length_median",
                    Figure::measured(dsp::median(std::span<const double>(lengths)), reader_.cell_us(), "µs"));
    if (all.size() <= most_events && beyond_ == 0) return;
    quantity::Event more;
    more.kind = "dropouts";
    more.severity = quantity::Severity::Warning;
    more.count = static_cast<std::int64_t>(all.size()) + beyond_ - static_cast<std::int64_t>(most_events);
    more.what = fmt::format("{} more dropouts", *more.count);
    events.push_back(more);
}

}  // namespace guardband::measure
