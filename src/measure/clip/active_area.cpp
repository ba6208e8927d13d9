#include "measure/clip/active_area.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"
#include "measure/clip/scanning_match.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr int frame_interval = 8;  ///< the picture's edges stay where they are
constexpr std::int64_t early_frames = 8;
constexpr std::size_t side_segments = 2;  ///< left out of a line's halves at either side, where blanking lies
/// Blanking lies so near to black and is so steady, 8-bit codes; a picture is brighter than it by so much.
constexpr double blanking_reach = 20, blanking_spread = 4, least_light = 8;
/// Samples past the edge from which on the picture is itself, and how many are taken together.
constexpr std::size_t past_edge = 5, plateau = 8, far_in = 24;
/// Beyond this share of the raster blanking is a wide bar; a picture beside one is as bright there by that share as in
/// its middle, where titles on black, which end anywhere, are not; and most of the time by that share as bright as on
/// the whole, where titles that roll seldom reach.
constexpr double wide_bar = 0.05, of_middle = 0.5, of_usual = 0.3;
constexpr double full_share = 0.85;  ///< of the picture's level that an outermost column of picture has at least
/// The step of a hard edge is made within one sample by this share.
constexpr double hard_share = 0.8;
/// `past_edge` samples before the half of an edge there is less than this share of its level: none is left but where
/// the edge sways. A dark picture that grows lighter evenly, all the way from black, has 0.2 and more there.
constexpr double most_before = 0.1;
/// Lines looked at one by one, how far in, and how many are kept.
constexpr int line_interval = 10, search_px = 48;
constexpr std::size_t most_crossings = 20'000, fewest_crossings = 30;
constexpr int late_picture = 6;  ///< lines that it may begin later than it should
constexpr float least_half = 10, near_px = 4;
constexpr double alike_lines = 6;
constexpr double bright_share = 0.9;  ///< of the time a place is no brighter than the brightness it is judged by

/// Places counted from the raster's other end.
class Ordered {
public:
    Ordered(const LevelCounts& counts, bool backward) : counts_(counts), backward_(backward) {}
    std::size_t size() const { return counts_.places(); }
    double mean(std::size_t i) const { return counts_.mean(at(i)); }
    double quantile(std::size_t i, double share) const { return counts_.quantile(at(i), share); }
    std::size_t at(std::size_t i) const { return backward_ ? size() - 1 - i : i; }

private:
    const LevelCounts& counts_;
    bool backward_;
};

/// Level of the blanking that a place shows, if it does.
std::optional<double> blanking_level(const Ordered& places, std::size_t place, double black) {
    const double level = places.quantile(place, 0.5);
    const double spread = places.quantile(place, 0.7) - places.quantile(place, 0.3);
    if (std::abs(level - black) > blanking_reach || spread > blanking_spread) return std::nullopt;
    return level;
}

/// Mean level of the picture from a place on, above blanking.
double level_from(const Ordered& places, std::size_t first, double blanking) {
    double sum = 0;
    for (std::size_t i = first; i < first + plateau; ++i) sum += places.mean(i) - blanking;
    return sum / plateau;
}

/// As `level_from`, but what it is half of the time.
double usual_level_from(const Ordered& places, std::size_t first, double blanking) {
    double sum = 0;
    for (std::size_t i = first; i < first + plateau; ++i) sum += places.quantile(i, 0.5) - blanking;
    return sum / plateau;
}

/// Mean level of the middle half of the raster, above blanking.
double level_of_middle(const Ordered& places, double blanking) {
    const std::size_t first = places.size() / 4, last = places.size() - first;
    double sum = 0;
    for (std::size_t i = first; i < last; ++i) sum += places.mean(i) - blanking;
    return sum / static_cast<double>(last - first);
}

/// Samples over which an edge that sways rises from a fifth to four fifths, around a place.
double width_of_sway(const Ordered& places, std::size_t at, double blanking, double level) {
    std::size_t low = at, high = at;
    while (low > 0 && places.mean(low) - blanking > 0.2 * level) --low;
    while (high + 1 < places.size() / 2 && places.mean(high) - blanking < 0.8 * level) ++high;
    return static_cast<double>(high - low);
}

/// The first place from which on a line stays above half of what it is some samples further in, if that is light.
/// @param level  above blanking, at a sample
template <typename Level>
std::optional<float> half_way_up(const Level& level) {
    for (int x = 1; x < search_px; ++x) {
        float further_in = 0;
        for (int i = 4; i < 9; ++i) further_in += level(x + i) / 5;
        const float half = further_in / 2, here = level(x), before = level(x - 1);
        if (half < least_half || here < half || level(x + 1) < half || before > half) continue;
        return static_cast<float>(x - 1) + (here > before ? (half - before) / (here - before) : 1.0F);
    }
    return std::nullopt;
}

/// Black of some width at one side alone is more likely a part of the picture, as the last of colour bars is.
void leave_out_lone(std::array<std::optional<ActiveEdge>, 4>& edges, std::size_t first, int size) {
    for (const std::size_t i : {first, first + 1, first}) {  // the first once more: the second may have left it alone
        const auto& other = edges[i == first ? first + 1 : first];
        if (edges[i] && edges[i]->blank > size / 20.0 && (!other || other->blank < edges[i]->blank / 2))
            edges[i] = std::nullopt;
    }
}

}  // namespace

ActiveArea::ActiveArea(const ClipContext& context)
    : context_(context),
      range_(luma_range(context.info.picture, context.table)),
      black_(range_.to_8_bit(range_.black)),
      blanking_(blanking_above(context.table, context.info.picture.height)),
      columns_(static_cast<std::size_t>(std::max(0, context.info.picture.width))),
      lines_{LevelCounts(static_cast<std::size_t>(std::max(0, context.info.picture.height))),
             LevelCounts(static_cast<std::size_t>(std::max(0, context.info.picture.height)))} {}

void ActiveArea::see(const media::Frame& frame, const FrameFeatures& features) {
    ++frames_;
    if (frame.damaged || (frames_ > early_frames && frames_ % frame_interval != 0)) return;
    see_columns(features);
    see_lines(features);
    see_edges(frame);
}

/// Where single lines are half way up from blanking.
void ActiveArea::see_edges(const media::Frame& frame) {
    const media::PictureFormat& p = frame.format;
    if (p.width < 8 * search_px || crossings_[0].size() >= most_crossings) return;
    const float scale = 1.0F / static_cast<float>(range_.per_8_bit_code);
    for (int side = 0; side < 2; ++side) {
        const auto blanking = static_cast<float>(columns_.quantile(side == 0 ? 0 : columns_.places() - 1, 0.5));
        for (int y = static_cast<int>(frames_ % line_interval); y < p.height; y += line_interval) {
            const std::byte* row = frame.planes[0].row(y);
            const auto level = [&](int x) {
                const int at = side == 0 ? x : p.width - 1 - x;
                return scale * (p.bit_depth > 8 ? static_cast<float>(reinterpret_cast<const std::uint16_t*>(row)[at])
                                                : static_cast<float>(reinterpret_cast<const std::uint8_t*>(row)[at])) -
                       blanking;
            };
            if (const auto place = half_way_up(level))
                crossings_[static_cast<std::size_t>(side)].push_back(*place + 0.5F);
        }
    }
}

void ActiveArea::see_columns(const FrameFeatures& features) {
    for (int parity = 0; parity < 2; ++parity) {
        const Grid<std::uint32_t>& sums = features.column_sums[static_cast<std::size_t>(parity)];
        const int field_rows = (context_.info.picture.height + 1 - parity) / 2;
        const int rows = std::min(field_rows, FrameFeatures::column_rows);
        const double scale = 1 / (range_.per_8_bit_code * rows);
        for (int band = 0; band < sums.height; ++band)
            for (int x = 0; x < sums.width; ++x) columns_.add(static_cast<std::size_t>(x), sums.at(x, band) * scale);
    }
}

void ActiveArea::see_lines(const FrameFeatures& features) {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    const auto count = static_cast<std::size_t>(sums.width);
    if (count < 2 * side_segments + 2) return;
    const std::size_t half = count / 2 - side_segments;
    const double scale = 1 / (range_.per_8_bit_code * FrameFeatures::segment * static_cast<double>(half));
    for (int y = 0; y < sums.height; ++y)
        for (std::size_t side = 0; side < 2; ++side) {
            const std::size_t first = side == 0 ? side_segments : count - side_segments - half;
            std::uint64_t sum = 0;
            for (std::size_t i = first; i < first + half; ++i) sum += sums.at(static_cast<int>(i), y);
            lines_[side].add(static_cast<std::size_t>(y), static_cast<double>(sum) * scale);
        }
}

bool ActiveArea::is_lit() const {
    for (std::size_t x = columns_.places() / 4; x < columns_.places() * 3 / 4; ++x)
        if (columns_.quantile(x, bright_share) > black_ + 2 * least_light) return true;
    return false;
}

std::optional<ActiveEdge> ActiveArea::column_edge(bool right) const {
    const Ordered places(columns_, right);
    if (places.size() < 2 * (far_in + 2 * plateau)) return std::nullopt;  // too narrow to look further in
    auto blanking = blanking_level(places, 0, black_);
    const bool sways = !blanking;
    if (sways) {
        // No blanking, or one that sways in and out of the raster.
        const double least = places.quantile(0, 0.05), outermost = places.mean(0) - least;
        const double further_in = level_from(places, far_in, least);
        if (std::abs(least - black_) > blanking_reach || outermost > full_share * further_in)
            return ActiveEdge{0, 0.3, true};
        if (outermost > further_in / 2) return std::nullopt;
        blanking = least;
    }
    const std::size_t end = places.size() / 2;
    for (std::size_t x = 1; x + far_in + 2 * plateau < end; ++x) {
        const double here = places.mean(x) - *blanking, before = places.mean(x - 1) - *blanking;
        const double level = level_from(places, x + (sways ? far_in : past_edge), *blanking);
        if (level < least_light / 2 || here < level / 2 ||
            places.quantile(x + past_edge, bright_share) < *blanking + least_light)
            continue;
        const bool is_wide = static_cast<double>(x) > wide_bar * static_cast<double>(places.size());
        if (is_wide && (level < of_middle * level_of_middle(places, *blanking) ||
                        usual_level_from(places, x + past_edge, *blanking) < of_usual * level))
            return std::nullopt;
        const auto crossing = [&](double full) {
            return here > before ? std::clamp((full / 2 - before) / (here - before), 0.0, 1.0) : 1.0;
        };
        // What the picture is further in, too, tells how sure the half is.
        const double far = level_from(places, x + (sways ? far_in : past_edge) + plateau, *blanking);
        const double doubt = std::abs(crossing(std::max(far, 1e-3)) - crossing(level)) / 2;
        const bool hard = here - before > hard_share * level && before < (1 - hard_share) * level / 2 &&
                          places.quantile(x - 1, 0.99) - places.quantile(x - 1, 0.01) < 0.6;
        const double blank = static_cast<double>(x - 1) + crossing(level) + 0.5;
        if (hard) return ActiveEdge{static_cast<double>(x), 0.1, true};
        if (sways) return ActiveEdge{blank, 1 + 0.3 * width_of_sway(places, x, *blanking, level), false};
        const bool steep = x < past_edge || places.mean(x - past_edge) - *blanking < most_before * level;
        return refined({blank, 0.2 + doubt, false}, steep, right);
    }
    return std::nullopt;
}

/// By the single lines that have their edge near there. Nothing if they have none and all together have no steep one.
std::optional<ActiveEdge> ActiveArea::refined(const ActiveEdge& coarse, bool steep, bool right) const {
    std::vector<float> near;
    for (const float crossing : crossings_[right ? 1 : 0])
        if (std::abs(crossing - static_cast<float>(coarse.blank)) < near_px) near.push_back(crossing);
    if (near.size() < fewest_crossings) return steep ? std::optional(coarse) : std::nullopt;
    const double scatter = dsp::spread(std::span<const float>(near));
    return ActiveEdge{dsp::median(std::span<const float>(near)),
                      0.1 + scatter * std::sqrt(alike_lines / static_cast<double>(near.size())), false};
}

/// @param half  0: the left, 1: the right, 2: either
bool ActiveArea::line_is_lit(std::size_t line, double blanking, int half) const {
    const auto lit = [&](std::size_t side) {
        return lines_[side].quantile(line, bright_share) > blanking + least_light / 2;
    };
    return half == 2 ? lit(0) || lit(1) : lit(static_cast<std::size_t>(half));
}

/// Where the picture begins under vertical blanking, whose data lines may be as bright as it: up from some lines
/// further down.
std::optional<ActiveEdge> ActiveArea::edge_below_blanking() const {
    std::size_t line = static_cast<std::size_t>(blanking_ + late_picture);
    if (line >= lines_[0].places() || !line_is_lit(line, black_, 2)) return std::nullopt;
    while (line > 0 && line_is_lit(line - 1, black_, 2)) --line;
    return ActiveEdge{static_cast<double>(line), 0.3, false};
}

std::optional<ActiveEdge> ActiveArea::line_edge(bool bottom) const {
    const Ordered left(lines_[0], bottom), right(lines_[1], bottom);
    if (lines_[0].seen() == 0) return std::nullopt;
    if (blanking_ > 0 && !bottom) return edge_below_blanking();
    const auto blank_left = blanking_level(left, 0, black_), blank_right = blanking_level(right, 0, black_);
    if (!blank_left || !blank_right) return ActiveEdge{0, 0.3, true};
    const double blanking = std::min(*blank_left, *blank_right);
    for (std::size_t i = 0; i < left.size() / 2; ++i) {
        if (!line_is_lit(left.at(i), blanking, 2)) continue;
        const bool hard = i > 0 && left.quantile(i - 1, 0.99) - left.quantile(i - 1, 0.01) < 0.6;
        return ActiveEdge{static_cast<double>(i), 0.3, hard};
    }
    return std::nullopt;
}

/// Picture in the right half alone, as in the first line of a 625-line picture.
bool ActiveArea::is_half_line(double line) const {
    const auto place = static_cast<std::size_t>(line);
    return place < lines_[0].places() && !line_is_lit(place, black_, 0) && line_is_lit(place, black_, 1);
}

void ActiveArea::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    constexpr std::array ids{"active_left", "active_right", "active_top", "active_bottom"};
    const auto all_unknown = [&](const char* reason) {
        for (const char* id : ids) figures.add(id, Figure::unknown(reason));
    };
    if (columns_.seen() == 0) return all_unknown("no whole frame has been read");
    if (!is_lit()) return all_unknown("the whole clip is too dark to tell picture from blanking");
    std::array found{column_edge(false), column_edge(true), line_edge(false), line_edge(true)};
    leave_out_lone(found, 0, context_.info.picture.width);
    if (blanking_ == 0) leave_out_lone(found, 2, context_.info.picture.height);
    for (std::size_t i = 0; i < found.size(); ++i) {
        const char* unit = i < 2 ? "pixels" : "lines";
        figures.add(ids[i], found[i] ? Figure::measured(found[i]->blank, found[i]->uncertainty, unit)
                                     : Figure::unknown("no steady edge of the picture against blanking"));
    }
    if (!std::ranges::all_of(found, [](const auto& edge) { return edge.has_value(); })) return;
    const std::array<ActiveEdge, 4> edges{*found[0], *found[1], *found[2], *found[3]};
    for (const std::string& note :
         raster_notes(edges, is_half_line(edges[2].blank), context_.info.picture, context_.table)) {
        quantity::Event event;
        event.kind = "raster", event.severity = quantity::Severity::Note, event.what = note;
        events.push_back(event);
    }
}

}  // namespace guardband::measure
