#include "measure/clip/noise_band.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::Severity;

/// Samples of a cell that count in `FieldTexture::spread` and `along`.
constexpr double spread_samples = 4.0 * CombEnergy::cell_samples, along_samples = 2.0 * CombEnergy::cell_samples;
/// Blocks of `FrameFeatures::change` in a cell, and its samples, twice as two fields have twice the variance of one.
constexpr int blocks = CombEnergy::cell_samples / FrameFeatures::segment;
constexpr double change_samples = 2.0 * CombEnergy::cell_samples * FrameFeatures::block_rows;
/// How unlike neighbouring rows are, 1 if they have nothing in common: of the row of cells, and of single cells of it.
constexpr double least_unlike = 0.8, least_unlike_cell = 0.6;
/// Cells of a row that must be noise; a caption or a mast doesn't reach through noise.
constexpr double least_width = 0.8;
/// Change from frame to frame, over what two independent fields of that variance have.
constexpr double least_change = 0.5;
/// Energy of a band over that of rows that are no band.
constexpr double stands_out = 4;
/// From this share of the height on it is no band but all of the picture.
constexpr double most_height = 0.8;
constexpr std::int64_t fewest_frames = 2;
constexpr std::size_t fewest_rows = 2;  ///< of cells
/// A band may be out of sight, or join with its like, for so many frames.
constexpr std::int64_t pause = 3;
/// Lines of a field at its end where heads switch.
constexpr int switch_lines = 12;
/// Of the height, from first to last: below, it stands.
constexpr double least_drift = 0.04;
constexpr std::size_t capacity = 1000;

/// Half a turn either way is the way round.
double wrapped(double turns) { return turns - std::round(turns); }

}  // namespace

NoiseBand::NoiseBand(const ClipContext& context)
    : clock_(context.info.time_base), code_(1 << std::max(0, context.info.picture.bit_depth - 8)) {}

bool NoiseBand::is_noise(const FrameFeatures& features, std::size_t parity, int row, double usual) const {
    const FieldTexture& texture = features.texture[parity];
    const double least = strongest_tape_noise * strongest_tape_noise * code_ * code_;
    double spread = 0, along = 0, change = 0;
    int cells = 0;
    for (int x = 0; x < texture.spread.width; ++x) {
        const double s = static_cast<double>(texture.spread.at(x, row)) / spread_samples,
                     a = static_cast<double>(texture.along.at(x, row)) / (2 * along_samples);
        spread += s, along += a;
        for (int block = x * blocks; block < (x + 1) * blocks; ++block)
            change += static_cast<double>(features.change[parity].at(block, row)) / change_samples;
        cells += s >= least / 2 && a >= least_unlike_cell * s ? 1 : 0;
    }
    const double width = texture.spread.width;
    return cells >= least_width * width && spread >= least * width && along >= least_unlike * spread &&
           change >= least_change * spread && along >= stands_out * usual * width;
}

void NoiseBand::mark_rows(const FrameFeatures& features) {
    const int rows = std::min(features.change[0].height, features.change[1].height);
    noisy_.assign(static_cast<std::size_t>(std::max(0, rows)), false);
    if (!features.has_previous || features.texture[0].along.width == 0) return;
    unlike_.clear();
    for (int row = 0; row < rows; ++row) {
        double along = 0;
        for (int x = 0; x < features.texture[0].along.width; ++x)
            along += static_cast<double>(features.texture[0].along.at(x, row));
        unlike_.push_back(along / (2 * along_samples * features.texture[0].along.width));
    }
    // Rows that are no band: the quietest quarter, where a band may cover half of the picture and more.
    const auto quarter = unlike_.begin() + static_cast<std::ptrdiff_t>(unlike_.size() / 4);
    if (unlike_.empty()) return;
    std::ranges::nth_element(unlike_, quarter);
    const double usual = *quarter;
    const double loud = 4 * strongest_tape_noise * strongest_tape_noise * code_ * code_;
    for (int row = 0; row < rows; ++row)
        noisy_[static_cast<std::size_t>(row)] =
            // What is as loud all over the picture is no tape's noise any more.
            is_noise(features, 0, row, usual > loud ? 0 : usual) &&
            is_noise(features, 1, row, usual > loud ? 0 : usual);
}

/// The longest run of noisy rows, seen round the picture's edges; none if it lies where heads switch.
NoiseBand::Band NoiseBand::find_band() const {
    const std::size_t rows = noisy_.size();
    const auto covered = static_cast<std::size_t>(std::ranges::count(noisy_, true));
    if (covered == 0) return {};
    if (covered == rows) return {0, 1};
    std::size_t best = 0, best_first = 0;
    for (std::size_t first = 0; first < rows; ++first) {
        if (!noisy_[first] || noisy_[(first + rows - 1) % rows]) continue;
        std::size_t length = 0, holes = 0;
        while (length + holes < rows &&
               (noisy_[(first + length + holes) % rows] || (noisy_[(first + length + holes + 1) % rows] && ++holes)))
            ++length;
        length += holes;
        if (length > best) best = length, best_first = first;
    }
    if (best < fewest_rows) return {};
    constexpr std::size_t at_switch = (switch_lines + CombEnergy::cell_rows - 1) / CombEnergy::cell_rows;
    if (best <= at_switch && best_first + at_switch >= rows) return {};
    return {static_cast<double>(best_first) / static_cast<double>(rows),
            static_cast<double>(best) / static_cast<double>(rows)};
}

void NoiseBand::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    ++frames_;
    mark_rows(features);
    const Band band = find_band();
    if (band.height > 0)
        follow(band, frame.index, time_s);
    else if (running_ && frame.index - stretch_.last_frame > pause)
        end_stretch();
}

void NoiseBand::follow(const Band& band, std::int64_t frame, double time_s) {
    const double centre = band.top + band.height / 2;
    const bool whole = band.height >= most_height;
    if (running_ && (frame - stretch_.last_frame > pause ||
                     whole != (stretch_.height_sum >= most_height * static_cast<double>(stretch_.frames))))
        end_stretch();
    if (!running_) {
        running_ = true;
        stretch_ = {};
        stretch_.frame = frame, stretch_.time_s = time_s;
        stretch_.place = stretch_.last_centre = centre;
    }
    stretch_.place += wrapped(centre - stretch_.last_centre);
    stretch_.last_centre = centre, stretch_.last_frame = frame, stretch_.end_s = time_s;
    stretch_.height_sum += band.height, ++stretch_.frames;
    const double t = time_s - stretch_.time_s;
    stretch_.sum_t += t, stretch_.sum_tt += t * t, stretch_.sum_p += stretch_.place,
        stretch_.sum_tp += t * stretch_.place;
}

void NoiseBand::end_stretch() {
    running_ = false;
    if (stretch_.frames < fewest_frames) return;
    covered_ += stretch_.height_sum;
    if (stretches_.size() < capacity) stretches_.push_back(stretch_);
}

std::string NoiseBand::band_text(const Stretch& s, double height) {
    const auto n = static_cast<double>(s.frames);
    const double spread = n * s.sum_tt - s.sum_t * s.sum_t;
    const double per_s = spread > 0 ? (n * s.sum_tp - s.sum_t * s.sum_p) / spread : 0;
    const double at_start = (s.sum_p - per_s * s.sum_t) / n - height / 2;  // of its upper edge
    std::string text = fmt::format("band of noise {:.0f} % high, {:.0f} % down, {} frames, ", 100 * height,
                                   100 * (at_start - std::floor(at_start)), s.last_frame - s.frame + 1);
    if (std::abs(per_s) * (s.end_s - s.time_s) < least_drift) return text + "stands";
    return text + fmt::format("drifts {} {:.2f} heights/s", per_s > 0 ? "down" : "up", std::abs(per_s));
}

void NoiseBand::finish(quantity::Figures& figures, std::vector<Event>& events) {
    if (running_) end_stretch();
    if (frames_ < 2 || noisy_.empty()) {
        figures.add("tracking_band", Figure::unknown(noisy_.empty() ? "the picture is too small"
                                                                    : "noise needs two frames to be told from detail"));
        return;
    }
    const double share = covered_ / static_cast<double>(frames_);
    // The edges fall anywhere within a row of cells.
    const double each = 1 / std::sqrt(6.0) / static_cast<double>(noisy_.size());
    std::int64_t with_band = 0;
    for (const Stretch& s : stretches_) with_band += s.frames;
    figures.add("tracking_band",
                Figure::measured(share, each * static_cast<double>(with_band) / static_cast<double>(frames_), "share"));
    for (const Stretch& s : stretches_) {
        const double height = s.height_sum / static_cast<double>(s.frames);
        Event event;
        event.time_s = s.time_s, event.frame = s.frame, event.count = s.last_frame - s.frame + 1;
        event.severity = Severity::Fault;
        if (height >= most_height) {
            event.kind = "picture loss";
            event.what = fmt::format("noise and no picture, {} frames", *event.count);
        } else {
            event.kind = "noise band";
            event.what = band_text(s, height);
        }
        events.push_back(std::move(event));
    }
}

}  // namespace guardband::measure
