#include "measure/clip/clipping.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "measure/clip/block_search.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Blocks below this share of all are taken for quiet; their noise reads low by the scatter of a block's sum of 128
/// squares.
constexpr double quiet_share = 0.1;
constexpr double quiet_bias = 0.85;      // of the tenth part of chi-squared with 128 degrees of freedom over its mean
constexpr double least_changing = 0.25;  ///< share of the blocks of a field whose noise counts
/// Equal neighbours in blocks that are drawn; in noise of the least standard deviation, codes, 0.2 to 0.35.
constexpr double drawn_share = 0.45, least_change_of_drawn = 1.5;
constexpr int most_looked_at = 24;  ///< blocks
constexpr std::size_t most_remembered = 512;
/// Noise of less than this says nothing of a limit: it moves no sample over it.
constexpr double least_noise_codes = 0.35;
/// Samples on the last code over those on the next: 1.25 noises where half is cut, 20 where all but 2 % is, and without
/// bound where the signal lies far beyond.
constexpr double least_pile = 0.8;
/// At the dark end more than this holds no noise: blanking that a converter put in, bars above and below the picture,
/// or black that was cut deep.
constexpr double greatest_black_pile = 25;
/// Share of the blocks that must be black without noise in the midst of the picture for such a cut.
constexpr double least_silent = 1e-3;
constexpr double least_share = 1e-5;
constexpr int compared_codes = 3;

double per_sample(std::uint64_t change) {
    return static_cast<double>(change) / (FrameFeatures::segment * FrameFeatures::block_rows);
}

/// Share of a block's samples that are what the next one along the row is.
double equal_share(const media::Frame& frame, std::size_t parity, int bx, int by) {
    constexpr int width = FrameFeatures::segment, rows = FrameFeatures::block_rows;
    std::array<float, width> codes{};
    int equal = 0;
    for (int row = 0; row < rows; ++row) {
        const int line = 2 * (by * rows + row) + static_cast<int>(parity);
        read_codes(frame.planes[0], frame.format.bit_depth, line, bx * width, width, codes.data());
        for (std::size_t x = 0; x + 1 < codes.size(); ++x) equal += codes[x] == codes[x + 1] ? 1 : 0;
    }
    return static_cast<double>(equal) / (rows * (width - 1));
}

/// Whether blocks that change as much as `middle` do so by what is drawn in them: noise that strong leaves few
/// neighbours equal, letters on a flat ground most.
bool are_drawn(const media::Frame& frame, std::size_t parity, const Grid<std::uint32_t>& blocks, std::uint64_t middle) {
    if (per_sample(middle) < 2 * least_change_of_drawn * least_change_of_drawn) return false;
    double sum = 0;
    int looked_at = 0;
    for (int by = 0; by < blocks.height; ++by)
        for (int bx = 0; bx < blocks.width && looked_at < most_looked_at; ++bx) {
            const std::uint64_t change = blocks.at(bx, by);
            if (change * 4 < middle * 3 || change * 3 > middle * 4) continue;
            sum += equal_share(frame, parity, bx, by), ++looked_at;
        }
    return looked_at > 0 && sum > drawn_share * looked_at;
}

/// Of a field. Blocks that don't change at all are bars, or black and white that were cut; 0 where most of the picture
/// is such, or where such stand beside what moves without noise, as titles do.
double quiet_change(const media::Frame& frame, std::size_t parity, const Grid<std::uint32_t>& blocks) {
    std::vector<std::uint32_t> changing;
    for (const std::uint32_t block : blocks.cells)
        if (block > 0) changing.push_back(block);
    const auto all = static_cast<double>(blocks.cells.size()), count = static_cast<double>(changing.size());
    if (changing.empty() || count < least_changing * all) return 0;
    const auto quantile = [&changing, count](double share) {
        const auto at = changing.begin() + static_cast<std::ptrdiff_t>(share * count);
        std::ranges::nth_element(changing, at);
        return *at;
    };
    const bool some_are_silent = count < (1 - quiet_share) * all;
    if (some_are_silent && are_drawn(frame, parity, blocks, quantile(0.5))) return 0;
    return per_sample(quantile(quiet_share));
}

}  // namespace

class Clipping::Inward {
public:
    Inward(const std::vector<std::int64_t>& codes, bool from_top) : codes_(codes), from_top_(from_top) {}

    std::int64_t at(std::size_t i) const {
        return i < codes_.size() ? codes_[from_top_ ? codes_.size() - 1 - i : i] : 0;
    }
    std::size_t size() const { return codes_.size(); }

    std::int64_t up_to(int margin) const {
        std::int64_t sum = 0;
        for (int i = 0; i <= margin; ++i) sum += at(static_cast<std::size_t>(i));
        return sum;
    }

    /// The outermost code that occurs, counted inward.
    std::size_t last() const {
        std::size_t i = 0;
        while (i < size() && at(i) == 0) ++i;
        return i;
    }

    /// Samples on the outermost code that occurs, if they are what noise cut there would leave.
    std::int64_t pile(double noise, std::int64_t all) const {
        if (noise < least_noise_codes) return 0;
        double next = 0;
        for (int i = 1; i <= compared_codes; ++i)
            next += static_cast<double>(at(last() + static_cast<std::size_t>(i))) / compared_codes;
        const auto here = static_cast<double>(at(last()));
        const bool is_blanking = !from_top_ && here >= greatest_black_pile * noise * next;
        const bool is_pile = here > std::max(2.0, least_pile * noise) * next && !is_blanking;
        return is_pile && here > least_share * static_cast<double>(all) ? at(last()) : 0;
    }

private:
    const std::vector<std::int64_t>& codes_;
    bool from_top_;
};

Clipping::Clipping(const ClipContext& context)
    : is_lossy_(context.info.is_lossy),
      bit_depth_(context.info.picture.bit_depth),
      coding_margin_(context.info.picture.full_range ? 0 : 1 << (bit_depth_ - 8)),
      codes_(std::size_t{1} << bit_depth_),
      silent_(codes_.size()) {}

void Clipping::see(const media::Frame& frame, const FrameFeatures& features) {
    const std::size_t depth = std::min(codes_.size(), features.histogram.size());
    for (std::size_t code = 0; code < depth; ++code) codes_[code] += features.histogram[code];
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const Grid<std::uint32_t>& blocks = features.change[parity];
        // The first few hundred frames tell the noise; repeats of a frame, which don't change at all, tell nothing.
        if (blocks.cells.empty() || quiet_blocks_.size() >= most_remembered) continue;
        if (const double change = quiet_change(frame, parity, blocks); change > 0) quiet_blocks_.push_back(change);
    }
    silent_.see(features);
    ++frames_;
}

/// Of the samples on the darkest code, those that don't stand beside the picture, if enough stand in its midst. A lossy
/// codec takes the noise of its own accord.
std::int64_t Clipping::cut_without_noise(const Inward& end, std::int64_t all) const {
    const std::size_t code = end.last();
    const auto blocks = static_cast<double>(silent_.all());
    if (is_lossy_ || static_cast<double>(silent_.inside(code)) <= least_silent * blocks) return 0;
    const double share = static_cast<double>(all) / blocks;
    const auto least = static_cast<std::int64_t>(share * static_cast<double>(silent_.inside(code))),
               beside = static_cast<std::int64_t>(share * static_cast<double>(silent_.beside(code)));
    return std::max(least, end.at(code) - beside);
}

/// Of one sample, in codes of the clip's depth; a change is that of two samples.
double Clipping::noise_codes() const {
    if (quiet_blocks_.empty()) return 0;
    std::vector<double> sorted = quiet_blocks_;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::ranges::nth_element(sorted, middle);
    return std::sqrt(*middle / quiet_bias / 2);
}

void Clipping::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    const auto all = std::accumulate(codes_.begin(), codes_.end(), std::int64_t{0});
    for (const bool top : {false, true}) {
        const char* id = top ? "clipped_white" : "clipped_black";
        if (all == 0) {
            figures.add(id, Figure::unknown("no frame has been read"));
            continue;
        }
        const Inward end(codes_, top);
        const double noise = noise_codes();
        std::int64_t clipped = std::max(end.up_to(coding_margin_), end.pile(noise, all));
        if (!top && noise >= least_noise_codes) clipped = std::max(clipped, cut_without_noise(end, all));
        const double share = static_cast<double>(clipped) / static_cast<double>(all);
        // Samples of one spot are clipped together, so that it is pictures that count, not samples.
        figures.add(
            id, Figure::measured(share, share / std::sqrt(static_cast<double>(std::max<std::int64_t>(frames_, 1)) * 12),
                                 "share"));
    }
}

}  // namespace guardband::measure
