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
/// Rows that differ from the one above them, for the others to tell anything: bars have a few.
constexpr std::ptrdiff_t fewest_steps = 12;
/// The lines between those that lie on means lie off by so many times as much.
constexpr double least_of_others = 2;
/// Rows from one pair that is predicted to the next, pieces of a row, and the frames they are taken from.
constexpr int prediction_step = 32, most_pieces = 4;
constexpr std::int64_t early_frames = 40, late_step = 5;
/// What is left of lines that follow: roundings, or this share of what is left along the line, which is to be more than
/// rounding; and by how much the line above counts more than the one below, or less. FFmpeg's scaler from linear to
/// its longest filters leaves 0.9 to 1.3 roundings, aslant by 0.44 and more.
constexpr double most_roundings = 2, follows = 0.01, least_along = 8, least_aslant = 0.25;
/// Logarithm of the ratio of what does not follow, of the two parities.
constexpr double least_unlike = 0.08;
/// Logarithm of the ratio of the energies by which lines of the two fields lie off the means of their neighbours, and
/// over its standard error.
constexpr double nearer = 0.15, significant = 6;

}  // namespace

MadeUpLines::MadeUpLines(const ClipContext& context)
    : context_(context),
      steps_(static_cast<std::size_t>(std::max(0, context.info.picture.height))),
      differences_(static_cast<std::size_t>(std::max(0, context.info.picture.width / rows::segment_samples))),
      moments_(static_cast<std::size_t>(std::max(0, context.info.picture.width / rows::comb_cell_samples))) {}

template <typename Sample>
void MadeUpLines::add_row(const media::Plane& plane, int y) {
    const auto& kernels = rows::fast_kernels<Sample>();
    const auto row = [&plane](int at) { return reinterpret_cast<const Sample*>(plane.row(at)); };
    const auto differ = [&](const Sample* a, const Sample* b, int width) {
        std::ranges::fill(differences_, 0U);
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
    const double from_above = differ(row(y), row(y - 1), plane.width),
                 from_below = differ(row(y), row(y + 1), plane.width);
    sums.from_above += from_above, sums.from_below += from_below;
    if (from_above > 0) steps_[static_cast<std::size_t>(y)] = true;
    if (from_below > 0) steps_[static_cast<std::size_t>(y) + 1] = true;
    sums.around += differ(row(y - 1), row(y + 1), plane.width);
    sums.samples += static_cast<double>(moments_.size() * rows::comb_cell_samples);
}

/// Some pieces of some rows.
template <typename Sample>
void MadeUpLines::predict(const media::Frame& frame) {
    constexpr int reach = Prediction::reach;
    const int pieces = (frame.format.width - 2 * reach) / Prediction::piece, used = std::min(most_pieces, pieces);
    if (used < 1) return;
    const auto row = [&frame](int y) { return reinterpret_cast<const Sample*>(frame.planes[0].row(y)); };
    const auto turn = static_cast<int>(frame.index % (prediction_step * prediction_step));
    std::array<Prediction, 2> down;
    for (int y = reach + turn * 13 % prediction_step; y + 1 + reach < frame.format.height; y += prediction_step) {
        const int first = reach + (turn * 7 + y) % (pieces - used + 1) * Prediction::piece;
        for (const int at : {y, y + 1}) {
            std::array<const Sample*, Prediction::taps> rows{};
            for (int tap = 0; tap <= 2 * reach; ++tap) rows[static_cast<std::size_t>(tap)] = row(at + tap - reach);
            down[static_cast<std::size_t>(at % 2)].add_across(rows, first, used * Prediction::piece);
        }
        along_.add_along(row(y), first, used * Prediction::piece);
    }
    const auto unpredicted = [](const Prediction& of) {
        const Prediction::Fit fit = of.fit();
        return fit.left + fit.rounding;
    };
    unlike_[static_cast<std::size_t>(frame.index % 2)].add(std::log(unpredicted(down[0]) / unpredicted(down[1])));
    for (std::size_t parity = 0; parity < 2; ++parity) down_[parity] += down[parity];
}

void MadeUpLines::compare_rows(const media::Frame& frame) {
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
    if (count > 0) nearer_[static_cast<std::size_t>(frame.index % 2)].add(sum / count);
}

void MadeUpLines::see(const media::Frame& frame, const FrameFeatures&) {
    if (moments_.empty()) return;
    compare_rows(frame);
    // Later every fifth frame, so even and odd ones by turns.
    if (frame.index < early_frames || frame.index % late_step == 0)
        frame.format.bit_depth > 8 ? predict<std::uint16_t>(frame) : predict<std::uint8_t>(frame);
}

std::optional<Figure> MadeUpLines::plain_figure(std::size_t parity) const {
    const Sums& s = sums_[parity];
    const char* of = parity == 0 ? "those of the upper field" : "those of the lower field";
    // Titles that roll by a line a field look like copies; their fields show two moments.
    const bool two_moments = context_.interlace.scan() == InterlaceEvidence::Scan::Interlaced;
    if (std::min(s.from_above, s.from_below) == 0 && !two_moments && std::ranges::count(steps_, true) >= fewest_steps)
        return Figure::text("doubled").with_note(fmt::format("{} are copies of those beside them", of));
    const bool others_lie_off = sums_[1 - parity].from_mean >= least_of_others * s.from_mean;
    if (others_lie_off && s.from_mean <= std::max(most_rounding * s.samples, on_mean * s.around) &&
        s.from_mean <= off_mean * s.around)
        return Figure::text("averaged").with_note(fmt::format("{} are the means of those around them", of));
    return std::nullopt;
}

bool MadeUpLines::Scatter::stands_out(double least) const {
    if (count < fewest_frames) return false;
    const double mean = sum / count;
    const double error = std::sqrt(std::max(0.0, squares / count - mean * mean) / count);
    return std::abs(mean) >= std::max(least, significant * error);
}

/// Whether every line follows from those around it, each in the mirrored way of the next, and samples do not follow
/// so along the line.
bool MadeUpLines::is_interpolated() const {
    const Prediction::Fit along = along_.fit();
    if (along.left < least_along * along.rounding || std::ranges::count(steps_, true) < fewest_steps) return false;
    std::array<double, 2> aslant{};
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const Prediction::Fit fit = down_[parity].fit();
        if (fit.left > std::max(most_roundings * fit.rounding, follows * along.left)) return false;
        aslant[parity] = fit.weights[Prediction::reach + 1] - fit.weights[Prediction::reach - 1];
    }
    return std::min(std::abs(aslant[0]), std::abs(aslant[1])) >= least_aslant && aslant[0] * aslant[1] < 0;
}

/// Whether the lines of one parity follow from those around them, or lie near to their mean, more than the others do.
bool MadeUpLines::differ_by_field() const {
    const auto all = [](const std::array<Scatter, 2>& of_frames, double least) {
        return std::ranges::all_of(of_frames, [least](const Scatter& s) { return s.stands_out(least); });
    };
    return all(unlike_, least_unlike) || all(nearer_, nearer);
}

Figure MadeUpLines::figure() const {
    if (sums_[0].samples == 0) return Figure::unknown("the picture is too small");
    if (std::ranges::any_of(sums_, [](const Sums& s) { return s.around < least_detail * s.samples; }))
        return Figure::unknown("too little detail from line to line to tell");
    for (std::size_t parity = 0; parity < 2; ++parity)
        if (const auto plain = plain_figure(parity)) return *plain;
    if (is_interpolated() && context_.interlace.scan() != InterlaceEvidence::Scan::Interlaced)
        return Figure::text("interpolated")
            .with_note("all lines follow from half as many: a field was left out, or a picture of so few scaled");
    if (context_.interlace.scan() == InterlaceEvidence::Scan::Progressive && differ_by_field())
        return Figure::text("made up").with_note(
            "every other line follows from its neighbours in another way than they do from theirs: a de-interlacer put "
            "it there");
    Figure none = Figure::text("none");
    if (context_.info.is_lossy && context_.interlace.scan() != InterlaceEvidence::Scan::Interlaced)
        none.with_note("averaged, doubled or stretched lines would not show through this lossy codec");
    return none;
}

void MadeUpLines::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("made_up_lines", figure());
}

}  // namespace guardband::measure
