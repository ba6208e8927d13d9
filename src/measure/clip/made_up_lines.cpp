#include "measure/clip/made_up_lines.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "measure/interlace_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Rows looked at: one of each field in so many; from frame to frame the first moves on by `odd_step`.
constexpr int row_step = 16;
constexpr std::int64_t odd_step = 5;
constexpr double fewest_frames = 5;
/// Least mean square of the difference of two lines of a field, for there to be something to be told, in squared codes
/// of the clip; ten times the rounding of a mean.
constexpr double least_detail = 5;
/// Mean square of four times the rounding of a mean, at most: of a picture of 10 bits that was worked on in 8.
constexpr double most_rounding = 16;
/// Shares of the difference of the lines around: below the first a line lies on their mean, beyond the second it
/// doesn't whatever the rounding.
constexpr double on_mean = 0.02, off_mean = 0.08;
/// Logarithm of the ratio of the energies by which lines of the two fields lie off the means of their neighbours, and
/// over its standard error.
constexpr double nearer = 0.15, significant = 6;

}  // namespace

MadeUpLines::MadeUpLines(const ClipContext& context)
    : context_(context),
      differences_(static_cast<std::size_t>(std::max(0, context.info.picture.width / rows::segment_samples))),
      moments_(static_cast<std::size_t>(std::max(0, context.info.picture.width / rows::comb_cell_samples))) {}

template <typename Sample>
void MadeUpLines::add_row(const media::Plane& plane, int y) {
    const auto& kernels = rows::fast_kernels<Sample>();
    const auto row = [&plane](int at) { return reinterpret_cast<const Sample*>(plane.row(at)); };
    const auto differ = [&](const Sample* a, const Sample* b, int width) {
        std::ranges::fill(differences_, std::uint64_t{0});
        kernels.add_segment_squared_differences(a, b, width, differences_.data());
        double sum = 0;
        for (std::size_t s = 0; s < moments_.size() * (rows::comb_cell_samples / rows::segment_samples); ++s)
            sum += static_cast<double>(differences_[s]);
        return sum;
    };
    Sums& sums = sums_[static_cast<std::size_t>(y % 2)];
    const int shift = std::max(0, context_.info.picture.bit_depth - 10);
    kernels.comb_moments(row(y - 1), row(y), row(y + 1), plane.width, shift, moments_.data());
    std::vector<double>& cells = from_mean_[static_cast<std::size_t>(y % 2)];
    cells.clear();
    for (const rows::CombMoments& m : moments_) {
        cells.push_back(std::ldexp(static_cast<double>(m.comb_squares), 2 * shift));
        sums.from_mean += cells.back();
    }
    sums.from_above += differ(row(y), row(y - 1), plane.width);
    sums.from_below += differ(row(y), row(y + 1), plane.width);
    sums.around += differ(row(y - 1), row(y + 1), plane.width);
    sums.samples += static_cast<double>(moments_.size() * rows::comb_cell_samples);
}

void MadeUpLines::see(const media::Frame& frame, const FrameFeatures&) {
    if (moments_.empty()) return;
    const int first = 2 + static_cast<int>(frame.index * odd_step % (row_step - 2));
    double sum = 0, count = 0;
    for (int y = first; y + 2 < frame.format.height; y += row_step) {
        for (const int at : {y, y + 1})
            frame.format.bit_depth > 8 ? add_row<std::uint16_t>(frame.planes[0], at)
                                       : add_row<std::uint8_t>(frame.planes[0], at);
        for (std::size_t cell = 0; cell < moments_.size(); ++cell) {
            constexpr double flat = most_rounding * rows::comb_cell_samples;
            if (from_mean_[0][cell] + from_mean_[1][cell] < flat) continue;
            sum += std::log((from_mean_[0][cell] + flat) / (from_mean_[1][cell] + flat)), ++count;
        }
    }
    if (count == 0) return;
    Scatter& ratios = ratios_[static_cast<std::size_t>(frame.index % 2)];
    ratios.sum += sum / count, ratios.squares += sum / count * sum / count, ++ratios.count;
}

std::optional<Figure> MadeUpLines::plain_figure(std::size_t parity) const {
    const Sums& s = sums_[parity];
    const char* of = parity == 0 ? "those of the upper field" : "those of the lower field";
    // Titles that roll by a line a field look like copies; their fields show two moments.
    const bool two_moments = context_.interlace.scan() == InterlaceEvidence::Scan::Interlaced;
    if (std::min(s.from_above, s.from_below) == 0 && !two_moments)
        return Figure::text("doubled").with_note(fmt::format("{} are copies of those beside them", of));
    if (s.from_mean <= std::max(most_rounding * s.samples, on_mean * s.around) && s.from_mean <= off_mean * s.around)
        return Figure::text("averaged").with_note(fmt::format("{} are the means of those around them", of));
    return std::nullopt;
}

bool MadeUpLines::nearer_to_mean() const {
    return std::ranges::all_of(ratios_, [](const Scatter& ratios) {
        if (ratios.count < fewest_frames) return false;
        const double mean = ratios.sum / ratios.count;
        const double error = std::sqrt(std::max(0.0, ratios.squares / ratios.count - mean * mean) / ratios.count);
        return std::abs(mean) >= std::max(nearer, significant * error);
    });
}

Figure MadeUpLines::figure() const {
    if (sums_[0].samples == 0) return Figure::unknown("the picture is too small");
    if (std::ranges::any_of(sums_, [](const Sums& s) { return s.around < least_detail * s.samples; }))
        return Figure::unknown("too little detail from line to line to tell");
    for (std::size_t parity = 0; parity < 2; ++parity)
        if (const auto plain = plain_figure(parity)) return *plain;
    if (context_.interlace.scan() == InterlaceEvidence::Scan::Progressive && nearer_to_mean())
        return Figure::text("made up").with_note(
            "every other line lies nearer to the mean of its neighbours than they do to theirs");
    return Figure::text("none");
}

void MadeUpLines::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("made_up_lines", figure());
}

}  // namespace guardband::measure
