#include "measure/clip/noise_beyond.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr int block = 16, margin = 6;  ///< samples that are judged together; left out beside a piece
/// A step is small below that share of the noise. Where more than so many of the lines above and below are, there is
/// no noise to compare.
constexpr float small_share = 0.5F;
constexpr int most_small = 10;
/// Of the lines above and below, in small steps, for each piece: fewer leave it open what the same noise would show.
constexpr double fewest_small = 1.0 / 24;  ///< of a line's samples
/// The samples that are in small steps beyond what the lines above and below have: as a share, and in standard
/// deviations of a count.
constexpr double least_excess = 0.06, least_deviations = 2;

/// Of the difference of a row from the one above in its field.
int small_steps(const CodeReader& reader, int y, int first, float most) {
    int count = 0;
    float last = reader.at(first, y) - reader.at(first, y - 2);
    for (int x = first + 1; x < first + block; ++x) {
        const float change = reader.at(x, y) - reader.at(x, y - 2);
        count += std::abs(change - last) <= most ? 1 : 0;
        last = change;
    }
    return count;
}

bool meets(std::span<const Loss> pieces, int first, int end) {
    return std::ranges::any_of(
        pieces, [=](const Loss& piece) { return piece.first < end + margin && first - margin < piece.end; });
}

}  // namespace

Beyond noise_beyond(const CodeReader& reader, int y, std::span<const Loss> pieces, float noise) {
    const int above = y >= 4 ? y - 2 : y + 2, below = y + 2 < reader.height() ? y + 2 : y - 2;
    if (above < 2 || above >= reader.height() || below < 2) return Beyond::NothingLeft;
    const float most = small_share * noise;
    int samples = 0;
    std::array<int, 3> small{};
    for (int first = 0; first + block <= reader.width(); first += block) {
        if (meets(pieces, first, first + block)) continue;
        int up = small_steps(reader, above, first, most), down = small_steps(reader, below, first, most);
        if (std::min(up, down) > most_small) continue;
        if (up > most_small) up = down;  // that one is a copy, too
        if (down > most_small) down = up;
        samples += block - 1;
        small[0] += small_steps(reader, y, first, most), small[1] += up, small[2] += down;
    }
    const double usual = std::max(small[1], small[2]);
    const auto count =
        static_cast<double>(std::max<std::size_t>(1, pieces.size()));  // several are seldom lost of one line
    if (std::min(small[1], small[2]) < fewest_small * count * reader.width()) return Beyond::NothingLeft;
    const double excess = small[0] - usual, deviation = std::sqrt(std::max(1.0, usual * (1 - usual / samples)));
    const bool same = excess > least_excess * samples && excess > least_deviations * deviation;
    return same ? Beyond::SameNoise : Beyond::OwnNoise;
}

}  // namespace guardband::measure
