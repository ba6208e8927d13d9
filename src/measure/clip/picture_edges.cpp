#include "measure/clip/picture_edges.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Height that an edge needs, in 8-bit codes and in noises.
constexpr float least_height = 8, least_height_in_noises = 4;
constexpr float largest_variance = 1;
/// Added to the variance of an edge whose partner should be seen and isn't, squared samples: 28 ns. In a dark picture
/// it may be another outline.
constexpr float lone_variance = 0.14F;
/// Errors are alike over a few lines: by what variances are multiplied for that, where the picture under the edge is
/// not known and where it is; and squared samples, 17 ns, by which the former err however flat the picture behind them.
constexpr float unforeseen_alike = 2.5F, foreseen_alike = 1.5F, unforeseen_error = 0.055F;
constexpr int most_steps = 5;
/// Pairs of edges that must be found, how many are kept, and after how many fields one edge has to do.
constexpr std::size_t fewest_pairs = 60, most_pairs = 8000;
constexpr int patience = 8;
/// ... and after how many fields what didn't do is forgotten: a dark scene, a fade.
constexpr int memory_fields = 3 * patience;
/// Of the pairs that may be blanking's, of all lines looked at and of all pairs so many must be equally far apart.
constexpr std::size_t least_part = 3;
constexpr double fewest_pairs_share = 0.01, fewest_of_all_pairs = 1.0 / 6;
/// Where lines lie off by more than blanking is wide: so few of them, of all lines, and of the pairs that may be
/// blanking's; and how far apart they must lie, samples.
constexpr std::size_t fewest_wandering = 16;
constexpr double wandering_share = 0.005, wandering_part = 0.9, least_wander_px = 2;
/// A lone edge must go on straight from line to line in this share of all lines, and lie at one place as often as pairs
/// must be equally far apart: outlines in a dark picture, or where a vignette lets it rise above black, don't.
constexpr double straight_share = 0.4;
/// Captures hold no more blanking than this, samples: at both ends together, at one.
constexpr float most_blanking_px = 64;
constexpr double most_blanking_at_one_end_px = 32;
/// Sum of line counts after which the calibration forgets half.
constexpr double calibration_memory = 40'000;

}  // namespace

PictureEdges::PictureEdges(double black_code, double codec_error) : shape_(black_code, codec_error) {}

void PictureEdges::forget_calibration() {
    difference_squares_ = stated_ = 0;
    aligned_fields_ = 0;
    resting_.restart();
}

std::optional<EdgeFit> PictureEdges::fit(const EdgeRows& rows, int y, int side, float guess) const {
    std::array<float, EdgeFilter::taps> window{};
    const auto nearest = static_cast<float>(0.7 * shape_.rise_px());
    EdgeFit found;
    int first = 0;
    for (int i = 0; i < most_steps; ++i) {
        if (!(guess > nearest && guess < static_cast<float>(rows.width() - EdgeFilter::taps))) return std::nullopt;
        first = static_cast<int>(guess);
        rows.window(y, side, first, window.data());
        found = shape_.filter(window.data()).step(window.data(), first, guess);
        const float moved = found.place - guess;
        if (std::abs(moved) < 0.2F) break;  // the fit is linear over more than that
        if (i == most_steps - 1 && std::abs(moved) > 0.3F) return std::nullopt;
        guess += std::clamp(moved, -1.5F, 1.5F);
    }
    const float height = std::max(least_height, least_height_in_noises * static_cast<float>(shape_.noise()));
    // A twentieth of the height for an edge of another shape.
    const float most_misfit =
        6 * static_cast<float>(shape_.noise() * shape_.noise()) + 4 + 0.0025F * found.height * found.height;
    if (found.height < height || found.misfit > most_misfit || found.variance > largest_variance) return std::nullopt;
    found.strain = shape_.filter(window.data()).strain(window.data(), first, found.place);
    return found;
}

std::optional<EdgeFit> PictureEdges::find(const EdgeRows& rows, int y, int side) const {
    const auto threshold = static_cast<float>(shape_.blanking() + std::max(6.0, 3 * shape_.noise()));
    const int x = rows.first_above(y, side, threshold);
    if (x < 1) return std::nullopt;
    // Half way up to what the picture is a few samples further in.
    constexpr int in = 5;
    if (x + in + 1 >= rows.width()) return std::nullopt;
    const auto blanking = static_cast<float>(shape_.blanking());
    const float half = (rows.code(y, side, x + in) + rows.code(y, side, x + in + 1) - 2 * blanking) / 4;
    int at = x - 1;
    float below = rows.code(y, side, at) - blanking, above = rows.code(y, side, at + 1) - blanking;
    while (above < half && at < x + in - 1) {
        ++at;
        below = above, above = rows.code(y, side, at + 1) - blanking;
    }
    const float share = above > below ? std::clamp((half - below) / (above - below), 0.0F, 1.0F) : 0.5F;
    return fit(rows, y, side, static_cast<float>(at) + share);
}

/// The place where most values lie within twice the agreement, if enough do.
std::optional<double> PictureEdges::commonest(std::vector<float>& values, std::size_t fewest) {
    std::ranges::sort(values);
    std::size_t most = 0, at = 0;
    for (std::size_t from = 0, to = 0; from < values.size(); ++from) {
        while (to < values.size() && values[to] - values[from] < 2 * agreement_px) ++to;
        if (to - from > most) most = to - from, at = from;
    }
    if (most < std::max(fewest, values.size() / least_part)) return std::nullopt;
    return dsp::median(std::span<const float>(values).subspan(at, most));
}

void PictureEdges::gather_for_base() {
    for (const EdgeLine& line : lines_) {
        if (evidence_.free_px.size() < most_pairs && line.edges[0] && line.edges[1]) {
            evidence_.free_px.push_back(line.edges[0]->place + line.edges[1]->place);
            evidence_.left_px.push_back(line.edges[0]->place);
        }
        for (std::size_t side = 0; side < 2; ++side)
            if (line.edges[side] && evidence_.places[side].size() < most_pairs)
                evidence_.places[side].push_back(line.edges[side]->place);
    }
    for (std::size_t y = 1; y < lines_.size(); ++y)
        for (std::size_t side = 0; side < 2; ++side) {
            const auto &edge = lines_[y].edges[side], &above = lines_[y - 1].edges[side];
            if (edge && above && std::abs(edge->place - above->place) < 2 * agreement_px) ++evidence_.straight[side];
        }
    evidence_.lines += static_cast<double>(lines_.size());
    ++evidence_.fields;
}

void PictureEdges::learn_base() {
    gather_for_base();
    if (evidence_.fields > patience && evidence_.fields % patience != 0) return;
    // What both edges leave free is the same in all lines, whatever their displacement.
    // Pairs that leave more free than blanking can show something dark, and hide it where lines wander.
    spare_.clear();
    std::ranges::copy_if(evidence_.free_px, std::back_inserter(spare_), [](float px) { return px < most_blanking_px; });
    const auto fewest = std::max({static_cast<double>(fewest_pairs), fewest_pairs_share * evidence_.lines,
                                  fewest_of_all_pairs * static_cast<double>(evidence_.free_px.size())});
    auto free = commonest(spare_, static_cast<std::size_t>(fewest));
    if (!free && evidence_.fields >= patience) free = free_where_lines_wander();
    if (free) {
        base_[0] = dsp::median(std::span<const float>(evidence_.places[0]));
        base_[1] = *free - base_[0];
        has_base_ = both_sides_ = true;
    } else if (evidence_.fields >= patience) {
        learn_base_of_one_side();
    }
    if (has_base_ || evidence_.fields >= memory_fields) evidence_ = {};
}

/// What blanking leaves free if few pairs show it, because lines lie off by more than it is wide: they all leave the
/// same free, though they lie at different places, as outlines in a dark picture don't. `spare_` holds the pairs that
/// may be blanking's.
std::optional<double> PictureEdges::free_where_lines_wander() {
    const auto fewest = std::max({static_cast<double>(fewest_wandering), wandering_share * evidence_.lines,
                                  wandering_part * static_cast<double>(spare_.size())});
    const auto free = commonest(spare_, static_cast<std::size_t>(std::ceil(fewest)));
    if (!free) return std::nullopt;
    spare_.clear();
    for (std::size_t i = 0; i < evidence_.free_px.size(); ++i)
        if (std::abs(static_cast<double>(evidence_.free_px[i]) - *free) < agreement_px)
            spare_.push_back(evidence_.left_px[i]);
    return dsp::spread(std::span<const float>(spare_)) >= least_wander_px ? free : std::nullopt;
}

void PictureEdges::learn_base_of_one_side() {
    const std::size_t side = evidence_.straight[0] >= evidence_.straight[1] ? 0 : 1;
    if (evidence_.straight[side] < straight_share * evidence_.lines) return;
    std::vector<float>& places = evidence_.places[side];
    const double place = dsp::median(std::span<const float>(places));
    if (place > most_blanking_at_one_end_px || !commonest(places, fewest_pairs)) return;
    base_[side] = place, base_[1 - side] = no_base;
    has_base_ = true;
}

void PictureEdges::take_moved() {
    for (EdgeLine& line : lines_) {
        line.side = EdgeLine::none;
        if (line.edges[0]) line.moved[0] = line.edges[0]->place - static_cast<float>(base_[0]);
        if (line.edges[1]) line.moved[1] = static_cast<float>(base_[1]) - line.edges[1]->place;
    }
}

/// What the two edges of a line differ by is error alone.
void PictureEdges::calibrate() {
    if (!both_sides_) return;
    double middle = 0;
    spare_.clear();
    for (const EdgeLine& line : lines_)
        if (line.has_sure_pair()) spare_.push_back(line.moved[0] - line.moved[1]);
    if (spare_.size() < 20) return;
    middle = dsp::trimmed_mean(std::vector<double>(spare_.begin(), spare_.end()), 0.1);
    // Both edges must say the same in the mean. Half each: what both err by inwards then moves no line.
    const double gain = std::max(0.02, 1.0 / (1 + static_cast<double>(aligned_fields_++)));
    base_[0] += gain * middle / 2, base_[1] += gain * middle / 2;
    for (const EdgeLine& line : lines_) {
        if (!line.has_sure_pair()) continue;
        const float apart = line.moved[0] - line.moved[1] - static_cast<float>(middle);
        const float stated = line.edges[0]->variance + line.edges[1]->variance;
        difference_squares_ += static_cast<double>(apart * apart), stated_ += static_cast<double>(stated);
    }
    scale_ = stated_ > 0 ? std::clamp(difference_squares_ / stated_, 0.02, 50.0) : 1;
}

/// Of a line's place by one edge.
float PictureEdges::weight(const EdgeLine& line, std::size_t side, float place_px) const {
    const float doubt = line.side != EdgeLine::both && other_in_sight(side, place_px) ? lone_variance : 0;
    const float variance = line.edges[side]->variance * static_cast<float>(scale_) + doubt;
    return 1 / (line.foreseen[side] ? foreseen_alike * variance : unforeseen_alike * variance + unforeseen_error);
}

void PictureEdges::give(std::vector<LineEvidence>& out) const {
    for (std::size_t y = 0; y < lines_.size(); ++y) {
        const EdgeLine& line = lines_[y];
        if (line.side == EdgeLine::none) continue;
        out[y].place_px = line.chosen;
        out[y].weight = line.side == EdgeLine::both ? weight(line, 0, line.chosen) + weight(line, 1, line.chosen)
                                                    : weight(line, static_cast<std::size_t>(line.side), line.chosen);
    }
}

void PictureEdges::others(std::vector<LineEvidence>& out) const {
    out.assign(lines_.size(), {});
    for (std::size_t y = 0; y < lines_.size(); ++y) {
        const EdgeLine& line = lines_[y];
        if (line.side == EdgeLine::none || line.side == EdgeLine::both) continue;
        const auto side = static_cast<std::size_t>(1 - line.side);
        if (line.edges[side] && base_[side] != no_base)
            out[y] = {line.moved[side], weight(line, side, line.moved[side])};
    }
}

void PictureEdges::pairs(std::vector<float>& left_px, std::vector<float>& right_px,
                         std::vector<float>& variance) const {
    constexpr float nothing = std::numeric_limits<float>::quiet_NaN();
    left_px.assign(lines_.size(), nothing), right_px.assign(lines_.size(), nothing);
    variance.assign(lines_.size(), nothing);
    if (!has_base_) return;
    for (std::size_t y = 0; y < lines_.size(); ++y)
        if (lines_[y].side == EdgeLine::both) {
            left_px[y] = lines_[y].moved[0], right_px[y] = lines_[y].moved[1];
            variance[y] = lines_[y].pair_variance;
        }
}

void PictureEdges::rests(std::vector<char>& out) const {
    out.assign(lines_.size(), 0);
    for (std::size_t y = 0; y < lines_.size(); ++y) {
        const EdgeLine& line = lines_[y];
        if (line.side == EdgeLine::both)
            out[y] = line.rests[0] && line.rests[1] ? 1 : 0;
        else if (line.side != EdgeLine::none)
            out[y] = line.rests[static_cast<std::size_t>(line.side)] ? 1 : 0;
    }
}

void PictureEdges::see(const media::Frame& frame, int parity, std::vector<LineEvidence>& out) {
    const EdgeRows first_look(frame, parity, shape_.blanking());
    out.assign(static_cast<std::size_t>(first_look.lines()), {});
    lines_.assign(out.size(), {});
    if (shape_.learn_blanking(first_look)) forget_calibration();
    if (!shape_.has_blanking() || first_look.width() < 4 * EdgeFilter::taps) return;
    const EdgeRows rows(frame, parity, shape_.blanking());
    for (int y = 0; y < rows.lines(); ++y)
        for (int side = 0; side < 2; ++side) {
            auto& line = lines_[static_cast<std::size_t>(y)];
            line.edges[static_cast<std::size_t>(side)] = find(rows, y, side);
        }
    if (!has_base_) learn_base();
    if (!has_base_) return;
    take_moved();
    doubt_.see(lines_);
    choose_sure();
    choose_rest(rows, before_[static_cast<std::size_t>(parity)]);
    memory_.see(rows, parity, shape_, lines_);
    doubt_.see_foreseen(lines_);
    resting_.see(rows, parity, shape_, lines_);
    rechoose();
    keep_chosen(before_[static_cast<std::size_t>(parity)]);
    calibrate();
    if (shape_.learn(rows, lines_)) forget_calibration();
    if (stated_ > calibration_memory) difference_squares_ /= 2, stated_ /= 2;
    give(out);
}

}  // namespace guardband::measure
