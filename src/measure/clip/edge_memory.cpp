#include "measure/clip/edge_memory.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

/// Samples of a strip by which its movement is found: behind the rise, apart from what leaves at the other end.
constexpr int first_compared = EdgeFilter::before + 5, margin = 4;
constexpr float farthest_lines = 4;  ///< movement per frame that is followed, as `farthest_px`
constexpr float most_left = 0.5F;    ///< share of the contrast that a strip which fits may leave
constexpr float least_contrast = 4;  ///< mean square, codes²: below it the picture is flat, and fits
constexpr int most_rounds = 4, searches_per_side = 2;
constexpr float at_rest_px = 0.15F;  ///< and lines
/// What a vector of the kernels holds at most, so that nothing is left over.
constexpr int vector = 8;
/// Of a group's rows so many are looked at for its movement.
constexpr std::size_t compared_row_step = 2;
constexpr float least_outwards_px = 0.05F;
/// Of the mean square of noise, what its slopes, and its steps from line to line, have; of that of slopes, what such
/// steps have because lines are placed unlike.
constexpr float noise_slopes = 0.6F, noise_steps = 2.2F, unlike_places = 0.05F;
/// What a line this near says stands for both.
constexpr float nearest_line = 0.1F;
constexpr float least_determinant = 0.05F;
constexpr float most_correction_px = 1;
/// Share of what a line shows in the new strip.
constexpr float newness = 0.4F;
/// Variance of what a row is off the average of earlier ones, in variances of one.
constexpr float noise_in_difference = 1.3F;
/// A row that is off by more, RMS 8-bit codes, shows something else.
constexpr float most_error_codes = 16;
/// The strip must reach out to this share of the rise behind the edge.
constexpr float reach_of_rise = -0.2F;

}  // namespace

void EdgeMemory::read_group(const EdgeRows& rows, int side, const std::vector<EdgeLine>& lines, int first_line) {
    row_count_ = 0;
    group_rows_.resize(group_lines);
    const int end = std::min(first_line + group_lines, rows.lines());
    for (int y = first_line; y < end; ++y) {
        const EdgeLine& line = lines[static_cast<std::size_t>(y)];
        const auto& edge = line.edges[static_cast<std::size_t>(side)];
        if (!edge || (line.side != EdgeLine::both && line.side != side)) continue;
        Row& row = group_rows_[row_count_++];
        row.line = y, row.first = static_cast<int>(edge->place);
        row.fraction = edge->place - static_cast<float>(row.first);
        rows.stretch(y, side, row.first - EdgeFilter::before, length, row.codes.data());
    }
}

/// A strip moved on to where a row's samples stand, by a cubic through four.
void EdgeMemory::move_on(const Strip& strip, float fraction, float motion_px, Piece& out) const {
    const float at = std::clamp(strip.fraction - fraction - motion_px, -farthest_px - 2, farthest_px + 2);
    const int whole = static_cast<int>(std::floor(at));
    const float t = at - static_cast<float>(whole);
    const std::array weights{t * (-0.5F + t * (1 - 0.5F * t)), 1 + t * t * (-2.5F + 1.5F * t),
                             t * (0.5F + t * (2 - 1.5F * t)), t * t * (-0.5F + 0.5F * t)};
    const int from = std::max(0, 1 - whole), to = std::min(length, length - 2 - whole);
    kernels_.interpolate(strip.picture.data() + whole + from, to - from, weights.data(), out.data() + from);
    std::fill(out.begin(), out.begin() + from, out[static_cast<std::size_t>(from)]);
    std::fill(out.begin() + to, out.end(), out[static_cast<std::size_t>(to - 1)]);
}

/// What a row should show: the strips of the two lines that it came from, moved on; of one where the scene stays level.
/// @param level  whether to take it for level
void EdgeMemory::foresee(const Side& memory, Row& row, const Motion& motion, bool level) {
    const float source = static_cast<float>(row.line) - (level ? 0 : motion.lines);
    const int above = static_cast<int>(std::floor(source));
    const float share = source - static_cast<float>(above);
    const auto strip = [&](int line) -> const Strip* {
        if (line < 0 || line >= static_cast<int>(memory.before.size())) return nullptr;
        const Strip& one = memory.before[static_cast<std::size_t>(line)];
        return one.valid ? &one : nullptr;
    };
    const Strip *upper = strip(above), *lower = level ? upper : strip(above + 1);
    row.has_strip = (upper != nullptr || share > 1 - nearest_line) && (lower != nullptr || share < nearest_line);
    if (!row.has_strip) return;
    if (level || upper == nullptr || lower == nullptr) {
        const Strip& one = upper != nullptr ? *upper : *lower;
        move_on(one, row.fraction, motion.px, row.foreseen);
        if (!level) row.downwards.fill(0);
        row.known_from = one.known_from + motion.px;
        return;
    }
    move_on(*upper, row.fraction, motion.px, row.foreseen);
    move_on(*lower, row.fraction, motion.px, below_);
    for (std::size_t i = 0; i < length; ++i) row.downwards[i] = row.foreseen[i] - below_[i];
    for (std::size_t i = 0; i < length; ++i) row.foreseen[i] -= share * row.downwards[i];
    // A line that has next to no part in it may know less.
    row.known_from = motion.px + std::max(share < 1 - nearest_line ? upper->known_from : lower->known_from,
                                          share > nearest_line ? lower->known_from : upper->known_from);
}

/// Samples that can be compared after a movement.
std::pair<int, int> EdgeMemory::compared(float motion_px) {
    const int first = first_compared + static_cast<int>(std::ceil(std::max(motion_px, 0.0F)));
    const int last = length - margin - static_cast<int>(std::ceil(std::max(-motion_px, 0.0F)));
    return {first, first + (last - first) / vector * vector};
}

/// RMS of what a row is off what was foreseen, without the noise, 8-bit codes.
float EdgeMemory::error_of(const Row& row, float motion_px) const {
    const auto [first, end] = compared(motion_px);
    rows::PieceMoments m;
    kernels_.piece_moments(row.codes.data() + first, row.foreseen.data() + first, nullptr, end - first, &m);
    const auto count = static_cast<float>(end - first);
    const float noise = noise_in_difference * static_cast<float>(noise_ * noise_);
    return std::sqrt(std::max(0.0F, m.o_squares / count - m.o * m.o / (count * count) - noise));
}

EdgeMemory::Match EdgeMemory::match(const Side& memory, const Motion& motion, bool level) {
    const auto [first, end] = compared(motion.px);
    const int count = end - first;
    rows::PieceMoments all, of_row;
    float contrast = 0, counted = 0;
    for (std::size_t r = 0; r < row_count_; r += compared_row_step) {
        Row& row = group_rows_[r];
        foresee(memory, row, motion, level);
        if (!row.has_strip) continue;
        kernels_.piece_moments(row.codes.data() + first, row.foreseen.data() + first,
                               level ? nullptr : row.downwards.data() + first, count, &of_row);
        const auto samples = static_cast<float>(count);
        all.g_squares += of_row.g_squares, all.g_c += of_row.g_c, all.c_squares += of_row.c_squares;
        all.g_o += of_row.g_o, all.c_o += of_row.c_o;
        all.o_squares += of_row.o_squares - of_row.o * of_row.o / samples;
        contrast += of_row.signal_squares - of_row.signal * of_row.signal / samples;
        counted += samples;
    }
    if (all.g_squares <= 0) return {};
    Match found;
    const float determinant = all.g_squares * all.c_squares - all.g_c * all.g_c;
    if (determinant > least_determinant * all.g_squares * all.c_squares) {
        found.rest.px = (all.c_squares * all.g_o - all.g_c * all.c_o) / determinant;
        found.rest.lines = (all.g_squares * all.c_o - all.g_c * all.g_o) / determinant;
    } else {
        found.rest.px = all.g_o / all.g_squares;
    }
    const float left = std::max(0.0F, all.o_squares - found.rest.px * all.g_o - found.rest.lines * all.c_o);
    const auto noise = static_cast<float>(noise_ * noise_);
    found.left_codes2 = left / counted;
    found.left_share = std::max(0.0F, left - noise_in_difference * noise * counted) /
                       std::max(contrast - noise * counted, least_contrast * counted);
    const float error = noise_in_difference * noise;
    found.known.px = std::max(0.0F, all.g_squares - noise_slopes * noise * counted) / error;
    // What stays level is taken to do so for sure, if it shows anything.
    found.known.lines =
        level ? std::min(enough_known, found.known.px)
              : std::max(0.0F, all.c_squares - noise_steps * noise * counted - unlike_places * all.g_squares) / error;
    return found;
}

bool EdgeMemory::settle(const Side& memory, Motion& motion, bool& level, Motion& known) {
    // A level scene leaves noise only.
    const auto only_noise = static_cast<float>(1.5 * noise_in_difference * noise_ * noise_) + 1;
    bool fits = false;
    level = std::abs(motion.lines) < nearest_line;
    for (int round = 0; round < most_rounds; ++round) {
        const Match found = match(memory, motion, level);
        fits = found.left_share < most_left, known = found.known;
        const bool try_down = level && found.left_codes2 > only_noise && std::abs(found.rest.px) < at_rest_px;
        motion.px = std::clamp(motion.px + std::clamp(found.rest.px, -1.0F, 1.0F), -farthest_px, farthest_px);
        if (!level)
            motion.lines =
                std::clamp(motion.lines + std::clamp(found.rest.lines, -0.7F, 0.7F), -farthest_lines, farthest_lines);
        if (try_down)
            level = false;
        else if (std::abs(found.rest.px) < at_rest_px && std::abs(found.rest.lines) < at_rest_px)
            break;
    }
    return fits;
}

/// Movement of the group at hand: as in the frame before, as in the group above, or anew.
bool EdgeMemory::follow(const Side& memory, Motion& motion, const std::optional<Motion>& neighbour, bool& level,
                        Motion& known) {
    Motion tried = motion;
    bool found = settle(memory, tried, level, known);
    if (!found && neighbour) tried = *neighbour, found = settle(memory, tried, level, known);
    if (!found && searches_left_ > 0) {
        --searches_left_;
        float least = 1;
        for (int whole = -static_cast<int>(farthest_px); whole <= static_cast<int>(farthest_px); ++whole)
            if (const Match here = match(memory, {static_cast<float>(whole), 0}, true); here.left_share < least)
                least = here.left_share, tried = {static_cast<float>(whole), 0};
        found = settle(memory, tried, level, known);
    }
    if (found) motion = tried;
    return found;
}

void EdgeMemory::place_again(const Row& row, float error_codes, int side, const EdgeShape& shape,
                             EdgeLine& line) const {
    if (row.known_from > reach_of_rise * static_cast<float>(shape.rise_px())) return;
    EdgeFit& edge = *line.edges[static_cast<std::size_t>(side)];
    // Further out the picture is taken to stay as it is where it is last known.
    std::array<float, EdgeFilter::taps> picture{}, window{};
    const int last = std::clamp(static_cast<int>(std::ceil(row.known_from + row.fraction)) + EdgeFilter::before, 0,
                                EdgeFilter::taps - 1);
    for (int i = 0; i < EdgeFilter::taps; ++i)
        picture[static_cast<std::size_t>(i)] = row.foreseen[static_cast<std::size_t>(std::max(i, last))];
    const EdgeFilter& filter = shape.foreseen_filter(error_codes);
    float guess = edge.place;
    EdgeFit found;
    for (int i = 0; i < 2; ++i) {
        const float within = std::clamp(guess, static_cast<float>(row.first), static_cast<float>(row.first) + 0.999F);
        filter.level(row.codes.data(), picture.data(), row.first, within, window.data());
        found = filter.step(window.data(), row.first, within);
        guess = found.place;
    }
    if (std::abs(found.place - edge.place) > most_correction_px || found.variance >= edge.variance) return;
    edge = found;
    edge.strain = filter.strain(window.data(), row.first, found.place);
    line.foreseen[static_cast<std::size_t>(side)] = true;
}

/// The new strip of a row: what was foreseen, and what it shows behind the rise.
void EdgeMemory::remember(const Row& row, bool foreseen, float place, const EdgeShape& shape, Strip& strip) {
    const auto seen_from = static_cast<float>(0.5 * shape.rise_px());
    strip.fraction = place - static_cast<float>(row.first), strip.valid = true;
    const int first =
        std::clamp(static_cast<int>(std::ceil(seen_from + strip.fraction)) + EdgeFilter::before, 0, length - 1);
    if (foreseen) {
        strip.known_from = std::clamp(row.known_from, -2 * seen_from, seen_from);
        strip.picture = row.foreseen;
        for (auto i = static_cast<std::size_t>(first); i < length; ++i)
            strip.picture[i] += newness * (row.codes[i] - row.foreseen[i]);
    } else {
        strip.known_from = seen_from;
        strip.picture = row.codes;
        std::fill(strip.picture.begin(), strip.picture.begin() + first, row.codes[static_cast<std::size_t>(first)]);
    }
}

void EdgeMemory::see_group(int side, const EdgeShape& shape, const Motion* motion, bool level, Side& memory,
                           std::vector<EdgeLine>& lines) {
    for (std::size_t r = 0; r < row_count_; ++r) {
        Row& row = group_rows_[r];
        EdgeLine& line = lines[static_cast<std::size_t>(row.line)];
        // Where the scene rests or comes in, a strip knows no more than the row.
        bool foreseen = motion != nullptr && motion->px < -least_outwards_px;
        if (foreseen) foresee(memory, row, *motion, level), foreseen = row.has_strip;
        if (foreseen) {
            const float error = error_of(row, motion->px);
            foreseen = error < most_error_codes;
            if (foreseen) place_again(row, error, side, shape, line);
        }
        remember(row, foreseen, line.edges[static_cast<std::size_t>(side)]->place, shape,
                 memory.strips[static_cast<std::size_t>(row.line)]);
    }
}

void EdgeMemory::see(const EdgeRows& rows, int parity, const EdgeShape& shape, std::vector<EdgeLine>& lines) {
    noise_ = shape.noise();
    for (int side = 0; side < 2; ++side) {
        Side& memory = sides_[static_cast<std::size_t>(parity)][static_cast<std::size_t>(side)];
        std::swap(memory.strips, memory.before);
        memory.strips.resize(lines.size());
        for (Strip& strip : memory.strips) strip.valid = false;
        memory.groups.resize((lines.size() + group_lines - 1) / group_lines);
        memory.recent.resize(memory.groups.size());
        memory.rests.resize(memory.groups.size());
        memory.matched.assign(memory.groups.size(), 0);
        memory.known.assign(memory.groups.size(), {});
        searches_left_ = searches_per_side;
        std::optional<Motion> neighbour;
        for (std::size_t g = 0; g < memory.groups.size(); ++g) {
            read_group(rows, side, lines, static_cast<int>(g) * group_lines);
            bool level = true;
            const bool matched = row_count_ > 0 && follow(memory, memory.groups[g], neighbour, level, memory.known[g]);
            if (matched) neighbour = memory.groups[g];
            memory.matched[g] = matched ? 1 : 0;
            const bool moves = matched && memory.rests[g] == 0;
            see_group(side, shape, moves ? &memory.groups[g] : nullptr, level, memory, lines);
        }
        find_resting(side, memory, lines);
    }
}

}  // namespace guardband::measure
