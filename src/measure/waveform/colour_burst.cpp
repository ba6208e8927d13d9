#include "measure/waveform/colour_burst.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double turn = 2 * std::numbers::pi;
constexpr double least_share_of_mean = 0.4;  ///< a burst below this of the usual height is blanked or damaged
constexpr double drawing_from_us = 4.9, drawing_to_us = 10.2;
constexpr double drawing_spread_s = 0.1e-6;
constexpr std::int64_t draw_every = 3, most_drawn = 20'000, least_drawn = 20;
constexpr int phase_lines = 20;  ///< of the picture's top: the frequency need not be known better than to some hertz
constexpr double finest_relative = 1e-9;  ///< of a frequency, for what arithmetic leaves
constexpr double level_share = 0.003;     ///< of a level, for the digitiser's own response at the subcarrier
constexpr double plateau_margin_us = 0.15;
constexpr double near_image = 0.42, image_relative = 1.5e-6;  ///< what the image does to a frequency beyond that share
constexpr double highest_rest_share = 0.362;                  ///< of the sampling rate: 2 kHz off at 12 MHz

int samples_in(double us, double rate_hz) { return static_cast<int>(std::lround(us * 1e-6 * rate_hz)); }

PhasorReader burst_reader(const ColourFinding& finding, double rate_hz) {
    return {finding.subcarrier_hz / rate_hz, std::max(4, samples_in(burst_to_us - burst_from_us, rate_hz))};
}

/// A Gaussian that turns with the subcarrier.
std::vector<std::complex<float>> turning_gaussian(double cycles_per_sample, double rate_hz) {
    const double spread = drawing_spread_s * rate_hz;
    const int radius = static_cast<int>(std::ceil(3.5 * spread));
    std::vector<std::complex<float>> taps;
    double sum = 0;
    for (int k = -radius; k <= radius; ++k) sum += std::exp(-0.5 * (k / spread) * (k / spread));
    for (int k = -radius; k <= radius; ++k) {
        const std::complex<double> tap =
            std::exp(-0.5 * (k / spread) * (k / spread)) / sum * std::polar(1.0, -turn * cycles_per_sample * k);
        taps.emplace_back(static_cast<float>(tap.real()), static_cast<float>(tap.imag()));
    }
    return taps;
}

/// An angle in degrees, folded to ± half of `period`.
double folded_deg(double radians, double period_deg) { return std::remainder(360 * radians / turn, period_deg); }

Figure peak_to_peak(double phasor_height, double uncertainty, double mv_per_unit) {
    if (mv_per_unit <= 0)
        return Figure::unknown("the level of sync, which gives the scale, is not known of this system");
    const double mv = 4 * phasor_height * mv_per_unit;
    return Figure::measured(mv, std::hypot(4 * uncertainty * mv_per_unit, level_share * mv), "mV");
}

}  // namespace

ColourBurst::ColourBurst(const ColourFinding& finding, double rate_hz, int blanking_end)
    : finding_(finding),
      rate_hz_(rate_hz),
      blanking_end_(blanking_end),
      reader_(burst_reader(finding, rate_hz)),
      envelope_taps_(turning_gaussian(reader_.cycles_per_sample(), rate_hz)),
      drawing_(static_cast<std::size_t>(samples_in(drawing_to_us - drawing_from_us, rate_hz))) {}

std::optional<std::complex<double>> ColourBurst::read(const VideoLine& line, const SampleWindow& window) const {
    const auto place = static_cast<std::int64_t>(std::lround(line.sync.lead + burst_from_us * 1e-6 * rate_hz_));
    if (!window.holds(place, place + reader_.length())) return std::nullopt;
    const std::complex<double> burst = reader_.read(window.at(place, reader_.length()), place, line.sync.back);
    if (amplitude_.count() > 10 && std::abs(burst) < least_share_of_mean * amplitude_.mean()) return std::nullopt;
    return burst;
}

void ColourBurst::see_line(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || (line.in_field >= 0 && line.in_field < blanking_end_)) return;
    const auto burst = read(line, window);
    if (!burst) return;
    amplitude_.add(std::abs(*burst));
    const Read now{line.number, *burst};
    compare_with_earlier(now);
    if (line.field && !line.field->half_line && line.in_field < blanking_end_ + phase_lines)
        add_phase_to_sync(line, now);
    if (seen_++ % draw_every == 0 && drawn_ < most_drawn) add_envelope(line, window, *burst);
    earlier_[next_++ % earlier_.size()] = now;
}

void ColourBurst::compare_with_earlier(const Read& now) {
    for (const Read& then : earlier_) {
        const std::complex<double> step = now.burst * std::conj(then.burst);
        if (now.number - then.number == 1) swing_[now.number % 2] += step;
        if (now.number - then.number != 2) continue;
        two_lines_on_ += step;
        two_lines_norm_ += std::abs(step);
        ++pairs_;
    }
}

void ColourBurst::add_phase_to_sync(const VideoLine& line, const Read& now) {
    std::complex<double> axis = now.burst;
    if (finding_.swings) {
        const auto before = std::ranges::find(earlier_, now.number - 1, &Read::number);
        if (before == earlier_.end()) return;
        axis = -(now.burst + before->burst);  // the swings to either side cancel; the burst's mean lies on −U
    }
    const std::complex<double> at_edge = axis * turn_at(reader_.cycles_per_sample(), line.field->place);
    phase_ += std::pow(at_edge / std::abs(at_edge), finding_.swings ? 4 : 2);
    ++phases_;
}

void ColourBurst::add_envelope(const VideoLine& line, const SampleWindow& window, std::complex<double> burst) {
    const auto radius = static_cast<std::int64_t>(envelope_taps_.size() / 2);
    const double begin = line.sync.lead + drawing_from_us * 1e-6 * rate_hz_;
    const auto first = static_cast<std::int64_t>(std::floor(begin));
    const double fraction = begin - static_cast<double>(first);
    const auto count = static_cast<std::int64_t>(drawing_.size()) + 1;
    if (!window.holds(first - radius, first + count + radius + 1)) return;
    const auto piece = window.at(first - radius, count + 2 * radius);
    const std::complex<double> to_zero = std::conj(burst) / std::abs(burst);
    std::complex<double> before;
    std::complex<double> carrier =
        to_zero * std::conj(turn_at(reader_.cycles_per_sample(), static_cast<double>(first)));
    const std::complex<double> step = std::conj(turn_at(reader_.cycles_per_sample(), 1));
    for (std::int64_t i = 0; i < count; ++i) {
        std::complex<float> sum = 0;
        for (std::size_t k = 0; k < envelope_taps_.size(); ++k)
            sum += envelope_taps_[k] * (piece[static_cast<std::size_t>(i) + k] - line.sync.back);
        const std::complex<double> value = std::complex<double>(sum) * carrier;
        carrier *= step;
        if (i > 0) drawing_[static_cast<std::size_t>(i - 1)] += before + fraction * (value - before);
        before = value;
    }
    ++drawn_;
}

std::optional<ColourBurst::Envelope> ColourBurst::envelope() const {
    if (drawn_ < least_drawn) return std::nullopt;
    std::vector<double> height;
    for (const auto& sum : drawing_) height.push_back(std::abs(sum) / static_cast<double>(drawn_));
    const auto index = [&](double us) { return (us - drawing_from_us) * 1e-6 * rate_hz_; };
    const auto time_us = [&](double place) { return drawing_from_us + place / rate_hz_ * 1e6; };
    Tally plateau;
    for (auto i = static_cast<std::size_t>(index(burst_from_us + plateau_margin_us)) + 1;
         i < static_cast<std::size_t>(index(burst_to_us - plateau_margin_us)); ++i)
        plateau.add(height[i]);
    const double half = plateau.mean() / 2;
    auto left = static_cast<std::size_t>(index((burst_from_us + burst_to_us) / 2)), right = left;
    while (left > 0 && height[left - 1] > half) --left;
    while (right + 1 < height.size() && height[right + 1] > half) ++right;
    if (left == 0 || right + 1 == height.size()) return std::nullopt;
    const double start = static_cast<double>(left) - (height[left] - half) / (height[left] - height[left - 1]);
    const double end = static_cast<double>(right) + (height[right] - half) / (height[right] - height[right + 1]);
    return Envelope{time_us(start), time_us(end), plateau.mean()};
}

Figure ColourBurst::frequency(double line_hz) const {
    if (pairs_ < 20) return Figure::unknown("too few bursts in lines that follow one another");
    const double hz = finding_.subcarrier_hz + std::arg(two_lines_on_) / turn * line_hz / 2;
    // How far the turns scatter tells the uncertainty of their mean.
    const double scatter = std::sqrt(std::max(1e-12, 2 * (1 - std::abs(two_lines_on_) / two_lines_norm_)));
    double u = scatter / turn * line_hz / 2 / std::sqrt(static_cast<double>(pairs_));
    if (hz > near_image * rate_hz_) u = std::hypot(u, image_relative * hz);
    return Figure::measured(hz, std::max(u, finest_relative * hz), "Hz")
        .with_note(fmt::format("by the sampling clock; {:.5f} cycles to a line", hz / line_hz));
}

Figure ColourBurst::phase_to_sync() const {
    const table::Fact* sequence = finding_.colour->facts.find("colour_fields");
    if (sequence == nullptr || !sequence->is_number())
        return Figure::unknown("the subcarrier of this system is not locked to the line");
    if (phases_ < 10) return Figure::unknown("no first field was seen whole");
    const int power = finding_.swings ? 4 : 2;
    const double coherence = std::abs(phase_) / static_cast<double>(phases_);
    if (coherence < 0.5) return Figure::unknown("the subcarrier does not stand still against sync");
    const double degrees = folded_deg((std::arg(phase_) + power * turn / 4) / power, 360.0 / power);
    const double u = 360 / turn * std::sqrt(std::max(0.0, 2 * (1 - coherence))) / power /
                     std::sqrt(static_cast<double>(phases_) / phase_lines);
    return Figure::measured(degrees, std::max(u, 0.01), "deg")
        .with_note(finding_.swings
                       ? "of the U axis at line 1, within a quarter turn: which of the eight fields is first isn't told"
                       : "of the burst at the leading edge of sync, within half a turn");
}

void ColourBurst::finish(quantity::Figures& figures, double line_hz, double mv_per_unit) const {
    figures.add("subcarrier_frequency", frequency(line_hz));
    const auto drawn = envelope();
    const std::string why = "the outline of the burst could not be made out";
    const std::string of_system = "of " + finding_.colour->id + "; ";  // limits look for it
    if (drawn) {
        const double u_us = 0.005 + 0.3 / std::sqrt(static_cast<double>(drawn_)) * 0.02;
        const double hz = finding_.subcarrier_hz;
        figures.add("burst_start",
                    Figure::measured(drawn->start_us, u_us, "µs")
                        .with_note(of_system + "from half of sync's leading edge to half of the burst's height"));
        figures.add("burst_cycles",
                    Figure::measured((drawn->end_us - drawn->start_us) * 1e-6 * hz, u_us * 1.4e-6 * hz, ""));
    } else {
        figures.add("burst_start", Figure::unknown(why));
        figures.add("burst_cycles", Figure::unknown(why));
    }
    figures.add("burst_amplitude",
                peak_to_peak(drawn ? drawn->height : amplitude_.mean(), amplitude_.uncertainty(), mv_per_unit)
                    .with_note(of_system + "from peak to peak"));
    if (finding_.swings) {
        const double swing = std::abs(folded_deg(std::arg(swing_[0]) - std::arg(swing_[1]), 360)) / 2;
        figures.add("burst_swing", Figure::measured(swing, 0.1, "deg").with_note("from line to line"));
    }
    figures.add("subcarrier_to_sync_phase", phase_to_sync());
}

RestCarriers::RestCarriers(const ColourFinding& finding, double rate_hz, int blanking_end)
    : rate_hz_(rate_hz),
      blanking_end_(blanking_end),
      half_(std::max(4, samples_in((rest_to_us - rest_from_us) / 2, rate_hz))),
      reader_(finding.subcarrier_hz / rate_hz, half_),
      middle_hz_(finding.subcarrier_hz) {}

void RestCarriers::see_line(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || (line.in_field >= 0 && line.in_field < blanking_end_)) return;
    const auto place = static_cast<std::int64_t>(std::lround(line.sync.lead + rest_from_us * 1e-6 * rate_hz_));
    if (!window.holds(place, place + 2 * half_)) return;
    const auto early = reader_.read(window.at(place, half_), place, line.sync.back);
    const auto late = reader_.read(window.at(place + half_, half_), place + half_, line.sync.back);
    const auto which = static_cast<std::size_t>(line.number % 2);
    turns_[which] += late * std::conj(early);
    norms_[which] += std::abs(late) * std::abs(early);
    ++lines_[which];
    amplitude_[which].add((std::abs(early) + std::abs(late)) / 2);
}

void RestCarriers::finish(quantity::Figures& figures, double mv_per_unit) const {
    double hz[2] = {0, 0}, u[2] = {0, 0};
    for (const std::size_t which : {std::size_t{0}, std::size_t{1}}) {
        if (lines_[which] < 10) {
            for (const char* id : {"subcarrier_red_frequency", "subcarrier_blue_frequency", "burst_amplitude"})
                figures.add(id, Figure::unknown("too few lines with a subcarrier on their back porch"));
            return;
        }
        const double per_turn = rate_hz_ / half_;
        hz[which] = middle_hz_ + std::arg(turns_[which]) / turn * per_turn;
        const double scatter = std::sqrt(std::max(1e-12, 2 * (1 - std::abs(turns_[which]) / norms_[which])));
        u[which] = std::hypot(200.0, scatter / turn * per_turn / std::sqrt(static_cast<double>(lines_[which])));
    }
    const int red = hz[0] > hz[1] ? 0 : 1;
    if (middle_hz_ > highest_rest_share * rate_hz_) {
        for (const char* id : {"subcarrier_red_frequency", "subcarrier_blue_frequency"})
            figures.add(id, Figure::unknown("below 12 MHz of sampling rate the subcarriers run into their own images"));
    } else {
        figures.add(
            "subcarrier_red_frequency",
            Figure::measured(hz[red], u[red], "Hz").with_note("at rest, on the back porch of every other line"));
        figures.add("subcarrier_blue_frequency",
                    Figure::measured(hz[1 - red], u[1 - red], "Hz").with_note("of the lines between"));
    }
    figures.add("burst_amplitude", peak_to_peak((amplitude_[0].mean() + amplitude_[1].mean()) / 2,
                                                amplitude_[0].uncertainty(), mv_per_unit)
                                       .with_note("of the subcarrier at rest, the mean of both"));
}

}  // namespace guardband::measure
