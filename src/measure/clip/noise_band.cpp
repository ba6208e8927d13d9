#include "measure/clip/noise_band.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::Severity;

/// From this share of the height on it is no band but all of the picture.
constexpr double most_height = 0.8;
constexpr std::int64_t fewest_frames = 2;
constexpr std::size_t fewest_rows = 2;  ///< of cells
/// So many bands are believed if they are narrower, too.
constexpr std::size_t fewest_for_narrow = 3;
/// A band may be out of sight, or join with its like, for so many frames.
constexpr std::int64_t pause = 3;
/// Frames of a stretch in which movement is looked for.
constexpr int most_asked = 5;
/// Lines of a field at its end where heads switch.
constexpr int switch_lines = 12;
/// Of a band's course, frames.
constexpr std::size_t longest_course = 3000;
constexpr std::size_t capacity = 1000;

std::string course_text(const BandCourse& course) {
    const char* ending = course.bands > 1 ? "" : "s";
    std::string text = course.drift_per_s == 0
                           ? fmt::format("stand{}", ending)
                           : fmt::format("drift{} {} {:.2f} heights/s", ending, course.drift_per_s > 0 ? "down" : "up",
                                         std::abs(course.drift_per_s));
    if (course.swing > 0)
        text += fmt::format(", swing{} by {:.0f} % {:.2g} times a second, as a servo that hunts", ending,
                            100 * course.swing, course.swing_hz);
    return text;
}

/// A row with more noise than this would have counted.
constexpr double most_outside = 0.3;

}  // namespace

NoiseBand::NoiseBand(const ClipContext& context) : clock_(context.info.time_base) {}

void NoiseBand::mark_rows(const FrameFeatures& features) {
    for (std::size_t parity = 0; parity < 2; ++parity) {
        noisy_[parity] = rows_.find(features, parity);
        strength_[parity] = rows_.strength();
        noisy_[parity].resize(
            static_cast<std::size_t>(std::max(0, std::min(features.change[0].height, features.change[1].height))));
    }
}

/// From the top down, round the edges; none where heads switch. A single row in the midst of noise may have been
/// missed.
std::vector<NoiseBand::Run> NoiseBand::runs_of(const std::vector<bool>& noisy) {
    const std::size_t rows = noisy.size();
    std::vector<bool> filled = noisy;
    for (std::size_t i = 0; i < rows; ++i)
        if (noisy[(i + rows - 1) % rows] && noisy[(i + 1) % rows]) filled[i] = true;
    if (std::ranges::count(filled, true) == static_cast<std::ptrdiff_t>(rows)) return {{0, rows}};
    std::vector<Run> runs;
    std::size_t narrow = 0;
    constexpr std::size_t at_switch = (switch_lines + CombEnergy::cell_rows - 1) / CombEnergy::cell_rows;
    for (std::size_t first = 0; first < rows; ++first) {
        if (!filled[first] || filled[(first + rows - 1) % rows]) continue;
        std::size_t length = 1;
        while (filled[(first + length) % rows]) ++length;
        if (length <= at_switch && first + at_switch >= rows) continue;
        narrow += length < fewest_rows ? 1 : 0;
        runs.push_back({first, length});
    }
    if (narrow > 0 && runs.size() < fewest_for_narrow)
        std::erase_if(runs, [](const Run& run) { return run.length < fewest_rows; });
    return runs;
}

/// In rows of cells; the band's edges fall anywhere within the first and the last one, which have less noise for it, or
/// within the rows beside, which have too little to count: by how much they exceed the next ones out.
double NoiseBand::height_of(const Run& run, std::size_t parity) const {
    const std::vector<double>& strength = strength_[parity];
    const std::size_t rows = noisy_[parity].size();
    if (run.length == rows) return static_cast<double>(rows);
    const auto at = [&](std::size_t i) { return strength[(run.first + i) % rows]; };
    double full = 0;
    std::size_t inner = 0;
    for (std::size_t i = 1; i + 1 < run.length; ++i) full += at(i), ++inner;
    full = inner > 0 ? full / static_cast<double>(inner) : std::max(at(0), at(run.length - 1));
    const auto share = [&](std::size_t i) { return full > 0 ? std::min(1.0, at(i) / full) : 1; };
    const auto outside = [&](std::size_t i, std::size_t further) {
        return full > 0 ? std::clamp((at(i) - at(further)) / full, -most_outside, most_outside) : 0;
    };
    const double beside = outside(rows - 1, rows - 2) + outside(run.length, run.length + 1);
    if (run.length == 1) return share(0) + beside;
    return static_cast<double>(run.length - 2) + share(0) + share(run.length - 1) + beside;
}

NoiseBand::Bands NoiseBand::find_bands() {
    Bands out;
    const auto rows = static_cast<double>(noisy_[0].size());
    for (std::size_t parity = 2; parity-- > 0;) {
        const std::vector<Run> runs = runs_of(noisy_[parity]);
        if (runs.empty()) return {};
        longest_[parity] = *std::ranges::max_element(runs, {}, &Run::length);
        out.centres.clear();
        for (const Run& run : runs) {
            out.height += height_of(run, parity) / rows / 2;
            const double centre = (static_cast<double>(run.first) + static_cast<double>(run.length) / 2) / rows;
            out.centres.push_back(static_cast<float>(centre));
        }
    }
    return out;
}

/// The rows of the field in the middle half of a run, up to the picture's end: a band's edges fall anywhere.
NoiseBand::Run NoiseBand::within(const Run& run) const {
    constexpr std::size_t cell_rows = CombEnergy::cell_rows;
    const std::size_t rows = noisy_[0].size() * cell_rows;
    const std::size_t first = (run.first * cell_rows + run.length * cell_rows / 4) % rows;
    return {first, std::min(run.length * cell_rows / 2, rows - first)};
}

bool NoiseBand::has_levels_of_noise(const media::Frame& frame) {
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const Run rows = within(longest_[parity]);
        if (!samples_.has_levels_of_noise(frame, parity, static_cast<int>(rows.first), static_cast<int>(rows.length)))
            return false;
    }
    return true;
}

/// Asks in some frames of each stretch whether its noise is fine detail that moves past.
void NoiseBand::look_for_movement(const media::Frame& frame) {
    if (stretch_.asked == most_asked) return;
    const Run rows = within(longest_[0]);
    ++stretch_.asked;
    stretch_.moved += samples_.has_moved(frame, 0, static_cast<int>(rows.first), static_cast<int>(rows.length)) ? 1 : 0;
}

void NoiseBand::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    ++frames_;
    mark_rows(features);
    Bands bands = find_bands();
    if (bands.height > 0 && has_levels_of_noise(frame)) {
        follow(std::move(bands), frame.index, time_s);
        look_for_movement(frame);
    } else if (running_ && frame.index - stretch_.last_frame > pause) {
        end_stretch();
    }
    samples_.keep(frame);
}

void NoiseBand::follow(Bands bands, std::int64_t frame, double time_s) {
    const bool whole = bands.height >= most_height;
    if (running_ && (frame - stretch_.last_frame > pause ||
                     whole != (stretch_.height_sum >= most_height * static_cast<double>(stretch_.frames))))
        end_stretch();
    if (!running_) {
        running_ = true;
        stretch_ = {};
        stretch_.frame = frame, stretch_.time_s = time_s;
    }
    stretch_.last_frame = frame;
    stretch_.height_sum += bands.height, ++stretch_.frames;
    if (stretch_.course.size() < longest_course) stretch_.course.push_back({time_s, std::move(bands.centres)});
}

void NoiseBand::end_stretch() {
    running_ = false;
    if (stretch_.frames < fewest_frames || 2 * stretch_.moved >= stretch_.asked) return;
    covered_ += stretch_.height_sum;
    if (stretches_.size() >= capacity) return;
    stretches_.push_back({stretch_.frame, stretch_.frames, stretch_.last_frame - stretch_.frame + 1, stretch_.time_s,
                          stretch_.height_sum / static_cast<double>(stretch_.frames), course_of(stretch_.course)});
}

/// Of the longest stretch with the most bands.
Figure NoiseBand::count_figure() const {
    const Told* most = nullptr;
    for (const Told& s : stretches_)
        if (s.height < most_height && (most == nullptr || s.course.bands > most->course.bands ||
                                       (s.course.bands == most->course.bands && s.frames > most->frames)))
            most = &s;
    if (most == nullptr) return Figure::counted(0, "bands");
    auto figure = Figure::counted(most->course.bands, "bands");
    if (most->course.spacing)
        figure.with_note(fmt::format("{:.2f} of the height apart{}", *most->course.spacing,
                                     most->course.even ? "" : " in the middle, but unevenly"));
    return figure;
}

void NoiseBand::finish(quantity::Figures& figures, std::vector<Event>& events) {
    if (running_) end_stretch();
    if (frames_ < 2 || noisy_[0].empty()) {
        for (const char* id : {"tracking_band", "tracking_band_count"})
            figures.add(id, Figure::unknown(noisy_[0].empty() ? "the picture is too small"
                                                              : "noise needs two frames to be told from detail"));
        return;
    }
    const double share = covered_ / static_cast<double>(frames_);
    // The edges fall anywhere within a row of cells.
    const double each = 1 / std::sqrt(6.0) / static_cast<double>(noisy_[0].size());
    std::int64_t with_band = 0;
    for (const Told& s : stretches_) with_band += s.frames * std::max(1, s.course.bands);
    figures.add("tracking_band",
                Figure::measured(share, each * static_cast<double>(with_band) / static_cast<double>(frames_), "share"));
    figures.add("tracking_band_count", count_figure());
    for (const Told& s : stretches_) {
        Event event;
        event.time_s = s.time_s, event.frame = s.frame, event.count = s.count;
        event.severity = Severity::Fault;
        if (s.height >= most_height) {
            event.kind = "picture loss";
            event.what = fmt::format("noise and no picture, {} frames", s.count);
        } else if (s.course.bands > 1) {
            event.kind = "track crossings";
            event.what = fmt::format("{} bands of noise in a field, each {:.0f} % high, {} frames, {}", s.course.bands,
                                     100 * s.height / s.course.bands, s.count, course_text(s.course));
        } else {
            event.kind = "noise band";
            const double top = s.course.start - s.height / 2;
            event.what = fmt::format("band of noise {:.0f} % high, {:.0f} % down, {} frames, {}", 100 * s.height,
                                     100 * (top - std::floor(top)), s.count, course_text(s.course));
        }
        events.push_back(std::move(event));
    }
}

}  // namespace guardband::measure
