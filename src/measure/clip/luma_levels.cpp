#include "measure/clip/luma_levels.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <string>
#include <string_view>
#include <utility>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int area_rows = 4;      // of a field
constexpr int side_samples = 24;  // left out at either side
constexpr int edge_rows = 8;      // of the frame, left out at top and bottom
constexpr double end_share = 0.005;
/// Areas among which the noise of either end is looked for: some more than the end itself.
constexpr double noise_share = 0.02;
constexpr double median_over_sigma = 0.6745 * std::numbers::sqrt2;  // of |a - b|, both normal with sigma
/// Noise of an area when the clip shows none; a window must have some width.
constexpr double least_noise = 0.12;
constexpr double window_sigmas = 2.5;
/// A pile wanders at most so far from the quantile it was found at: the quantile of a pile that fills the picture
/// is 2.6 sigma off.
constexpr double farthest_sigmas = 4;
/// A pile has this many times the areas of the window next to it on the inner side.
constexpr double pile_factor = 2;
/// Areas that a pile has more than so many times that window, over the scatter of their number; each counts once,
/// however long the picture stands.
constexpr double no_chance = 3;
/// A black stands at most as high as one to which set-up was added twice, and this share of the range; what is flat
/// above that is something else.
constexpr double above_twice_set_up = 0.02;
/// Of an area without colour, 8-bit codes from the middle of the chroma range; and how near in level to it areas are
/// that belong to the same thing.
constexpr double most_colour = 6, same_thing = 2;
constexpr double chroma_middle = 128;
/// Steps below and above black that test pictures have for setting a screen, 2 and 4 % of the range, 8-bit codes; and
/// how far areas of one lie apart.
constexpr double least_step = 3.5, most_step = 10.5, of_step = 1.2;
/// How near to set-up a black must lie to be it: the standard's own tolerance is 5.5. Likewise to black.
constexpr double set_up_codes = 4;
/// What is flat and fills more of the picture than this is a ground that something was put on. It is black if it stands
/// where one does; else it may as well be grey.
constexpr double ground_share = 0.5;

/// One end in terms of the other: the bright end is the dark end of the levels turned over.
class End {
public:
    End(const AreaHistogram& levels, bool bright) : levels_(levels), bright_(bright) {}

    double quantile(double share) const { return bright_ ? levels_.quantile(1 - share) : levels_.quantile(share); }
    /// Towards mid-grey.
    double inward(double level, double distance) const { return bright_ ? level - distance : level + distance; }
    std::int64_t count(double level, double from, double to) const {
        const double a = inward(level, from), b = inward(level, to);
        return levels_.between(std::min(a, b), std::max(a, b));
    }

private:
    const AreaHistogram& levels_;
    bool bright_;
};

/// The middle of the pile around `start`, or nothing if the levels go on from there without one.
/// @param frames  that the levels are from
std::optional<double> pile_near(const AreaHistogram& levels, const End& end, double start, double noise,
                                double frames) {
    const double window = window_sigmas * noise;
    double middle = start;
    for (int i = 0; i < 100; ++i) {
        const double next = levels.mean_between(middle - window, middle + window).value_or(middle);
        if (std::abs(next - start) > farthest_sigmas * noise + 0.5) return std::nullopt;
        if (std::abs(next - middle) < 1e-3) break;
        middle = next;
    }
    const double inside = static_cast<double>(end.count(middle, -window, window)) / frames;
    const double beside = static_cast<double>(end.count(middle, window, 3 * window)) / frames;
    const double scatter = std::sqrt(inside + pile_factor * pile_factor * beside);
    if (inside - pile_factor * beside < no_chance * scatter) return std::nullopt;
    return middle;
}

LevelEnd level_end(const AreaHistogram& levels, const AreaHistogram& changes, bool bright, double frames) {
    const End end(levels, bright);
    const double measured_noise = changes.count() > 0 ? changes.quantile(0.5) / median_over_sigma : 0;
    const double noise = std::max(measured_noise, least_noise);
    const double start = end.quantile(end_share);
    if (const auto middle = pile_near(levels, end, start, noise, frames)) return {*middle, 0.1 + 0.1 * noise, true};
    // Where nothing piles up, the level is no better known than the share that was chosen for it.
    const double spread = std::abs(end.quantile(2 * end_share) - end.quantile(end_share / 2)) / 2;
    return {start, std::max(spread, 0.1 + 0.1 * noise), false};
}

/// Black where a test picture has a narrow step below it, and one as far above it: little of the lowest level, little
/// between it and black, and black as it should be. Nothing if the levels are not those. Bars have dark colours
/// besides, and stripes so narrow that most areas lie half on one.
std::optional<double> black_between_steps(const AreaHistogram& levels, double lowest, double black) {
    const double step = black - lowest;
    if (step < least_step || step > most_step) return std::nullopt;
    const auto between = [&levels](double low, double high) { return static_cast<double>(levels.between(low, high)); };
    const double few = between(lowest - of_step, lowest + of_step);
    const double blacks = between(black - of_step, black + of_step);
    const double half_on_step = between(lowest + of_step, black - of_step);
    const double above = between(black + step - 2 * of_step, black + step + of_step);
    if (blacks < 3 * few || above < few / 2 || half_on_step > 3 * few) return std::nullopt;
    return levels.mean_between(black - of_step, black + of_step);
}

Figure figure_of(const LevelEnd& end, std::string flat_note, const char* other_note) {
    return Figure::measured(end.level, end.uncertainty, "").with_note(end.is_flat ? std::move(flat_note) : other_note);
}

/// The most that a colour system lifts black by, share of the range. @param scanning  of these lines; empty for all
double greatest_set_up(const table::Table& table, std::string_view scanning) {
    double greatest_ire = 0;
    for (const table::Colour& colour : table.colours) {
        const bool counts = scanning.empty() || colour.scanning == scanning;
        const table::Fact* fact = counts ? colour.facts.known("setup_level") : nullptr;
        if (fact != nullptr && fact->is_number()) greatest_ire = std::max(greatest_ire, fact->in("IRE"));
    }
    return greatest_ire / 100;
}

double code_above_black(const LumaRange& range, double share) {
    return range.to_8_bit(range.black + share * (range.white - range.black));
}

/// Where black stands if set-up was left in, 8-bit code; nothing if no colour system of the clip's lines has any.
std::optional<double> set_up_code(const ClipContext& context, const LumaRange& range) {
    const media::PictureFormat& picture = context.info.picture;
    const table::Raster* raster = context.table.find_raster(picture.width, picture.height);
    if (raster == nullptr) return std::nullopt;
    const double share = greatest_set_up(context.table, raster->scanning);
    return share > 0 ? std::optional(code_above_black(range, share)) : std::nullopt;
}

}  // namespace

void AreaHistogram::add(double level) {
    const auto last = static_cast<double>(bins_.size() - 1);
    ++bins_[static_cast<std::size_t>(std::clamp(level * bins_per_code, 0.0, last))];
    ++count_;
}

double AreaHistogram::quantile(double share) const {
    const double wanted = share * static_cast<double>(count_);
    double below = 0;
    for (std::size_t bin = 0; bin < bins_.size(); ++bin) {
        const auto here = static_cast<double>(bins_[bin]);
        if (here > 0 && below + here >= wanted)
            return (static_cast<double>(bin) + std::clamp((wanted - below) / here, 0.0, 1.0)) / bins_per_code;
        below += here;
    }
    return static_cast<double>(bins_.size()) / bins_per_code;
}

std::int64_t AreaHistogram::between(double low, double high) const {
    const auto from = static_cast<std::ptrdiff_t>(std::max(0.0, std::ceil(low * bins_per_code - 0.5)));
    const auto to =
        static_cast<std::ptrdiff_t>(std::min(static_cast<double>(bins_.size()), std::ceil(high * bins_per_code - 0.5)));
    return from < to ? std::accumulate(bins_.begin() + from, bins_.begin() + to, std::int64_t{0}) : 0;
}

std::optional<double> AreaHistogram::mean_between(double low, double high) const {
    const auto from = static_cast<std::size_t>(std::max(0.0, std::ceil(low * bins_per_code - 0.5)));
    const auto to = static_cast<std::size_t>(
        std::clamp(std::ceil(high * bins_per_code - 0.5), 0.0, static_cast<double>(bins_.size())));
    double count = 0, sum = 0;
    for (std::size_t bin = from; bin < to; ++bin) {
        count += static_cast<double>(bins_[bin]);
        sum += static_cast<double>(bins_[bin]) * (static_cast<double>(bin) + 0.5);
    }
    if (count == 0) return std::nullopt;
    return sum / count / bins_per_code;
}

LumaLevels::LumaLevels(const ClipContext& context)
    : range_(luma_range(context.info.picture, context.table)),
      highest_black_(code_above_black(range_, 2 * greatest_set_up(context.table, {}) + above_twice_set_up)),
      set_up_(set_up_code(context, range_)) {}

void LumaLevels::see(const media::Frame& frame, const FrameFeatures& features) {
    see_areas(frame, features);
    // From the levels of the frames so far; the first frame has no frame before it to be compared with anyway.
    if (levels_.count() == 0) return;
    dark_below_ = levels_.quantile(noise_share);
    bright_above_ = levels_.quantile(1 - noise_share);
}

void LumaLevels::see_areas(const media::Frame& frame, const FrameFeatures& features) {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    constexpr int segment = FrameFeatures::segment;
    const int left = (side_samples + segment - 1) / segment;
    const int right = sums.width - left;
    const double per_area = range_.per_8_bit_code * segment * area_rows;
    std::size_t area = 0;
    for (int parity = 0; parity < 2; ++parity)
        for (int y = edge_rows + parity; y + 2 * area_rows <= sums.height - edge_rows + parity; y += 2 * area_rows)
            for (int x = left; x < right; ++x, ++area) {
                std::uint32_t sum = 0;
                for (int row = 0; row < area_rows; ++row) sum += sums.at(x, y + 2 * row);
                const double level = sum / per_area;
                levels_.add(level);
                compare(area, level);
                if (level <= dark_below_) look_at_colour(frame, x, y, level);
            }
}

void LumaLevels::compare(std::size_t area, double level) {
    if (area >= areas_.size()) {
        areas_.push_back(static_cast<float>(level));
        return;
    }
    const double before = areas_[area];
    areas_[area] = static_cast<float>(level);
    const double change = std::abs(level - before);
    // Chosen by their mean, of which noise makes the change independent: a black that fills half of the picture has
    // most of its areas above the level that was chosen.
    const double mean = (level + before) / 2;
    if (mean <= dark_below_) dark_changes_.add(change);
    if (mean >= bright_above_) bright_changes_.add(change);
}

/// One row of an area's chroma. @param x, y  its first segment and its first frame row
void LumaLevels::look_at_colour(const media::Frame& frame, int x, int y, double level) {
    if (!frame.format.has_chroma) return;
    double square = 0;
    for (const std::size_t plane : {std::size_t{1}, std::size_t{2}}) {
        const media::Plane& chroma = frame.planes[plane];
        const std::byte* row = chroma.row(y * chroma.height / frame.format.height);
        const int first = x * FrameFeatures::segment * chroma.width / frame.format.width;
        const int last = (x + 1) * FrameFeatures::segment * chroma.width / frame.format.width;
        double sum = 0;
        for (int i = first; i < last; ++i)
            sum += frame.format.bit_depth > 8 ? static_cast<double>(reinterpret_cast<const std::uint16_t*>(row)[i])
                                              : static_cast<double>(reinterpret_cast<const std::uint8_t*>(row)[i]);
        const double off = sum / std::max(1, last - first) / range_.per_8_bit_code - chroma_middle;
        square += last > first ? off * off : 0;
    }
    dark_.add(level);
    if (square > most_colour * most_colour) dark_coloured_.add(level);
}

bool LumaLevels::is_coloured(double dark_level) const {
    const double low = dark_level - same_thing, high = dark_level + same_thing;
    return 2 * dark_coloured_.between(low, high) > dark_.between(low, high);
}

/// Whether what is flat at a level fills most of the picture, and stands where black doesn't.
bool LumaLevels::is_ground(double level) const {
    if (std::abs(level - range_.to_8_bit(range_.black)) <= set_up_codes) return false;
    const auto near = static_cast<double>(levels_.between(level - same_thing, level + same_thing));
    return near > ground_share * static_cast<double>(levels_.count());
}

void LumaLevels::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    if (levels_.count() == 0) {
        figures.add("black_level", Figure::unknown("no frame has been read, or the picture is too small"));
        figures.add("white_level", Figure::unknown("no frame has been read, or the picture is too small"));
        return;
    }
    const auto frames = static_cast<double>(levels_.count()) / static_cast<double>(areas_.size());
    LevelEnd black = level_end(levels_, dark_changes_, false, frames);
    const bool coloured = black.is_flat && is_coloured(black.level);
    if (const auto middle = black_between_steps(levels_, black.level, range_.to_8_bit(range_.black)))
        black.level = *middle;
    if (coloured || black.level > highest_black_) black.is_flat = false;
    const bool has_set_up = set_up_ && std::abs(black.level - *set_up_) <= set_up_codes;
    const bool on_ground = black.is_flat && !has_set_up && is_ground(black.level);
    if (on_ground) black.is_flat = false;
    figures.add(
        "black_level",
        figure_of(black,
                  has_set_up ? "a true black: flat but for its noise; it stands where set-up does that was left in"
                             : "a true black: flat but for its noise",
                  coloured    ? "of the darkest areas, which have a colour: no black in the picture"
                  : on_ground ? "of an even ground, with nothing darker in the picture: black or grey can't be told"
                              : "of the darkest areas, which are not flat: perhaps no black in the picture"));
    figures.add("white_level",
                figure_of(level_end(levels_, bright_changes_, true, frames), "a flat white but for its noise",
                          "of the brightest areas, which are not flat: perhaps no white in the picture"));
}

}  // namespace guardband::measure
