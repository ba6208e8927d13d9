#include "measure/clip/crushing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <string>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double codes_per_step = 8;
constexpr std::int64_t early_frames = 50, late_step = 8;
constexpr std::size_t most_remembered = 4000;
constexpr int side_blocks = 2, edge_blocks = 1;
/// Change from line to line over that from frame to frame, of 128 squares each.
constexpr double least_even = 0.75, most_even = 1.33;
constexpr std::size_t fewest_at_end = 40;
/// Shares of the range from black to white.
constexpr double middle_from = 0.25, middle_to = 0.75, end_within = 0.2;
/// Where a block's first line lies farther in, the block is not looked at.
constexpr double near_end = 0.3;
/// Of the flat places' noise that stands for all: low, since some that are not flat pass for it; and what it is of the
/// whole's mean where all are flat.
constexpr double low_part = 0.25, low_part_of_mean = 0.93;
/// Relative scatter of that part of one place's variance, and what the slope may be wrong by besides.
constexpr double part_scatter = 0.14, systematic = 0.03;
/// Noise that is said something from, RMS in codes of the clip: below, rounding governs it.
constexpr double least_noise = 0.6;
constexpr double rounding = 1.0 / 12;
constexpr double least_lean = 0.15, surely = 5;
/// Share of a normal sample's variance that it differs by from the mean of its neighbours, and of its third moment.
constexpr double of_squares = 1.5, of_cubes = 0.75;
/// By so much the differences of neighbours scatter more than if each stood for itself.
constexpr double overlap = 2;

template <typename Sample>
void add(const std::byte* row, int x, FlatPlaces& places) {
    const auto* s = reinterpret_cast<const Sample*>(row) + x;
    for (int i = 1; i + 1 < FrameFeatures::segment; ++i) {
        const double d =
            static_cast<double>(s[i]) - 0.5 * (static_cast<double>(s[i - 1]) + static_cast<double>(s[i + 1]));
        places.squares += d * d, places.cubes += d * d * d;
    }
    places.samples += FrameFeatures::segment - 2;
}

double low_variance(std::vector<float> variances) {
    return std::max(0.0, dsp::quantile_in_place(std::span<float>(variances), low_part) / low_part_of_mean - rounding);
}

/// Third moment of the noise over the cube of its RMS, if it is surely not 0.
std::optional<double> lean_of(const FlatPlaces& places) {
    if (places.samples == 0 || places.squares == 0) return std::nullopt;
    const auto n = static_cast<double>(places.samples);
    const double of_differences = places.cubes / n / std::pow(places.squares / n, 1.5);
    if (std::abs(of_differences) < surely * std::sqrt(6 * overlap / n)) return std::nullopt;
    return of_differences * std::pow(of_squares, 1.5) / of_cubes;
}

}  // namespace

Crushing::Crushing(const ClipContext& context)
    : range_(luma_range(context.info.picture, context.table)),
      bit_depth_(context.info.picture.bit_depth),
      is_lossy_(context.info.is_lossy),
      silent_(std::size_t{1} << bit_depth_) {}

void Crushing::see(const media::Frame& frame, const FrameFeatures& features) {
    if (is_lossy_ || frame.damaged || !features.has_previous) return;
    if (frames_++ >= early_frames && frames_ % late_step != 0) return;
    silent_.see(features);
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const Grid<std::uint32_t>& change = features.change[parity];
        if (features.identical[parity]) continue;
        for (int by = edge_blocks; by < change.height - edge_blocks; ++by)
            for (int bx = side_blocks; bx < change.width - side_blocks; ++bx)
                see_block(frame.planes[0], features, parity, bx, by);
    }
}

void Crushing::see_block(const media::Plane& plane, const FrameFeatures& features, std::size_t parity, int bx, int by) {
    constexpr int segment = FrameFeatures::segment, rows = FrameFeatures::block_rows;
    constexpr double samples = segment * rows;
    const int first = 2 * by * rows + static_cast<int>(parity);
    const double share = share_of_range(range_.to_8_bit(features.segment_sums.at(bx, first) / double{segment}));
    if (share > near_end && share < 1 - near_end) return;
    // Half of a change of two samples is one's noise.
    const double over_time = static_cast<double>(features.change[parity].at(bx, by)) / samples / 2;
    double across = 0, sum = 0;
    for (int i = 0; i < rows; ++i) {
        across += static_cast<double>(features.line_change.at(bx, first + 2 * i)) / samples / 2;
        sum += features.segment_sums.at(bx, first + 2 * i);
    }
    if (over_time == 0 || across < least_even * over_time || across > most_even * over_time) return;
    const double level = std::max(0.0, range_.to_8_bit(sum / samples));
    FlatPlaces& places = levels_[std::min(steps - 1, static_cast<std::size_t>(level / codes_per_step))];
    if (places.variances.size() >= most_remembered) return;
    places.variances.push_back(static_cast<float>(0.5 * (over_time + across)));
    add_moments(plane, bx * segment, first, places);
}

void Crushing::add_moments(const media::Plane& plane, int x, int y, FlatPlaces& places) const {
    for (int i = 0; i < FrameFeatures::block_rows; i += 2)
        bit_depth_ == 8 ? add<std::uint8_t>(plane.row(y + 2 * i), x, places)
                        : add<std::uint16_t>(plane.row(y + 2 * i), x, places);
}

/// 0 at black, 1 at white.
double Crushing::share_of_range(double level) const {
    const double black = range_.to_8_bit(range_.black);
    return (level - black) / (range_.to_8_bit(range_.white) - black);
}

bool Crushing::is_middle(double level) const {
    return share_of_range(level) >= middle_from && share_of_range(level) <= middle_to;
}

/// Blocks without noise in the midst of the picture.
std::int64_t Crushing::silent_in_step(std::size_t step) const {
    const auto codes = static_cast<std::size_t>(codes_per_step) << (bit_depth_ - 8);
    std::int64_t sum = 0;
    for (std::size_t code = step * codes; code < (step + 1) * codes; ++code) sum += silent_.inside(code);
    return sum;
}

/// @param middle  variance in squared codes of the clip
Figure Crushing::figure(bool bright, double middle) const {
    std::size_t i = 0;
    const auto step = [&] { return bright ? steps - 1 - i : i; };
    const auto places_here = [&] { return static_cast<std::int64_t>(levels_[step()].variances.size()); };
    while (i < steps && places_here() + silent_in_step(step()) < static_cast<std::int64_t>(fewest_at_end)) ++i;
    const double share = i < steps ? share_of_range((static_cast<double>(step()) + 0.5) * codes_per_step) : 0.5;
    if ((bright ? 1 - share : share) > end_within)
        return Figure::unknown(bright ? "no flat place near white" : "no flat place near black");
    const FlatPlaces& places = levels_[step()];
    if (silent_in_step(step()) > places_here())
        return Figure::unknown(fmt::format("most flat places at {} hold no noise at all: cut off, or put in later",
                                           bright ? "white" : "black"));
    const double variance = low_variance(places.variances), slope = std::sqrt(variance / middle);
    const double scatter = part_scatter / 2 / std::sqrt(static_cast<double>(places.variances.size()));
    std::string note = "by the noise there, over that of the middle";
    const auto lean = lean_of(places);
    const bool surely_noise = variance >= least_noise * least_noise;
    if (lean && surely_noise && std::abs(*lean) >= least_lean && (*lean < 0) == bright)
        note += fmt::format("; the noise leans {}, as where the levels are bent", bright ? "down" : "up");
    return Figure::measured(slope, std::hypot(slope * scatter, systematic), "").with_note(note);
}

void Crushing::add_figures(std::optional<double> middle_variance, quantity::Figures& figures) const {
    const double middle =
        std::max(0.0, middle_variance.value_or(0) * range_.per_8_bit_code * range_.per_8_bit_code - rounding);
    const char* nothing = is_lossy_                            ? "the clip's codec chooses what noise it keeps"
                          : middle < least_noise * least_noise ? "the noise in the middle of the range is not known"
                                                               : nullptr;
    figures.add("black_slope", nothing != nullptr ? Figure::unknown(nothing) : figure(false, middle));
    figures.add("white_slope", nothing != nullptr ? Figure::unknown(nothing) : figure(true, middle));
}

}  // namespace guardband::measure
