#include "measure/clip/lone_steps.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "dsp/cholesky.h"
#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t lines_before = 10, most_lines_after = 24;
constexpr std::size_t fewest_lines = 40;
constexpr double most_deviations = 6;
/// Of a step's variance, what has nothing to do with any other: keeps a rule from few lines from being believed whole.
constexpr double own_share = 0.03;
/// Outlines slant otherwise from place to place: by so much more than elsewhere the estimate errs at one line.
constexpr double margin = 1.3;

/// The steps of a field's lines beyond the usual one; 0 where unknown or wild.
struct Steps {
    std::vector<double> px;
    std::vector<char> known;
    double middle = 0, most = 0;  ///< of the lines that are the rule
};

/// @returns nothing where too few of the lines from `first` to before `end` are known, or none differs
std::optional<Steps> beyond_usual(std::span<const double> px, std::size_t first, std::size_t end) {
    std::vector<double> known;
    for (std::size_t i = first; i < end; ++i)
        if (!std::isnan(px[i])) known.push_back(px[i]);
    if (known.size() < fewest_lines) return std::nullopt;
    Steps out{std::vector<double>(px.size()), std::vector<char>(px.size())};
    out.middle = dsp::median(std::span<const double>(known));
    out.most = most_deviations * dsp::spread(std::span<const double>(known));
    return out.most > 0 ? std::optional(std::move(out)) : std::nullopt;
}

/// Those of both fields; of `line` all that is known.
std::optional<std::array<Steps, 2>> beyond_usual(const std::array<std::span<const double>, 2>& px, std::size_t line,
                                                 std::size_t first, std::size_t end) {
    std::array<Steps, 2> out;
    for (std::size_t field = 0; field < 2; ++field) {
        auto steps = beyond_usual(px[field], first, end);
        if (!steps || std::isnan(px[field][line])) return std::nullopt;
        out[field] = std::move(*steps);
        for (std::size_t i = 0; i < px[field].size(); ++i) {
            const double off = px[field][i] - out[field].middle;
            out[field].known[i] = static_cast<char>(i == line || std::abs(off) <= out[field].most);
            if (out[field].known[i] != 0) out[field].px[i] = off;
        }
    }
    return out;
}

/// Of a line of one field and of the line `apart` further down in another, from `first` to before `end`.
double covariance(const Steps& one, const Steps& other, std::ptrdiff_t apart, std::size_t first, std::size_t end) {
    const Steps &upper = apart < 0 ? other : one, &lower = apart < 0 ? one : other;
    const auto lines = static_cast<std::size_t>(std::abs(apart));
    double sum = 0;
    for (std::size_t i = first; i + lines < end; ++i) sum += upper.px[i] * lower.px[i + lines];
    return sum / static_cast<double>(end - first);
}

/// One line of one field.
struct Place {
    std::size_t field = 0;
    std::ptrdiff_t offset = 0;  ///< from the line of the step
};

/// The lines around `line` whose steps are known.
std::vector<Place> places_around(const std::array<Steps, 2>& steps, std::size_t line) {
    std::vector<Place> out;
    for (std::size_t s = 0; s < steps.size(); ++s) {
        const std::size_t from = line - std::min(line, lines_before);
        const std::size_t to = std::min(line + most_lines_after, steps[s].px.size());
        for (std::size_t i = from; i < to; ++i)
            if (steps[s].known[i] != 0)
                out.push_back({s, static_cast<std::ptrdiff_t>(i) - static_cast<std::ptrdiff_t>(line)});
    }
    return out;
}

std::vector<double> covariances(const std::array<Steps, 2>& steps, const std::vector<Place>& places, std::size_t first,
                                std::size_t end) {
    const std::size_t count = places.size();
    std::vector<double> out(count * count);
    for (std::size_t i = 0; i < count; ++i) {
        const Place& one = places[i];
        for (std::size_t j = 0; j <= i; ++j)
            out[i * count + j] =
                covariance(steps[one.field], steps[places[j].field], places[j].offset - one.offset, first, end);
        out[i * count + i] *= 1 + own_share;
    }
    return out;
}

/// How the places' steps count for the step of either field.
using Weights = std::array<std::vector<double>, 2>;

std::optional<Weights> weights(const std::vector<Place>& places, std::vector<double> covariances) {
    const auto factor = dsp::Cholesky::of(std::move(covariances), places.size());
    if (!factor) return std::nullopt;
    std::array<std::size_t, 2> own{};  // where the lines that step stand
    Weights solved;
    for (std::size_t field = 0; field < 2; ++field) {
        std::vector<double> unit(places.size());
        for (std::size_t i = 0; i < places.size(); ++i)
            if (places[i].field == field && places[i].offset == 0) own[field] = i, unit[i] = 1;
        solved[field] = factor->solve(std::move(unit));
    }
    const double one = solved[0][own[0]], both = solved[0][own[1]], other = solved[1][own[1]];
    const double determinant = one * other - both * both;
    if (!(determinant > 0)) return std::nullopt;
    Weights out = solved;
    for (std::size_t i = 0; i < places.size(); ++i) {
        out[0][i] = (other * solved[0][i] - both * solved[1][i]) / determinant;
        out[1][i] = (one * solved[1][i] - both * solved[0][i]) / determinant;
    }
    return out;
}

double weighted(const std::array<Steps, 2>& steps, const std::vector<Place>& places, const std::vector<double>& weights,
                std::size_t line) {
    double sum = 0;
    for (std::size_t k = 0; k < places.size(); ++k)
        sum +=
            weights[k] *
            steps[places[k].field].px[static_cast<std::size_t>(static_cast<std::ptrdiff_t>(line) + places[k].offset)];
    return sum;
}

}  // namespace

std::optional<std::array<Estimated, 2>> lone_steps(const std::array<std::span<const double>, 2>& steps_px,
                                                   std::size_t line, std::size_t first, std::size_t end) {
    const auto steps = beyond_usual(steps_px, line, first, end);
    if (!steps) return std::nullopt;
    const std::vector<Place> places = places_around(*steps, line);
    const auto counting = weights(places, covariances(*steps, places, first, end));
    const std::size_t from = std::max(first, lines_before), to = end - std::min(end, steps_px[0].size() - line);
    if (!counting || to < from + fewest_lines) return std::nullopt;
    std::array<Estimated, 2> out;
    for (std::size_t field = 0; field < 2; ++field) {
        const std::vector<double>& counts = (*counting)[field];
        double squares = 0;
        for (std::size_t i = from; i < to; ++i) squares += std::pow(weighted(*steps, places, counts, i), 2);
        out[field] = {weighted(*steps, places, counts, line),
                      margin * std::sqrt(squares / static_cast<double>(to - from))};
    }
    return out;
}

}  // namespace guardband::measure
