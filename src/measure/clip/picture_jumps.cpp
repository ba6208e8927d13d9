#include "measure/clip/picture_jumps.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr std::size_t strips = 5;
/// Frames looked at on either side, and how many of them must have moved.
constexpr std::int64_t look_around = 4;
constexpr std::size_t fewest_beside = 2;
constexpr std::size_t most_beside = 3;
/// Least movement per frame, and over its error.
constexpr double least_movement = 0.3, least_over_error = 8;
/// A movement below this share of its neighbours' is none: a repeat.
constexpr double repeat_share = 0.25;
/// Steady movement lies this near a straight line, as a share of it, and changes by no more over the stretch.
constexpr double most_unsteady = 0.08, most_change = 0.5;
/// How far from a whole number of frames a jump may be, beyond three standard errors; and the largest error that still lets a band agree.
constexpr double most_off = 0.12, most_off_per_frame = 0.04, largest_error = 0.12;
constexpr int most_missing = 8;
constexpr std::size_t fewest_bands = 2;
constexpr std::size_t capacity = 100'000;

/// Points of a straight line, and what it says at 0.
struct Line {
    std::vector<std::pair<double, double>> points;

    /// Value at 0 and largest distance of a point; slope times extent.
    struct Fit {
        double value, off, change;
    };
    Fit fit() const {
        double n = 0, x1 = 0, y1 = 0, xx = 0, xy = 0;
        for (const auto& [x, y] : points) n += 1, x1 += x, y1 += y, xx += x * x, xy += x * y;
        const double slope = (n * xy - x1 * y1) / (n * xx - x1 * x1), value = (y1 - slope * x1) / n;
        double off = 0;
        for (const auto& [x, y] : points) off = std::max(off, std::abs(y - value - slope * x));
        return {value, off, std::abs(slope) * 2 * look_around};
    }
};

}  // namespace

void PictureJumps::see(const media::Frame& frame, const FrameFeatures& features) {
    const auto& columns = features.column_sums[0];
    if (bands_.empty()) bands_.resize(static_cast<std::size_t>(columns.height) + strips);
    frames_[static_cast<std::size_t>(seen_ % ring_size)] = frame.index;
    follow_columns(features);
    follow_rows(features);
    ++seen_;
    judge(seen_ - 1 - look_around);
}

void PictureJumps::follow_columns(const FrameFeatures& features) {
    const auto& columns = features.column_sums[0];
    for (int band = 0; band < columns.height; ++band) {
        const auto* from = &columns.at(0, band);
        profile_.resize(static_cast<std::size_t>(columns.width));
        std::transform(from, from + columns.width, profile_.begin(), [](std::uint32_t sum) { return static_cast<float>(sum) / FrameFeatures::column_rows; });
        follow(static_cast<std::size_t>(band), profile_, across_);
    }
}

void PictureJumps::follow_rows(const FrameFeatures& features) {
    const auto& sums = features.segment_sums;
    const std::size_t first = bands_.size() - strips;
    const int segments = sums.width / static_cast<int>(strips);
    for (std::size_t strip = 0; strip < strips; ++strip) {
        profile_.clear();
        for (int y = 0; y < sums.height && segments > 0; y += 2) {
            const auto* from = &sums.at(static_cast<int>(strip) * segments, y);
            std::uint32_t sum = 0;
            for (int i = 0; i < segments; ++i) sum += from[i];
            profile_.push_back(static_cast<float>(sum) / static_cast<float>(segments * FrameFeatures::segment));
        }
        follow(first + strip, profile_, along_);
    }
}

void PictureJumps::follow(std::size_t which, std::span<const float> profile, ProfileMatcher& matcher) {
    Band& band = bands_[which];
    std::swap(band.before, band.now);
    ProfileMatcher::prepare(profile, band.now);
    auto& moved = band.moved[static_cast<std::size_t>(seen_ % ring_size)];
    moved = seen_ > 0 ? matcher.shift(band.before, band.now) : std::nullopt;
}

std::optional<PictureJumps::Jump> PictureJumps::jump_in(const Band& band, std::int64_t position) const {
    const auto& jump = moved(band, position);
    if (!jump) return std::nullopt;
    // Frames before it that repeat one another put off movement that the jump then makes up for.
    std::int64_t put_off = 0;
    while (put_off < look_around - 2 && position - 1 - put_off > 0) {
        const auto& before = moved(band, position - 1 - put_off);
        if (!before || std::abs(before->samples) > repeat_share * std::abs(jump->samples) / 2) break;
        ++put_off;
    }
    Line line;
    double error = 0;
    for (const int direction : {-1, 1}) {
        std::size_t beside = 0;
        for (std::int64_t step = direction < 0 ? 1 + put_off : 1; step <= look_around && beside < most_beside; ++step) {
            const std::int64_t at = position + direction * step;
            if (at < 1 || at >= seen_ || !moved(band, at)) break;
            const ProfileShift& shift = *moved(band, at);
            if (std::abs(shift.samples) < repeat_share * std::abs(jump->samples) / (most_missing + 1)) continue;
            line.points.emplace_back(static_cast<double>(direction * step), shift.samples);
            error = std::max(error, shift.error);
            ++beside;
        }
        if (beside < fewest_beside) return std::nullopt;
    }
    const Line::Fit steady = line.fit();
    const double movement = std::abs(steady.value);
    if (movement < least_movement || movement < least_over_error * error || steady.change > most_change * movement ||
        steady.off > most_unsteady * movement + 3 * error)
        return std::nullopt;
    const double times = jump->samples / steady.value;
    return Jump{times - 1 - static_cast<double>(put_off), std::hypot(jump->error, times * error / 2) / movement};
}

void PictureJumps::judge(std::int64_t position) {
    if (position < 1 || position - last_gap_ <= 2) return;
    jumps_.clear();
    std::size_t lost = 0;
    for (const Band& band : bands_) {
        if (!moved(band, position)) ++lost;
        if (const auto jump = jump_in(band, position)) jumps_.push_back(*jump);
    }
    if (jumps_.empty()) return;
    const double sure = std::ranges::min_element(jumps_, {}, &Jump::error)->frames, missing = std::round(sure);
    if (missing < 1 || missing > most_missing) return;
    std::size_t agreed = 0;
    for (const Jump& jump : jumps_) {
        if (std::abs(jump.frames - missing) > most_off + most_off_per_frame * missing + 3 * jump.error) return;
        agreed += jump.error <= largest_error ? 1 : 0;
    }
    if (agreed < fewest_bands || lost > jumps_.size()) return;
    last_gap_ = position;
    if (gaps_.size() < capacity) gaps_.push_back({frames_[static_cast<std::size_t>(position % ring_size)], static_cast<std::int64_t>(missing)});
}

}  // namespace guardband::measure
