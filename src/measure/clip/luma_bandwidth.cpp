#include "measure/clip/luma_bandwidth.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/window.h"
#include "measure/clip/roll_off_fit.h"
#include "measure/clip/sample_time.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr std::size_t piece_samples = 256;
constexpr int outer_px = 24, outer_lines = 8, least_width = 320, least_height = 96;
constexpr std::int64_t early_frames = 40;
constexpr int early_rows = 16, late_rows = 2;
constexpr int lines_together = 3;                  ///< of one field: two pairs, whose noise has nothing in common
constexpr int row_stride = 41, piece_stride = 97;  ///< from one frame to the next: in step with nothing
/// Bins by which contrast is reckoned, 0.5 to 1.9 MHz at 13.5 MHz, and how much there must be of it for a piece to
/// count whole, squared codes: 3.5 codes RMS. Pieces with less bring hardly anything but noise at the roll-off.
constexpr std::size_t contrast_from = 10, contrast_to = 36;
constexpr float least_contrast = 3e5F;
constexpr double alike_pieces = 4;  ///< that pieces of moving pictures have in common
/// What a roll-off must be to be one.
constexpr double least_gain = 8, least_above_floor = 6, most_width = 0.42, most_misfit = 0.5, most_uncertain = 0.042;
constexpr double highest_share = 0.94;  ///< of half the sampling rate
/// Share by which pictures move it whose own spectrum falls or rises there against the law.
constexpr double systematic = 0.025;

template <typename Sample>
void copy(const media::Plane& plane, int y, int first, float scale, std::vector<float>& out) {
    const auto* in = reinterpret_cast<const Sample*>(plane.row(y)) + first;
    float sum = 0;
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = scale * static_cast<float>(in[i]), sum += out[i];
    for (float& one : out) one -= sum / static_cast<float>(out.size());
}

/// Whether noise hides a roll-off, or there is none.
std::string why_none_stands_out(const std::vector<double>& power, double windows, const RollOff& best,
                                double sampling_mhz, const std::string& limit) {
    const double drowned = drowning_frequency(power, windows);
    if (drowned < highest_share / 2)
        return fmt::format("detail sinks into noise at {:.1f} MHz, before a roll-off shows", drowned * sampling_mhz);
    if (best.half_amplitude <= highest_share / 2 && best.above_floor < least_above_floor)
        return fmt::format("at {:.1f} MHz detail stands too little above the noise to show a roll-off",
                           best.half_amplitude * sampling_mhz);
    return fmt::format("no roll-off stands out below {:.1f} MHz; {}", highest_share * sampling_mhz / 2, limit);
}

}  // namespace

LumaBandwidth::LumaBandwidth(const ClipContext& context)
    : usable_(context.info.picture.width >= least_width && context.info.picture.height >= least_height),
      ns_per_px_(nanoseconds_per_sample(context.info.picture, context.table)),
      transform_(piece_samples),
      window_(dsp::hann(piece_samples)),
      piece_(piece_samples),
      spectra_{std::vector<std::complex<float>>(transform_.bins()),
               std::vector<std::complex<float>>(transform_.bins())},
      shared_(transform_.bins()),
      all_(transform_.bins()) {}

void LumaBandwidth::transform(const media::Frame& frame, int y, int first, std::vector<std::complex<float>>& out) {
    const int depth = frame.format.bit_depth;
    const float scale = 1.0F / static_cast<float>(1 << (depth - 8));
    if (depth == 8)
        copy<std::uint8_t>(frame.planes[0], y, first, scale, piece_);
    else
        copy<std::uint16_t>(frame.planes[0], y, first, scale, piece_);
    for (std::size_t i = 0; i < piece_.size(); ++i) piece_[i] *= window_[i];
    transform_.forward(piece_, out);
}

void LumaBandwidth::see_pieces(const media::Frame& frame, int y, int first) {
    transform(frame, y, first, spectra_[0]);
    for (int line = 1; line < lines_together; ++line) {
        transform(frame, y + 2 * line, first, spectra_[1]);
        add_pair();
        std::swap(spectra_[0], spectra_[1]);
    }
}

void LumaBandwidth::add_pair() {
    float contrast = least_contrast;
    for (std::size_t bin = contrast_from; bin < contrast_to; ++bin)
        contrast += std::norm(spectra_[0][bin]) + std::norm(spectra_[1][bin]);
    const auto weight = static_cast<double>(1 / contrast);
    for (std::size_t bin = 0; bin < shared_.size(); ++bin) {
        const auto a = spectra_[0][bin], b = spectra_[1][bin];
        shared_[bin] += weight * static_cast<double>(a.real() * b.real() + a.imag() * b.imag());
        all_[bin] += weight * static_cast<double>(std::norm(a) + std::norm(b)) / 2;
    }
    ++pieces_;
}

/// With a floor that lifts it above its own scatter, so that it has a logarithm.
std::vector<double> LumaBandwidth::shared_power() const {
    const double least =
        *std::ranges::min_element(all_.begin() + static_cast<std::ptrdiff_t>(all_.size() / 8), all_.end());
    const double lift = 3 * least / std::sqrt(static_cast<double>(pieces_));
    std::vector<double> power = shared_;
    for (double& one : power) one = std::max(one + std::min(lift, least), lift / 10);
    return power;
}

void LumaBandwidth::see(const media::Frame& frame, const FrameFeatures&) {
    if (!usable_ || frame.damaged) return;
    const media::PictureFormat& p = frame.format;
    const int rows = frames_ < early_frames ? early_rows : late_rows, stride = (p.height - 2 * outer_lines) / rows;
    const int places = p.width - 2 * outer_px - static_cast<int>(piece_samples);
    for (int i = 0; i < rows; ++i) {
        const int y = outer_lines + static_cast<int>(frames_ * row_stride % stride) + i * stride;
        for (int half = 0; half < 2; ++half) {
            const auto moved = static_cast<int>((frames_ + i) * piece_stride % std::max(1, places / 2));
            see_pieces(frame, y, outer_px + half * (places / 2) + moved);
        }
    }
    ++frames_;
}

Figure LumaBandwidth::figure() const {
    const double sampling_mhz = 1e3 / ns_per_px_;
    const double windows = static_cast<double>(pieces_) / alike_pieces;
    const std::vector<double> power = shared_power();
    const auto found = fit_roll_off(power, windows);
    if (!found) return Figure::unknown("the pictures are flat");
    const double mhz = found->half_amplitude * sampling_mhz;
    const std::string limit =
        fmt::format("the clip's sampling at {:.4g} MHz holds up to {:.4g} MHz", sampling_mhz, sampling_mhz / 2);
    if (found->misfit > most_misfit) return Figure::unknown("the pictures' spectrum is too uneven to show a roll-off");
    if (found->gain < least_gain || found->above_floor < least_above_floor || found->half_amplitude > highest_share / 2)
        return Figure::unknown(why_none_stands_out(power, windows, *found, sampling_mhz, limit));
    if (found->width > most_width || found->uncertainty > most_uncertain * found->half_amplitude)
        return Figure::unknown("the spectrum falls too gently to tell the channel from the lens");
    return Figure::measured(mhz, std::hypot(found->uncertainty * sampling_mhz, systematic * mhz), "MHz")
        .with_note("where the amplitude is halved; " + limit);
}

void LumaBandwidth::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    figures.add("luma_bandwidth", !usable_       ? Figure::unknown("the picture is too small")
                                  : pieces_ == 0 ? Figure::unknown("no whole frame has been read")
                                                 : figure());
}

}  // namespace guardband::measure
