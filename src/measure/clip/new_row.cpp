#include "measure/clip/new_row.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Stamps agree within this share of a period: jitter of a tenth of a period, RMS, leaves nine in ten pairs so close.
constexpr double agreement = 0.25;
/// A stamp is of a row if it lies nearer to it than to the next possible one.
constexpr double belongs = 0.5;
constexpr double longest_lonely_gap = 25;

bool away(double off) { return std::abs(off) >= belongs; }
bool agree(double a, double b) { return away(a) && away(b) && std::abs(a - b) < agreement; }

auto supporters(std::span<const double> offs, double off) {
    return std::ranges::count_if(offs, [&](double other) { return agree(off, other); });
}

/// The stamp with which most agree, the first of several. @returns its place and their number
std::pair<std::size_t, std::ptrdiff_t> best_supported(std::span<const double> offs) {
    std::pair<std::size_t, std::ptrdiff_t> best{0, 0};
    for (std::size_t i = 0; i < offs.size(); ++i)
        if (const auto support = supporters(offs, offs[i]); support > best.second) best = {i, support};
    return best;
}

/// The first pair that agrees and lies between the old row and the best one.
std::size_t first_on_the_way(std::span<const double> offs, std::size_t best) {
    for (std::size_t i = 0; i < best; ++i)
        if (agree(offs[i], offs[i + 1]) && offs[i] * offs[best] > 0 &&
            std::abs(offs[i]) < std::abs(offs[best]) + agreement)
            return i;
    return best;
}

/// Middle of the row that stamp `seed` is of, as far as the stamps from there on are of it one after another.
double middle_of_row(std::span<const double> offs, std::size_t seed) {
    std::vector<double> of_row;
    for (std::size_t i = seed; i < offs.size() && std::abs(offs[i] - offs[seed]) < belongs; ++i)
        of_row.push_back(offs[i]);
    return dsp::median(of_row);
}

}  // namespace

std::optional<NewRow> find_new_row(std::span<const double> offs, bool at_end) {
    const auto [best, support] = best_supported(offs);
    if (support < 2) {
        const bool lonely = at_end && offs.size() == 1 && offs[0] > 0 && offs[0] < longest_lonely_gap;
        if (lonely && std::abs(offs[0] - std::round(offs[0])) < agreement) return NewRow{0, offs[0]};
        return std::nullopt;
    }
    std::size_t from = first_on_the_way(offs, best);
    const double off = middle_of_row(offs, from);
    while (from > 0 && away(offs[from - 1]) && std::abs(offs[from - 1] - off) < belongs)
        --from;  // before the first pair
    return NewRow{from, off};
}

}  // namespace guardband::measure
