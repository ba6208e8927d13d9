#include "measure/clip/test_pictures.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "measure/clip/sample_time.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr std::int64_t frame_interval = 5;
constexpr int row_step = 16, outer_share = 10;      ///< a tenth of the height at top and bottom is left out
constexpr double most_unlike = 8, most_colour = 8;  ///< 8-bit codes
constexpr float least_contrast = 40;                ///< likewise
constexpr int mean_rows = 64;
constexpr double shortest_bar_us = 8, widest_pulse_us = 0.5;

double decibels(double ratio) { return 20 * std::log10(std::max(ratio, 1e-6)); }

}  // namespace

TestPictures::TestPictures(const ClipContext& context)
    : range_(luma_range(context.info.picture, context.table)),
      ns_per_px_(nanoseconds_per_sample(context.info.picture, context.table)),
      line_(static_cast<std::size_t>(std::max(0, context.info.picture.width))),
      bursts_log_(2 * frame_interval),
      ramps_log_(2 * frame_interval),
      pulses_log_(2 * frame_interval),
      clock_(context.info.time_base) {}

/// By sums that are there already: each segment the same in all lines.
bool TestPictures::lines_are_alike(const FrameFeatures& features) const {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    if (sums.width < 8 || sums.height < 2 * row_step) return false;
    const double scale = 1 / (range_.per_8_bit_code * FrameFeatures::segment);
    for (int x = 1; x + 1 < sums.width; ++x) {
        double least = 1e9, most = 0;
        for (int y = sums.height / outer_share; y < sums.height - sums.height / outer_share; y += row_step) {
            const double level = sums.at(x, y) * scale;
            least = std::min(least, level), most = std::max(most, level);
            if (most - least > most_unlike) return false;
        }
    }
    return true;
}

bool TestPictures::is_grey(const media::Frame& frame) const {
    const media::PictureFormat& p = frame.format;
    if (!p.has_chroma) return true;
    const double scale = 1.0 / (1 << (p.bit_depth - 8));
    for (std::size_t plane = 1; plane < 3; ++plane) {
        const media::Plane& chroma = frame.planes[plane];
        const std::byte* row = chroma.row(chroma.height / 2);
        double sum = 0;
        for (int x = 0; x < chroma.width; ++x)
            sum += std::abs(scale * (p.bit_depth > 8 ? reinterpret_cast<const std::uint16_t*>(row)[x]
                                                     : reinterpret_cast<const std::uint8_t*>(row)[x]) -
                            128);
        if (sum / chroma.width > most_colour) return false;
    }
    return true;
}

void TestPictures::take_mean_line(const media::Frame& frame) {
    const media::PictureFormat& p = frame.format;
    const auto scale = static_cast<float>(1.0 / (range_.per_8_bit_code * mean_rows));
    std::ranges::fill(line_, 0.0F);
    for (int i = 0; i < mean_rows; ++i) {
        const int inner = p.height - 2 * (p.height / outer_share), y = p.height / outer_share + inner * i / mean_rows;
        const std::byte* row = frame.planes[0].row(y);
        for (std::size_t x = 0; x < line_.size(); ++x)
            line_[x] += scale * static_cast<float>(p.bit_depth > 8 ? reinterpret_cast<const std::uint16_t*>(row)[x]
                                                                   : reinterpret_cast<const std::uint8_t*>(row)[x]);
    }
}

void TestPictures::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    if (frames_++ % frame_interval != 0 || frame.damaged || !lines_are_alike(features) || !is_grey(frame)) return;
    take_mean_line(frame);
    const auto [darkest, brightest] = std::ranges::minmax(line_);
    if (brightest - darkest < least_contrast) return;
    if (const auto ramp = find_ramp(line_)) {
        nonlinearity_sum_ += ramp->nonlinearity, ++ramps_;
        ramps_log_.note(frame.index, time_s);
    } else if (const auto found = find_pulse_and_bar(line_, static_cast<int>(shortest_bar_us * 1e3 / ns_per_px_),
                                                     widest_pulse_us * 1e3 / ns_per_px_)) {
        ratio_sum_ += found->ratio, tilt_sum_ += found->tilt, width_sum_ += found->width, ++pulses_;
        pulses_log_.note(frame.index, time_s);
    } else if (const auto bursts = find_multiburst(line_)) {
        add_bursts(*bursts);
        bursts_log_.note(frame.index, time_s);
    }
}

void TestPictures::add_bursts(const std::vector<Burst>& bursts) {
    if (multibursts_ == 0) burst_sums_.assign(bursts.size(), {});
    if (bursts.size() != burst_sums_.size()) return;  // cut by a dropout or another generator's: the first is measured
    for (std::size_t i = 0; i < bursts.size(); ++i) {
        burst_sums_[i].cycles_per_sample += bursts[i].cycles_per_sample;
        burst_sums_[i].amplitude += bursts[i].amplitude;
    }
    ++multibursts_;
}

Figure TestPictures::multiburst_figure() const {
    std::string note;
    double worst = 0;
    for (const Burst& burst : burst_sums_) {
        const double mhz = burst.cycles_per_sample / static_cast<double>(multibursts_) * 1e3 / ns_per_px_;
        const double db = decibels(burst.amplitude / burst_sums_.front().amplitude);
        if (std::abs(db) > std::abs(worst)) worst = db;
        note += fmt::format("{}{:.2g} MHz {:.1f}", note.empty() ? "" : ", ", mhz, std::abs(db) < 0.05 ? 0.0 : db);
    }
    const double amplitude = burst_sums_.back().amplitude / static_cast<double>(multibursts_);
    // What noise that is left in a mean of 64 lines does to the smallest burst.
    return Figure::measured(worst, 0.05 + decibels(1 + 0.1 / std::max(amplitude, 0.1)), "dB").with_note(note);
}

void TestPictures::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    figures.add("multiburst_error",
                multibursts_ > 0 ? multiburst_figure() : Figure::unknown("no multiburst in the picture"));
    figures.add("ramp_nonlinearity",
                ramps_ > 0 ? Figure::measured(100 * nonlinearity_sum_ / static_cast<double>(ramps_), 0.1, "%")
                           : Figure::unknown("no ramp in the picture"));
    const auto pulses = static_cast<double>(std::max<std::int64_t>(pulses_, 1));
    figures.add("pulse_bar_ratio",
                pulses_ > 0 ? Figure::measured(100 * ratio_sum_ / pulses, 0.7, "%")
                                  .with_note(fmt::format("the pulse is {:.0f} ns wide; the bar's top tilts by {:.1f} %",
                                                         width_sum_ / pulses * ns_per_px_, 100 * tilt_sum_ / pulses))
                            : Figure::unknown("no pulse and bar in the picture"));
    const auto tell = [&](const EventLog& log, const char* name) {
        for (const Occurrence& stretch : log.all()) {
            quantity::Event event;
            event.kind = "test picture", event.severity = quantity::Severity::Note;
            event.time_s = stretch.time_s, event.frame = stretch.frame;
            event.count = stretch.last_frame - stretch.frame + 1;
            event.what = fmt::format("{} from frame {} to frame {}", name, stretch.frame, stretch.last_frame);
            events.push_back(event);
        }
    };
    tell(bursts_log_, "a multiburst"), tell(ramps_log_, "a ramp"), tell(pulses_log_, "a pulse and a bar");
}

}  // namespace guardband::measure
