#include "measure/clip/colour_bars.h"

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

using quantity::Figure;
using Complex = std::complex<double>;

constexpr std::int64_t frame_interval = 5;
constexpr double top_share = 0.08, bottom_share = 0.55;  ///< of the height that is looked at
constexpr double middle_share = 0.5;                     ///< of a stripe's width
constexpr int read_rows = 12, row_step = 4;
/// Within a stripe, and from one to the next, 8-bit codes.
constexpr double most_uneven = 6, least_step = 4;
constexpr double most_grey_colour = 12, least_colour = 15;
/// Of the colours' squares, what a common gain and turn leave over.
constexpr double most_left = 0.06;
constexpr double least_gain = 0.25, most_gain = 2, most_turn_deg = 60;

double degrees(const Complex& z) { return std::arg(z) * 180 / std::numbers::pi; }
/// An error with its sign; none in front of what rounds to nothing.
std::string signed_text(double value) { return std::abs(value) < 0.05 ? "0.0" : fmt::format("{:+.1f}", value); }
double decibels(double ratio) { return 20 * std::log10(std::max(ratio, 1e-6)); }

/// What faults of bars amount to, one standard deviation: of a stripe's level, and of its colour apart from the gain
/// that all have in common, 8-bit codes; of that gain. Common practice, no source.
constexpr double usual_error = 6, usual_gain_db = 2;

struct Stretch {
    int first = 0, end = 0;
};

/// Samples of a row in the middle of a stripe.
Stretch middle_of(std::size_t stripe, std::size_t stripes, int width) {
    const double one = static_cast<double>(width) / static_cast<double>(stripes),
                 at = one * static_cast<double>(stripe);
    return {static_cast<int>(at + one * (1 - middle_share) / 2), static_cast<int>(at + one * (1 + middle_share) / 2)};
}

double mean(const media::Plane& plane, int bit_depth, int y, Stretch part) {
    double sum = 0;
    for (int x = part.first; x < part.end; ++x)
        sum += bit_depth > 8 ? reinterpret_cast<const std::uint16_t*>(plane.row(y))[x]
                             : reinterpret_cast<const std::uint8_t*>(plane.row(y))[x];
    return sum / ((part.end - part.first) * static_cast<double>(1 << (bit_depth - 8)));
}

}  // namespace

ColourBars::ColourBars(const ClipContext& context)
    : context_(context),
      range_(luma_range(context.info.picture, context.table)),
      patterns_(context.info.picture.has_chroma ? bar_patterns(context.info.picture, context.table)
                                                : std::vector<BarPattern>()),
      found_(patterns_.size()),
      log_(2 * frame_interval),
      clock_(context.info.time_base) {}

/// By luma alone, from sums that are there already.
bool ColourBars::looks_like_stripes(const FrameFeatures& features, std::size_t stripes) const {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    constexpr int segment = FrameFeatures::segment;
    const int first_row = static_cast<int>(top_share * sums.height),
              end_row = static_cast<int>(bottom_share * sums.height);
    const double scale = 1 / (range_.per_8_bit_code * segment);
    double before = 1e9;
    for (std::size_t stripe = 0; stripe < stripes; ++stripe) {
        const Stretch part = middle_of(stripe, stripes, context_.info.picture.width);
        const int first = (part.first + segment - 1) / segment, end = part.end / segment;
        if (first >= end) return false;
        double sum = 0, least = 1e9, most = 0, sides = 0;
        for (int y = first_row; y < end_row; y += row_step) {
            double row = 0;
            for (int x = first; x < end; ++x) row += sums.at(x, y) * scale;
            row /= end - first;
            sum += row, least = std::min(least, row), most = std::max(most, row);
            sides += (sums.at(end - 1, y) - static_cast<double>(sums.at(first, y))) * scale;
        }
        const int rows = (end_row - first_row + row_step - 1) / row_step;
        const double level = sum / rows;
        if (most - least > 2 * most_uneven || std::abs(sides / rows) > most_uneven || before - level < least_step)
            return false;
        before = level;
    }
    return true;
}

ColourBars::Reading ColourBars::read(const media::Frame& frame, std::size_t stripes) const {
    const media::PictureFormat& p = frame.format;
    Reading reading{std::vector<double>(stripes), std::vector<Complex>(stripes)};
    const double zero = 1 << 7;
    for (int i = 0; i < read_rows; ++i) {
        const double share = top_share + (bottom_share - top_share) * (i + 0.5) / read_rows;
        const int y = static_cast<int>(share * p.height), chroma_y = y >> p.chroma_shift_y;
        for (std::size_t stripe = 0; stripe < stripes; ++stripe) {
            const Stretch part = middle_of(stripe, stripes, p.width),
                          chroma{part.first >> p.chroma_shift_x, part.end >> p.chroma_shift_x};
            reading.luma[stripe] += mean(frame.planes[0], p.bit_depth, y, part) / read_rows;
            reading.colour[stripe] += Complex(mean(frame.planes[1], p.bit_depth, chroma_y, chroma) - zero,
                                              mean(frame.planes[2], p.bit_depth, chroma_y, chroma) - zero) /
                                      static_cast<double>(read_rows);
        }
    }
    return reading;
}

/// By what the pattern's colours are multiplied to give those that were read, if they are bars at all.
std::optional<Complex> ColourBars::common_gain(const Reading& reading, const BarPattern& pattern) const {
    Complex products;
    double nominal = 0, squares = 0;
    for (std::size_t i = 0; i < pattern.stripes.size(); ++i) {
        const Complex &meant = pattern.stripes[i].colour, &is = reading.colour[i];
        products += is * std::conj(meant), nominal += std::norm(meant), squares += std::norm(is);
        const bool grey = std::abs(meant) < 1;
        if (grey ? std::abs(is) > most_grey_colour : std::abs(is) < least_colour) return std::nullopt;
    }
    const Complex gain = products / nominal;
    const double left = squares - std::norm(products) / nominal;
    const bool plausible = std::abs(gain) > least_gain && std::abs(gain) < most_gain &&
                           std::abs(degrees(gain)) < most_turn_deg && left < most_left * squares;
    return plausible ? std::optional(gain) : std::nullopt;
}

/// How far what was read lies from the pattern, in standard deviations squared.
double ColourBars::unlikeness(const Reading& reading, const BarPattern& pattern, const Complex& gain) {
    double squares = std::pow(decibels(std::abs(gain)) / usual_gain_db, 2);
    for (std::size_t i = 0; i < pattern.stripes.size(); ++i) {
        const BarStripe& stripe = pattern.stripes[i];
        squares += (std::pow(reading.luma[i] - stripe.luma, 2) + std::norm(reading.colour[i] - gain * stripe.colour)) /
                   (usual_error * usual_error);
    }
    return squares;
}

void ColourBars::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    if (frames_++ % frame_interval != 0 || frame.damaged || patterns_.empty()) return;
    std::optional<std::size_t> nearest;
    double least = 0;
    Reading reading;
    Complex gain;
    for (std::size_t i = 0; i < patterns_.size(); ++i) {
        const BarPattern& pattern = patterns_[i];
        if (!looks_like_stripes(features, pattern.stripes.size())) continue;
        Reading here = read(frame, pattern.stripes.size());
        const auto found = common_gain(here, pattern);
        if (!found) continue;
        const double distance = unlikeness(here, pattern, *found);
        if (nearest && distance >= least) continue;
        nearest = i, least = distance, reading = std::move(here), gain = *found;
    }
    if (!nearest) return;
    add(reading, *nearest, gain);
    log_.note(frame.index, time_s);
}

void ColourBars::add(const Reading& reading, std::size_t pattern, const Complex& gain) {
    Found& found = found_[pattern];
    const std::size_t stripes = reading.luma.size();
    found.luma.resize(stripes), found.luma_squares.resize(stripes), found.colour.resize(stripes);
    if (found.frames == 0) found.first_gain = gain;
    ++found.frames;
    for (std::size_t i = 0; i < stripes; ++i) {
        const double off = reading.luma[i] - patterns_[pattern].stripes[i].luma;
        found.luma[i] += off, found.luma_squares[i] += off * off;
        found.colour[i] += reading.colour[i];
    }
    found.gain_sum += gain;
    const Complex change = gain / found.first_gain;
    found.gain_squares += std::pow(decibels(std::abs(change)), 2), found.turn_squares += std::pow(degrees(change), 2);
}

void ColourBars::report(const BarPattern& pattern, const Found& found, quantity::Figures& figures) const {
    const auto frames = static_cast<double>(found.frames);
    const double per_cent = 100 / range_.to_8_bit(range_.white - range_.black);
    std::size_t worst = 0;
    std::string lumas, gains, turns;
    for (std::size_t i = 0; i < pattern.stripes.size(); ++i) {
        const BarStripe& stripe = pattern.stripes[i];
        if (std::abs(found.luma[i]) > std::abs(found.luma[worst])) worst = i;
        lumas +=
            fmt::format("{}{} {}", i == 0 ? "" : ", ", stripe.name, signed_text(found.luma[i] / frames * per_cent));
        if (std::abs(stripe.colour) < 1) continue;
        const Complex own = found.colour[i] / frames / stripe.colour;
        const char* comma = gains.empty() ? "" : ", ";
        gains += fmt::format("{}{} {}", comma, stripe.name, signed_text(decibels(std::abs(own))));
        turns += fmt::format("{}{} {}", comma, stripe.name, signed_text(degrees(own)));
    }
    const double off = found.luma[worst] / frames;
    const double scatter = std::sqrt(std::max(0.0, found.luma_squares[worst] / frames - off * off) / frames);
    // Rounding of the codes of a flat bar, at worst.
    const double rounding = 0.3 / range_.per_8_bit_code;
    const Complex gain = found.gain_sum / frames;
    const double gain_scatter = std::sqrt(found.gain_squares) / frames,
                 turn_scatter = std::sqrt(found.turn_squares) / frames;
    constexpr double chroma_amplitude = 80;  // of a bar, 8-bit codes, for what rounding can do
    figures.add("bars_luma_error",
                Figure::measured(off * per_cent, std::hypot(scatter, rounding) * per_cent, "%")
                    .with_note(fmt::format("bars {}, the stripe that errs most; {}", pattern.name, lumas)));
    figures.add("bars_chroma_gain",
                Figure::measured(decibels(std::abs(gain)),
                                 std::hypot(gain_scatter, decibels(1 + rounding / chroma_amplitude)), "dB")
                    .with_note(gains));
    figures.add("bars_chroma_phase",
                Figure::measured(degrees(gain),
                                 std::hypot(turn_scatter, rounding / chroma_amplitude * 180 / std::numbers::pi), "deg")
                    .with_note(turns));
}

void ColourBars::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    const auto most = std::ranges::max_element(found_, {}, &Found::frames);
    if (most == found_.end() || most->frames == 0) {
        const char* reason = !context_.info.picture.has_chroma ? "the clip has no colour"
                             : patterns_.empty()               ? "the table has no bars for this raster"
                                                               : "no colour bars in the picture";
        for (const char* id : {"bars_luma_error", "bars_chroma_gain", "bars_chroma_phase"})
            figures.add(id, Figure::unknown(reason));
        return;
    }
    const BarPattern& pattern = patterns_[static_cast<std::size_t>(most - found_.begin())];
    report(pattern, *most, figures);
    for (const Occurrence& stretch : log_.all()) {
        quantity::Event event;
        event.kind = "colour bars", event.severity = quantity::Severity::Note;
        event.time_s = stretch.time_s, event.frame = stretch.frame;
        event.count = stretch.last_frame - stretch.frame + 1;
        event.what =
            fmt::format("colour bars {} from frame {} to frame {}", pattern.name, stretch.frame, stretch.last_frame);
        events.push_back(event);
    }
}

}  // namespace guardband::measure
